//! The layout of the site: what keeps its address, and what moves when its content changes.
//!
//! A browser that holds half of an old build and fetches half of a new one shows a blank page. So
//! everything that belongs together lies in one folder, `v-<version>/`, named after a hash of the whole
//! page: JavaScript, style, workers and the core find each other by relative addresses, unchanged, and
//! may be cached for ever. Files that the outside knows by name keep their address at the top and are
//! never cached without asking: HTML, icons, the service worker, the web manifest, the embedding script.
//!
//! A build that browsers are not to keep gets `sw-off.js` in the place of `sw.js`: it clears what earlier builds had them
//! keep.
//!
//! In HTML, `href="style.css"` and `src="main.js"` become `v-<version>/style.css` and so on; an address
//! that leads nowhere is an error. In `sw.js`, `"%version%"` becomes the version and `["%files%"]` the
//! list of all other files, so that the worker changes with every build and can store the whole page. In `_headers`, which
//! some hosts read and no browser asks for, `%version%` becomes the version, and `%build%` in HTML its first digits.
//!
//! **Preloading.** A page that loads a module gets, at the end of its head, links to all that this module imports and
//! to the core, so that a browser asks for everything at once instead of file by file as the imports come to light.
//! What a module imports only when it is needed (`import(…)`) is not among it; what such files import in turn is named in
//! `<meta name="later">`, so that a script can ask for all at once then.
//!
//! **Thinning.** Style sheets lose their comment lines and indentation ([`thinned`]); scripts come in few files and thin
//! (`bundle`), and the service worker is made so here, once it has its list.
//!
//! Addresses are relative: the site works at any path of any static host.

use std::collections::BTreeMap;
use std::hash::{DefaultHasher, Hasher};

use stallheat::error::{Error, ErrorKind};

use super::bundle::scripts_of;
use super::script::{Address, Use, addresses};
use super::thin::{minified, thinned};
use super::{KILL_SWITCH, Site};

/// Where the core lies, as seen from `core.js`: `import init from "./core/stallheat.js"`.
const CORE_FOLDER: &str = "core";
const SERVICE_WORKER: &str = "sw.js";
/// What some hosts read their headers from; no browser asks for it.
const HEADERS: &str = "_headers";
const VERSION_MARK: &str = "\"%version%\"";
/// In HTML: the first digits of the version. In the headers: all of it.
const BUILD_MARK: &str = "%build%";
const BARE_VERSION_MARK: &str = "%version%";
const FILES_MARK: &str = "[\"%files%\"]";

/// Lays out the files of the page, as [`bundled`](super::bundle::bundled) gives them. `offline`: whether browsers keep it.
pub fn assemble(mut sources: BTreeMap<String, Vec<u8>>, offline: bool) -> Result<Site, Error> {
    let kill_switch = sources.remove(KILL_SWITCH);
    if let (false, Some(kill_switch)) = (offline, kill_switch) {
        sources.insert(SERVICE_WORKER.to_string(), kill_switch);
    }
    for (name, bytes) in sources.iter_mut().filter(|(name, _)| name.ends_with(".css")) {
        *bytes = thinned(text_of(name, bytes)?).into_bytes();
    }
    let version = version_of(&sources);
    let address = |name: &str| {
        if keeps_address(name) { name.to_string() } else { format!("v-{version}/{name}") }
    };
    let kept = sources.keys().filter(|name| !matches!(name.as_str(), SERVICE_WORKER | HEADERS));
    let mut addresses: Vec<String> = kept.map(|name| address(name)).collect();
    addresses.sort();

    let mut files = BTreeMap::new();
    for (name, bytes) in &sources {
        let bytes = if name.ends_with(".html") {
            let text = text_of(name, bytes)?;
            let html = rewritten_html(name, text, |target| {
                sources.contains_key(target).then(|| address(target))
            })?;
            let links =
                preload_links(&sources, text, address)? + &later_names(&sources, text, address)?;
            let html = html.replacen("</head>", &format!("{links}</head>"), 1);
            with_build(&html, &version).into_bytes()
        } else if name == HEADERS {
            text_of(name, bytes)?.replace(BARE_VERSION_MARK, &version).into_bytes()
        } else if name == SERVICE_WORKER {
            let list = serde_json::Value::from(addresses.clone()).to_string();
            let text = text_of(name, bytes)?
                .replace(VERSION_MARK, &format!("\"{version}\""))
                .replace(FILES_MARK, &list);
            minified(name, &text)?.into_bytes()
        } else {
            bytes.clone()
        };
        files.insert(address(name), bytes);
    }
    Ok(Site { version, files })
}

/// Whether a file of `www/` keeps its address, because something outside the page knows its name.
pub fn keeps_address(name: &str) -> bool {
    !name.contains('/')
        && (name.ends_with(".html")
            || name.ends_with(".webmanifest")
            || name.starts_with("favicon.")
            || name.starts_with("icon-")
            || name == "embed.js"
            || name == "robots.txt"
            || name == HEADERS
            || name == SERVICE_WORKER)
}

/// The page with the first digits of its version, by which a build can be told.
pub fn with_build(html: &str, version: &str) -> String {
    html.replace(BUILD_MARK, version.get(..8).unwrap_or(version))
}

/// A hash of all names and contents. It tells builds apart and protects nothing; with another compiler
/// the same page may get another version, which costs a reload.
pub fn version_of(sources: &BTreeMap<String, Vec<u8>>) -> String {
    let mut hasher = DefaultHasher::new();
    for (name, bytes) in sources {
        for part in [name.as_bytes(), bytes.as_slice()] {
            hasher.write_usize(part.len());
            hasher.write(part);
        }
    }
    format!("{:016x}", hasher.finish())
}

pub fn text_of<'a>(name: &str, bytes: &'a [u8]) -> Result<&'a str, Error> {
    std::str::from_utf8(bytes).map_err(|cause| {
        Error::new(
            ErrorKind::Build,
            format!("www/{name}"),
            cause.to_string(),
            "text in UTF-8",
            "Save the file as UTF-8.",
        )
    })
}

/// Links that let the browser fetch what the module scripts of a page import, one line each.
fn preload_links(
    sources: &BTreeMap<String, Vec<u8>>,
    html: &str,
    address: impl Fn(&str) -> String,
) -> Result<String, Error> {
    let scripts = scripts_of(html);
    let mut links = String::new();
    for name in &imported(sources, &scripts)? {
        if name.ends_with(".wasm") {
            links += &format!(
                "<link rel=\"preload\" as=\"fetch\" type=\"application/wasm\" crossorigin href=\"{}\">\n",
                address(name)
            );
        } else if !scripts.contains(name) {
            links += &format!("<link rel=\"modulepreload\" href=\"{}\">\n", address(name));
        }
    }
    Ok(links)
}

/// The files that are imported by what the scripts of a page import when they need it, and not before: a `<meta>` by
/// which a script can ask for all of them at once when the time has come. Nothing where there are none.
fn later_names(
    sources: &BTreeMap<String, Vec<u8>>,
    html: &str,
    address: impl Fn(&str) -> String,
) -> Result<String, Error> {
    let first = imported(sources, &scripts_of(html))?;
    let exists = |file: &str| sources.contains_key(file);
    let mut later = Vec::new();
    for name in first.iter().filter(|name| name.ends_with(".js") && !name.contains('/')) {
        let Some(bytes) = sources.get(name) else { continue };
        for one in addresses(name, text_of(name, bytes)?, exists)? {
            if one.how != Use::Lazy || one.target.contains('/') {
                continue;
            }
            for file in imported(sources, std::slice::from_ref(&one.target))? {
                let known = file == one.target || first.contains(&file) || later.contains(&file);
                if !known && file.ends_with(".js") {
                    later.push(file);
                }
            }
        }
    }
    if later.is_empty() {
        return Ok(String::new());
    }
    let names: Vec<String> = later.iter().map(|name| address(name)).collect();
    Ok(format!("<meta name=\"later\" content=\"{}\">\n", names.join(" ")))
}

/// Everything that modules import, directly or not, and all of the core if one of them imports from its folder. The
/// core comes first: it is the largest.
fn imported(sources: &BTreeMap<String, Vec<u8>>, modules: &[String]) -> Result<Vec<String>, Error> {
    let in_core = |name: &str| name.split('/').next() == Some(CORE_FOLDER) && name.contains('/');
    let mut found = modules.to_vec();
    let mut next = 0;
    let mut needs_core = false;
    while let Some(name) = found.get(next) {
        next += 1;
        let Some(bytes) = sources.get(name) else { continue };
        let exists = |file: &str| sources.contains_key(file);
        for Address { how, target, .. } in addresses(name, text_of(name, bytes)?, exists)? {
            needs_core |= how == Use::Lazy && in_core(&target);
            if how == Use::Import && !found.contains(&target) {
                found.push(target);
            }
        }
    }
    if needs_core {
        let parts = sources.keys().filter(|name| in_core(name));
        let (wasm, glue): (Vec<&String>, Vec<&String>) =
            parts.partition(|name| name.ends_with(".wasm"));
        found.splice(0..0, wasm.into_iter().chain(glue).cloned());
    }
    Ok(found)
}

/// Rewrites every `href="…"` and `src="…"` that names a file of the page; `locate` gives its address.
fn rewritten_html(
    name: &str,
    text: &str,
    locate: impl Fn(&str) -> Option<String>,
) -> Result<String, Error> {
    let mut out = String::with_capacity(text.len() + 256);
    let mut rest = text;
    while let Some((start, end)) = next_address(rest) {
        let (before, value) = (&rest[..start], &rest[start..end]);
        out.push_str(before);
        rest = &rest[end..];
        if !names_a_file(value) {
            out.push_str(value);
            continue;
        }
        let split = value.find(['?', '#']).unwrap_or(value.len());
        let (path, tail) = value.split_at(split);
        match locate(path.strip_prefix("./").unwrap_or(path)) {
            Some(address) => {
                out.push_str(&address);
                out.push_str(tail);
            }
            None => {
                return Err(Error::new(
                    ErrorKind::Build,
                    format!("www/{name}"),
                    value,
                    "an address of a file in www or core, relative to www",
                    "Correct the address, or add the file.",
                ));
            }
        }
    }
    out.push_str(rest);
    Ok(out)
}

/// Start and end of the next quoted value of a `href` or `src` attribute.
fn next_address(text: &str) -> Option<(usize, usize)> {
    let mut from = 0;
    loop {
        let (at, opening) = ["href=\"", "src=\""]
            .iter()
            .filter_map(|opening| text[from..].find(opening).map(|at| (from + at, *opening)))
            .min()?;
        let start = at + opening.len();
        let is_attribute = text[..at].chars().next_back().is_some_and(char::is_whitespace);
        if is_attribute {
            let end = start + text[start..].find('"')?;
            return Some((start, end));
        }
        from = start;
    }
}

/// Whether an address names a file of the page, and not a place in it, its query, or another site.
pub fn names_a_file(value: &str) -> bool {
    let path_end = value.find(['?', '#']).unwrap_or(value.len());
    let path = &value[..path_end];
    !path.is_empty()
        && path != "."
        && path != "./"
        && !path.contains(':')
        && !path.starts_with("//")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sources(files: &[(&str, &str)]) -> BTreeMap<String, Vec<u8>> {
        files.iter().map(|(name, text)| (name.to_string(), text.as_bytes().to_vec())).collect()
    }

    fn with(
        mut files: BTreeMap<String, Vec<u8>>,
        more: &[(&str, &str)],
    ) -> BTreeMap<String, Vec<u8>> {
        files.extend(sources(more));
        files
    }

    fn text(site: &Site, name: &str) -> String {
        String::from_utf8_lossy(&site.files[name]).into_owned()
    }

    const PAGE: &str = "<link rel=\"icon\" href=\"favicon.svg\">\n<link href=\"./style.css\">\
        <script type=\"module\" src=\"main.js\"></script><a href=\"#top\" data-src=\"main.js\">\
        <a href=\"https://example.org/style.css\"><a href=\"?embed=1\"><a href=\"index.html#x\">";

    fn page() -> BTreeMap<String, Vec<u8>> {
        sources(&[
            ("index.html", PAGE),
            ("favicon.svg", "<svg/>"),
            ("style.css", "a{}"),
            ("main.js", "f()"),
            ("sw.js", "const version = \"%version%\", files = [\"%files%\"];"),
        ])
    }

    #[test]
    fn moves_what_may_be_cached_and_rewrites_references() {
        let site = assemble(with(page(), &[("core/stallheat.js", "1")]), true).unwrap();
        let folder = format!("v-{}", site.version);
        let names: Vec<&str> = site.files.keys().map(String::as_str).collect();
        let moved = ["core/stallheat.js", "main.js", "style.css"].map(|n| format!("{folder}/{n}"));
        let mut expected = vec!["favicon.svg", "index.html", "sw.js"];
        expected.extend(moved.iter().map(String::as_str));
        assert_eq!(names, expected);
        let expected = PAGE
            .replace("\"./style.css\"", &format!("\"{folder}/style.css\""))
            .replace(" src=\"main.js\"", &format!(" src=\"{folder}/main.js\""));
        assert_eq!(text(&site, "index.html"), expected);
    }

    #[test]
    fn a_page_asks_at_once_for_all_that_it_needs() {
        let html = "<head><script type=\"module\" src=\"main.js\"></script></head><body>";
        let pages = sources(&[
            ("index.html", html),
            ("plain.html", "<head></head>"),
            ("main.js", "import { a } from \"./a.js\";\nimport \"./core.js\";"),
            ("a.js", "export { b } from \"./b.js\"; import(\"./later.js\"); import \"./main.js\";"),
            ("b.js", "f(\"./gone.js\")"),
            ("core.js", "import(`./core/glue.js${query}`)"),
            ("later.js", ""),
        ]);
        let site = assemble(
            with(pages, &[("core/core.wasm", "1"), ("core/glue.js", "2"), ("jobs/jobs.wasm", "3")]),
            true,
        )
        .unwrap();
        let folder = format!("v-{}", site.version);
        let module =
            |name: &str| format!("<link rel=\"modulepreload\" href=\"{folder}/{name}\">\n");
        let expected = format!(
            "<head><script type=\"module\" src=\"{folder}/main.js\"></script><link rel=\"preload\" \
             as=\"fetch\" type=\"application/wasm\" crossorigin href=\"{folder}/core/core.wasm\">\n\
             {}</head><body>",
            ["core/glue.js", "a.js", "core.js", "b.js"].map(module).concat()
        );
        assert_eq!(text(&site, "index.html"), expected);
        assert_eq!(text(&site, "plain.html"), "<head></head>");
    }

    #[test]
    fn a_page_names_what_is_imported_by_what_it_loads_later() {
        let pages = sources(&[
            ("index.html", "<head><script type=\"module\" src=\"main.js\"></script></head>"),
            ("main.js", "import \"./a.js\"; import(\"./later.js\"); import(`./soon.js${tail}`)"),
            ("a.js", ""),
            ("later.js", "import \"./a.js\"; import \"./b.js\"; import(\"./asked.js\")"),
            ("soon.js", "import \"./b.js\"; import \"./c.js\""),
            ("asked.js", "import \"./d.js\""),
            ("b.js", ""),
            ("c.js", ""),
            ("d.js", ""),
        ]);
        let site = assemble(pages, true).unwrap();
        let folder = format!("v-{}", site.version);
        let named = format!("<meta name=\"later\" content=\"{folder}/b.js {folder}/c.js\">");
        assert!(text(&site, "index.html").contains(&named), "{}", text(&site, "index.html"));
    }

    #[test]
    fn service_worker_learns_version_and_files() {
        let site = assemble(page(), true).unwrap();
        let version = &site.version;
        assert_eq!(
            text(&site, "sw.js"),
            format!(
                "const version=`{version}`,files=[`favicon.svg`,`index.html`,\
                 `v-{version}/main.js`,`v-{version}/style.css`];"
            )
        );
    }

    #[test]
    fn headers_lie_at_the_top_and_no_browser_keeps_them() {
        let mut pages = page();
        pages.insert("_headers".to_string(), b"/v-%version%/*\n  A: b".to_vec());
        pages.insert("about.html".to_string(), b"build %build%.".to_vec());
        let site = assemble(pages, true).unwrap();
        assert_eq!(text(&site, "_headers"), format!("/v-{}/*\n  A: b", site.version));
        assert_eq!(text(&site, "about.html"), format!("build {}.", &site.version[..8]));
        assert!(!text(&site, "sw.js").contains("_headers"));
    }

    #[test]
    fn a_build_that_is_not_kept_clears_what_was() {
        let mut pages = page();
        pages.insert("sw-off.js".to_string(), b"clear();".to_vec());
        let kept = assemble(pages.clone(), true).unwrap();
        assert!(!kept.files.contains_key("sw-off.js") && text(&kept, "sw.js").contains("version"));
        let cleared = assemble(pages, false).unwrap();
        assert_eq!(text(&cleared, "sw.js"), "clear();");
        assert_ne!(kept.version, cleared.version);
    }

    #[test]
    fn version_follows_every_byte() {
        let one = assemble(with(page(), &[("core/a.wasm", "1")]), true).unwrap();
        let same = assemble(with(page(), &[("core/a.wasm", "1")]), true).unwrap();
        let two = assemble(with(page(), &[("core/a.wasm", "2")]), true).unwrap();
        assert_eq!(one, same);
        assert_ne!(one.version, two.version);
    }

    #[test]
    fn refuses_addresses_that_lead_nowhere() {
        for address in ["gone.js", "/main.js", "../main.js"] {
            let html = format!("<script src=\"{address}\"></script>");
            let error = assemble(sources(&[("index.html", &html)]), true).unwrap_err();
            assert_eq!((error.kind, error.value.as_str()), (ErrorKind::Build, address));
        }
    }
}
