//! House rules that a machine can check: every source file says what it is, data cannot reach a panic, and
//! physics does not know about files, JSON or the browser.

use std::fs;
use std::path::{Path, PathBuf};

fn sources(folder: &Path, found: &mut Vec<PathBuf>) {
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            sources(&path, found);
        } else if path.extension().is_some_and(|extension| extension == "rs") {
            found.push(path);
        }
    }
}

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

fn all_sources() -> Vec<(String, String)> {
    let root = root();
    let mut found = Vec::new();
    sources(&root.join("src"), &mut found);
    assert!(found.len() > 20, "only {} files under src", found.len());
    found
        .into_iter()
        .map(|path| {
            let name = path.strip_prefix(root).unwrap().display().to_string();
            (name, fs::read_to_string(&path).unwrap())
        })
        .collect()
}

/// The module of the library that a file belongs to: `network` of `src/network/flat.rs`.
fn module_of(name: &str) -> &str {
    let path = name.trim_start_matches("src/").trim_end_matches(".rs");
    path.split('/').next().unwrap_or(path)
}

/// Modules of the library in the order of `src/lib.rs`.
fn modules() -> Vec<String> {
    let text = fs::read_to_string(root().join("src/lib.rs")).unwrap();
    let names = text.lines().filter_map(|line| line.strip_prefix("pub mod ")?.strip_suffix(';'));
    names.map(String::from).collect()
}

/// Modules that the files of a module name, without its comments and unit tests; and whether as anything but
/// `scenario::parameters`, the table.
fn uses() -> Vec<(String, String, bool)> {
    let modules = modules();
    let mut found = Vec::new();
    for (name, text) in all_sources() {
        let by = module_of(&name);
        if !modules.iter().any(|module| module == by) {
            continue;
        }
        for line in without_tests(&text).lines() {
            let code = line.split("//").next().unwrap_or(line);
            for path in code.split("crate::").skip(1) {
                let end = path.find(|c: char| !c.is_ascii_lowercase() && c != '_');
                let module = &path[..end.unwrap_or(path.len())];
                assert!(
                    modules.iter().any(|known| known == module),
                    "{name}: write use crate::<module>::…, not {line}"
                );
                if module != by {
                    let whole = !path.starts_with("scenario::parameters");
                    found.push((by.to_string(), module.to_string(), whole));
                }
            }
        }
    }
    found
}

#[test]
fn modules_use_only_those_before_them() {
    let modules = modules();
    let place = |name: &str| modules.iter().position(|module| module == name).unwrap();
    let uses = uses();
    assert!(uses.len() > 200, "only {}", uses.len());
    for (by, module, whole) in uses {
        assert!(!whole || place(&module) < place(&by), "{by} uses {module}, which comes after it");
    }
}

/// What stands between backticks, outside of fenced drawings, in single words.
fn named(text: &str) -> Vec<String> {
    let prose: String = text.split("```").step_by(2).collect();
    prose
        .split('`')
        .skip(1)
        .step_by(2)
        .flat_map(|name| name.split(['/', ' ', '.', ':']).map(String::from).collect::<Vec<_>>())
        .collect()
}

/// The map in docs/architecture.md names every file, and of what its modules use nothing that they do not.
#[test]
fn the_map_is_true() {
    let map = fs::read_to_string(root().join("docs/architecture.md")).unwrap();
    let words = named(&map);
    let scripts = fs::read_dir(root().join("www")).unwrap();
    let scripts = scripts.map(|entry| format!("www/{}", entry.unwrap().file_name().display()));
    let files = all_sources().into_iter().map(|(name, _)| name);
    for name in files.chain(scripts.filter(|name| name.ends_with(".js"))) {
        let (folder, file) = name.rsplit_once('/').unwrap();
        let stem = file.split('.').next().unwrap();
        let word =
            if ["mod", "lib"].contains(&stem) { folder.rsplit('/').next().unwrap() } else { stem };
        assert!(
            words.iter().any(|known| known == word),
            "docs/architecture.md does not name {name}"
        );
    }
    let (modules, uses) = (modules(), uses());
    let mut compared = 0;
    for line in map.lines().filter(|line| line.starts_with("| `")) {
        let cells: Vec<&str> = line.trim_matches('|').split('|').collect();
        let [of, _, used] = cells[..] else { continue };
        let of = named(of);
        for word in named(used) {
            let module = if word == "parameters" { "scenario" } else { word.as_str() };
            assert!(modules.iter().any(|known| known == module), "{word} is no module: {line}");
            let used = uses.iter().any(|(by, other, _)| of.contains(by) && other == module);
            assert!(used || of.iter().any(|by| by == module), "{of:?} do not use {word}");
            compared += 1;
        }
    }
    assert!(compared > 30, "{compared}");
}

/// The part of a file before its unit tests.
fn without_tests(text: &str) -> &str {
    text.split("#[cfg(test)]").next().unwrap_or(text)
}

#[test]
fn every_source_file_begins_with_what_it_is() {
    for (name, text) in all_sources() {
        let first = text.lines().next().unwrap_or_default();
        assert!(first.starts_with("//! ") && first.len() > 20, "{name}: {first}");
    }
}

#[test]
fn no_panic_on_a_path_that_data_can_reach() {
    let forbidden =
        [".unwrap()", ".expect(", "panic!(", "todo!(", "unimplemented!(", "unreachable!("];
    for (name, text) in all_sources() {
        for (number, line) in without_tests(&text).lines().enumerate() {
            let code = line.split("//").next().unwrap_or(line);
            for word in forbidden {
                assert!(!code.contains(word), "{name}:{}: {word}", number + 1);
            }
        }
    }
}

#[test]
fn physics_knows_no_files_json_or_browser() {
    let physics = [
        "air",
        "weather",
        "convection",
        "fluid",
        "converter",
        "cooler",
        "hydraulics",
        "network",
        "solver",
        "timeline",
        "transmission",
        "trace",
        "simulate",
        "engine",
        "fluid_life",
        "vehicle",
        "pass",
    ];
    let strangers = ["serde", "std::fs", "std::io", "std::time", "web_sys", "wasm_bindgen"];
    for (name, text) in all_sources() {
        if physics.contains(&module_of(&name)) {
            for stranger in strangers {
                assert!(!without_tests(&text).contains(stranger), "{name} uses {stranger}");
            }
        }
    }
}

#[test]
fn the_library_has_no_files_and_no_threads() {
    let binary = ["src/main.rs", "src/command/", "src/site/"];
    for (name, text) in all_sources() {
        if !binary.iter().any(|part| name.starts_with(part)) {
            for stranger in ["std::fs", "std::io", "std::thread"] {
                assert!(!without_tests(&text).contains(stranger), "{name} uses {stranger}");
            }
        }
    }
}

#[test]
fn only_the_wasm_members_know_the_browser() {
    for (name, text) in all_sources() {
        if !["src/wasm/", "src/jobs/", "src/site/"].iter().any(|folder| name.starts_with(folder)) {
            assert!(!text.contains("wasm_bindgen") && !text.contains("web_sys"), "{name}");
        }
    }
}

/// What a trial leaves behind is not taken along.
#[test]
fn the_top_level_holds_what_it_should() {
    let known = [
        "Cargo.lock",
        "Cargo.toml",
        "DEVELOPERS.md",
        "LICENSE",
        "README.md",
        "docs",
        "rustfmt.toml",
        "scenarios",
        "src",
        "target",
        "tests",
        "www",
    ];
    for entry in std::fs::read_dir(env!("CARGO_MANIFEST_DIR")).unwrap() {
        let name = entry.unwrap().file_name().into_string().unwrap();
        assert!(name.starts_with('.') || known.contains(&name.as_str()), "{name} at the top level");
    }
}
