//! From `src/wasm` and `src/jobs` to two WebAssembly files, each with the JavaScript that loads it.
//!
//! The running program calls cargo for the browser's target, once for each part and side by side, and then makes the glue with
//! wasm-bindgen's generator, used as a library, so that nobody has to install a tool of a matching
//! version. Cargo decides what is stale: when nothing changed this takes well under a second.
//!
//! The build is told to leave this machine's folders out of panic messages, and it does not inherit
//! `RUSTFLAGS` meant for the native program.
//!
//! What the core imports gets short names in both files. The core comes in two parts (see `split`): with the first the page
//! can be seen and its sliders dragged; the glue's `more()` brings the other.
//!
//! Left out: wasm-opt (gains under 2 KB compressed) and TypeScript declarations.

use std::collections::{BTreeMap, BTreeSet};
use std::ffi::OsString;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};

use stallheat::error::{Error, ErrorKind};
use wasm_bindgen_cli_support::Bindgen;

use super::split::{Cut, FIRST, LATER, split};

const TARGET: &str = "wasm32-unknown-unknown";

/// A package for the browser and where its files lie.
struct Part {
    package: &'static str,
    /// Cargo's output: the package name with an underscore.
    wasm_file: &'static str,
    folder: &'static str,
    /// Stem of the files: `stem.js`, `stem_bg.wasm`.
    stem: &'static str,
    /// Of `Cargo.toml`.
    profile: &'static str,
    /// Functions below this size, by the compiler's count, are copied into their callers.
    copied_below: u32,
    /// Loops that would be below this size are written out.
    unrolled_below: u32,
    /// What of it comes later.
    cut: Option<Cut>,
}

/// Of the core no first view needs: what is below the first screen or asked for by a button, what a day may state and most
/// do not, what only a file can have wrong, and printing and sorting as the first example does not need them. The page asks for
/// none of it before it has come; should it all the same, it gets a fresh core (`isAbsent` in `www/core.js`).
const NOT_FIRST: Cut = Cut {
    exports: &["day_csv", "day_heat", "day_pass", "day_series", "day_svg", "day_table"],
    names: &[
        "stallheat::chart::charge::",
        "stallheat::chart::pass::",
        "stallheat::chart::svg::",
        "stallheat::scenario::alternatives::read_stated",
        "stallheat::scenario::calibration::read",
        "stallheat::scenario::day::read_changed",
        "stallheat::scenario::event::read_condition",
        "stallheat::scenario::json::nearest_word",
        "stallheat::scenario::json::not_json",
        "stallheat::scenario::json::Refused::within",
        "stallheat::scenario::setup::read_initial_temperatures",
        "stallheat::scenario::tables::read_stated",
        "stallheat_wasm::picture::overlay",
        "strsim::",
        "serde_json::read::push_wtf8_codepoint",
        "::decode_hex_escape",
        "core::slice::sort::unstable::",
        "core::num::flt2dec::strategy::dragon::format_shortest",
        "core::fmt::float::float_to_exponential",
    ],
};

const PARTS: [Part; 2] = [
    Part {
        package: "stallheat-wasm",
        wasm_file: "stallheat_wasm.wasm",
        folder: "core",
        stem: "stallheat",
        profile: "wasm-core",
        copied_below: 12,
        unrolled_below: 80,
        cut: Some(NOT_FIRST),
    },
    Part {
        package: "stallheat-jobs",
        wasm_file: "stallheat_jobs.wasm",
        folder: "jobs",
        stem: "stallheat_jobs",
        profile: "wasm-jobs",
        copied_below: 25,
        unrolled_below: 150,
        cut: None,
    },
];

/// Compiles what runs in the browser and returns its files by name, each part in its folder.
pub fn compile(root: &Path) -> Result<BTreeMap<String, Vec<u8>>, Error> {
    require_target(root)?;
    let folder = target_folder(root)?.join(TARGET);
    // Both at once: each part ends with a long step on one processor.
    let building: Vec<_> = PARTS.iter().map(|part| start_build(root, part)).collect();
    let built: Vec<_> =
        PARTS.iter().zip(building).map(|(part, cargo)| finish_build(part, cargo?)).collect();
    built.into_iter().collect::<Result<(), Error>>()?;
    let mut files = BTreeMap::new();
    for part in &PARTS {
        files.extend(bind(&folder.join(part.profile).join(part.wasm_file), part)?);
    }
    Ok(files)
}

/// Sees to it that the standard library for the browser's target is there.
fn require_target(root: &Path) -> Result<(), Error> {
    if has_target(root)? {
        return Ok(());
    }
    let _ = writeln!(std::io::stderr().lock(), "stallheat: adding the Rust target {TARGET}");
    let added = Command::new("rustup")
        .args(["target", "add", TARGET])
        .current_dir(root)
        .stdout(Stdio::null())
        .status();
    if added.is_ok_and(|status| status.success()) && has_target(root)? {
        return Ok(());
    }
    Err(Error::new(
        ErrorKind::Build,
        "toolchain",
        format!("rustc without {TARGET}"),
        "a Rust toolchain that has the WebAssembly target",
        format!(
            "Run `rustup target add {TARGET}`; for a Rust from a distribution install its package \
             of that target (Debian: libstd-rust-dev-wasm32)."
        ),
    ))
}

fn has_target(root: &Path) -> Result<bool, Error> {
    let rustc = std::env::var_os("RUSTC").unwrap_or_else(|| OsString::from("rustc"));
    let output = Command::new(&rustc)
        .args(["--print", "sysroot"])
        .current_dir(root)
        .stderr(Stdio::inherit())
        .output()
        .map_err(|cause| missing_tool(&rustc, &cause))?;
    let sysroot = PathBuf::from(String::from_utf8_lossy(&output.stdout).trim());
    Ok(sysroot.join("lib/rustlib").join(TARGET).join("lib").is_dir())
}

/// Starts cargo for a part, for the browser's target.
fn start_build(root: &Path, part: &Part) -> Result<Child, Error> {
    cargo()
        .args(["build", "--profile", part.profile, "--target", TARGET])
        .args(["--package", part.package, "--lib", "--locked"])
        .current_dir(root)
        .env_remove("RUSTFLAGS")
        .env("CARGO_ENCODED_RUSTFLAGS", compiler_flags(root, part))
        .stdout(Stdio::null())
        .spawn()
        .map_err(|cause| missing_tool(&cargo_name(), &cause))
}

/// Waits for what [`start_build`] started.
fn finish_build(part: &Part, mut cargo: Child) -> Result<(), Error> {
    let status = cargo.wait().map_err(|cause| missing_tool(&cargo_name(), &cause))?;
    if status.success() {
        return Ok(());
    }
    Err(Error::new(
        ErrorKind::Build,
        part.package,
        format!("cargo ended with {status}"),
        "sources that compile for the browser",
        "Mend what cargo reported above.",
    ))
}

/// Where cargo puts its output, whatever its configuration says.
fn target_folder(root: &Path) -> Result<PathBuf, Error> {
    let output = cargo()
        .args(["metadata", "--format-version", "1", "--no-deps"])
        .current_dir(root)
        .stderr(Stdio::inherit())
        .output()
        .map_err(|cause| missing_tool(&cargo_name(), &cause))?;
    serde_json::from_slice::<serde_json::Value>(&output.stdout)
        .ok()
        .and_then(|metadata| Some(PathBuf::from(metadata.get("target_directory")?.as_str()?)))
        .ok_or_else(|| {
            Error::new(
                ErrorKind::Build,
                "cargo metadata",
                format!("{} without target_directory", output.status),
                "the JSON that cargo prints for a package",
                "Mend what cargo reported above.",
            )
        })
}

/// Flags of the compiler: vector instructions, and neutral names for the folders of this machine in panic messages.
fn compiler_flags(root: &Path, part: &Part) -> OsString {
    let cargo_home = std::env::var_os("CARGO_HOME")
        .map(PathBuf::from)
        .or_else(|| std::env::home_dir().map(|home| home.join(".cargo")));
    // Vectors of two doubles: a tenth of the time of a day. Browsers know them since 2021, the last since 2023.
    let mut flags = OsString::from("-Ctarget-feature=+simd128");
    // Copying functions into their callers only where they are small: a tenth of the file, for a few
    // hundredths of the time of a day. Where a call would cost more, the sources say `#[inline]`.
    // Writing out short loops only: in the core seven kilobytes packed, for a twentieth of that time.
    flags.push(format!(
        "\u{1f}-Cllvm-args=-inline-threshold={} -unroll-threshold={}",
        part.copied_below, part.unrolled_below
    ));
    for (folder, name) in [(cargo_home, "/cargo"), (Some(root.to_path_buf()), "/stallheat")] {
        let Some(folder) = folder else { continue };
        if !flags.is_empty() {
            flags.push("\u{1f}");
        }
        flags.push("--remap-path-prefix=");
        flags.push(folder);
        flags.push("=");
        flags.push(name);
    }
    flags
}

fn cargo_name() -> OsString {
    std::env::var_os("CARGO").unwrap_or_else(|| OsString::from("cargo"))
}

fn cargo() -> Command {
    Command::new(cargo_name())
}

fn missing_tool(name: &OsString, cause: &std::io::Error) -> Error {
    Error::new(
        ErrorKind::Build,
        "toolchain",
        format!("{}: {cause}", name.display()),
        "cargo and rustc on the search path",
        "Install Rust with rustup, then try again.",
    )
}

/// Makes the glue: JavaScript that loads the WebAssembly file lying beside it.
fn bind(wasm: &Path, part: &Part) -> Result<BTreeMap<String, Vec<u8>>, Error> {
    let mut output = Bindgen::new()
        .input_path(wasm)
        .out_name(part.stem)
        .web(true)
        .and_then(|bindgen| {
            bindgen
                .typescript(false)
                // The library leaves this out unless told; without it the page has to name the file.
                .omit_default_module_path(false)
                // Told by their names is what comes later; none is written.
                .remove_name_section(part.cut.is_none())
                .remove_producers_section(true)
                .generate_output()
        })
        .map_err(|cause| {
            Error::new(
                ErrorKind::Build,
                "wasm-bindgen",
                format!("{cause:#}"),
                "WebAssembly made with exactly the wasm-bindgen version of the generator",
                "Pin wasm-bindgen in src/wasm/Cargo.toml and src/jobs/Cargo.toml and \
                 wasm-bindgen-cli-support in Cargo.toml to the same version.",
            )
        })?;
    let in_folder = |name: String| format!("{}/{name}", part.folder);
    let mut files = BTreeMap::new();
    for (folder, parts) in output.snippets() {
        for (index, text) in parts.iter().enumerate() {
            let name = format!("snippets/{folder}/inline{index}.js");
            files.insert(in_folder(name), text.clone().into_bytes());
        }
    }
    for (path, text) in output.local_modules() {
        files.insert(in_folder(format!("snippets/{path}")), text.clone().into_bytes());
    }
    let mut glue = output.js().to_string();
    for (old, new) in SHORTER {
        glue = replaced(&glue, old, new)?;
    }
    let mut short = ShortNames::default();
    let made = |name: &str| name.starts_with("__wb");
    for import in output.wasm_mut().imports.iter_mut().filter(|import| made(&import.name)) {
        let name = short.of(&import.name);
        glue = glue.replace(&import.name, &name);
        import.name = name;
    }
    let mut wasm = output.wasm_mut().emit_wasm();
    if let Some(cut) = &part.cut {
        let parts = split(&wasm, cut)?;
        glue = with_more(&glue, part, cut, &parts.asked)?;
        files.insert(format!("{LATER_FOLDER}/{}_later.wasm", part.stem), parts.later);
        wasm = parts.first;
    }
    files.insert(in_folder(format!("{}.js", part.stem)), glue.into_bytes());
    files.insert(in_folder(format!("{}_bg.wasm", part.stem)), wasm);
    Ok(files)
}

/// What of the glue goes or is said in other words: nobody starts it without waiting, and what nobody imports is left out
/// later; nobody starts it in an old way; and what to tell a host in few words.
const SHORTER: [(&str, &str); 3] = [
    ("export { initSync, ", "export { "),
    (
        "console.warn('using deprecated parameters for the initialization function; pass a single object instead')",
        "",
    ),
    (
        "`WebAssembly.instantiateStreaming` failed because your server does not serve Wasm with `application/wasm` MIME type. \
         Falling back to `WebAssembly.instantiate` which is slower. Original error:\\n",
        "Not sent as application/wasm, so that it starts later.",
    ),
];

/// The glue with other words in the one place of these.
fn replaced(glue: &str, old: &str, new: &str) -> Result<String, Error> {
    match glue.matches(old).count() {
        1 => Ok(glue.replace(old, new)),
        count => Err(Error::new(
            ErrorKind::Build,
            "wasm-bindgen",
            format!("{count} times `{old}` in the glue"),
            "glue that has it once, as that of the pinned version",
            "Look at the glue of the new version and change src/site/compile.rs.",
        )),
    }
}

/// Where the later part lies: what is in the core's folder a page asks for at once.
const LATER_FOLDER: &str = "later";

/// The glue with `more()`, which brings the later part: on its way at once, put to work as soon as the first is there. Until then
/// what is asked of it throws as a fault of the core does, with `absent` as its mark.
fn with_more(glue: &str, part: &Part, cut: &Cut, asked: &[String]) -> Result<String, Error> {
    let of_first = format!("\"./{}_bg.js\": import0,", part.stem);
    // Names of letters and numbers are written alike in both languages.
    let with_asked = format!("{of_first} \"{LATER}\": asks({asked:?}),");
    let glue = replaced(glue, &of_first, &with_asked)?;
    let exports = format!("{:?}", cut.exports);
    let glue = replaced(
        &glue,
        "wasm = instance.exports;",
        &format!("wasm = {{ ...instance.exports, ...asks({exports}) }};"),
    )?;
    let more = format!(
        "
let later = null;
const asks = (names) => Object.fromEntries(names.map((name) => [name, (...values) => ask(name, values)]));
function ask(name, values) {{
    if (later === null) throw Object.assign(new WebAssembly.RuntimeError('not loaded yet'), {{ absent: true }});
    return later[name](...values);
}}
let coming;
export function more(bytes) {{
    coming ??= bring(bytes).catch((error) => {{
        coming = undefined;
        throw error;
    }});
    return coming;
}}
async function bring(bytes) {{
    const fetched = bytes ? null : fetch(new URL('../{LATER_FOLDER}/{stem}_later.wasm', import.meta.url));
    fetched?.catch(() => {{}});
    await __wbg_init();
    const {{ instance }} = await __wbg_load(bytes ?? await fetched, {{ ...__wbg_get_imports(), '{FIRST}': wasmInstance.exports }});
    later = instance.exports;
    Object.assign(wasm, later);
}}
",
        stem = part.stem
    );
    Ok(glue + &more)
}

/// Names for what the core imports: wasm-bindgen's own end in a hash, which packs badly and stands in both files.
#[derive(Default)]
struct ShortNames(BTreeSet<String>);

impl ShortNames {
    /// `__wbg_beginPath_ab690dc0c7efe6dc` is `beginPath$`, a second of the same name `beginPath$1`: no other name of the
    /// glue has the sign.
    fn of(&mut self, long: &str) -> String {
        let name = long.trim_start_matches("__wbg_").trim_start_matches("__wbindgen_");
        let is_hash = |tail: &str| tail.len() == 16 && tail.chars().all(|c| c.is_ascii_hexdigit());
        let stem =
            name.rsplit_once('_').filter(|(_, tail)| is_hash(tail)).map_or(name, |cut| cut.0);
        let mut short = format!("{stem}$");
        let mut count = 0;
        while !self.0.insert(short.clone()) {
            count += 1;
            short = format!("{stem}${count}");
        }
        short
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_short_and_no_two_are_alike() {
        let mut names = ShortNames::default();
        let long = [
            "__wbg_set_2793479888329cb6",
            "__wbg_set_d2d33b52458e984a",
            "__wbindgen_init_externref_table",
        ];
        assert_eq!(long.map(|name| names.of(name)), ["set$", "set$1", "init_externref_table$"]);
        assert_eq!(names.of("__wbg___wbindgen_is_null_c22311b1cc228e3a"), "is_null$");
    }
}
