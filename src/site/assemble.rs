//! The layout of the site: what keeps its address, and what moves when its content changes.
//!
//! A browser that holds half of an old build and fetches half of a new one shows a blank page. So
//! everything that belongs together lies in one folder, `v-<version>/`, named after a hash of the whole
//! page: JavaScript, style, workers and the core find each other by relative addresses, unchanged, and
//! may be cached for ever. Files that the outside knows by name keep their address at the top and are
//! never cached without asking: HTML, icons, the service worker, the web manifest, the embedding script.
//!
//! In HTML, `href="style.css"` and `src="main.js"` become `v-<version>/style.css` and so on; an address
//! that leads nowhere is an error. In `sw.js`, `"%version%"` becomes the version and `["%files%"]` the
//! list of all other files, so that the worker changes with every build and can store the whole page.
//!
//! Addresses are relative: the site works at any path of any static host.

use std::collections::BTreeMap;
use std::hash::{DefaultHasher, Hasher};

use stallheat::error::{Error, ErrorKind};

use super::Site;

/// Where the core lies, as seen from `core.js`: `import init from "./core/stallheat.js"`.
const CORE_FOLDER: &str = "core";
const SERVICE_WORKER: &str = "sw.js";
const VERSION_MARK: &str = "\"%version%\"";
const FILES_MARK: &str = "[\"%files%\"]";

/// Lays out the files of `www/` and of the core.
pub fn assemble(
    pages: BTreeMap<String, Vec<u8>>,
    core: BTreeMap<String, Vec<u8>>,
) -> Result<Site, Error> {
    let mut sources = pages;
    for (name, bytes) in core {
        sources.insert(format!("{CORE_FOLDER}/{name}"), bytes);
    }
    let version = version_of(&sources);
    let address = |name: &str| {
        if keeps_address(name) { name.to_string() } else { format!("v-{version}/{name}") }
    };
    let mut addresses: Vec<String> =
        sources.keys().filter(|name| *name != SERVICE_WORKER).map(|name| address(name)).collect();
    addresses.sort();

    let mut files = BTreeMap::new();
    for (name, bytes) in &sources {
        let bytes = if name.ends_with(".html") {
            let text = text_of(name, bytes)?;
            rewritten_html(name, text, |target| {
                sources.contains_key(target).then(|| address(target))
            })?
            .into_bytes()
        } else if name == SERVICE_WORKER {
            let list = serde_json::Value::from(addresses.clone()).to_string();
            text_of(name, bytes)?
                .replace(VERSION_MARK, &format!("\"{version}\""))
                .replace(FILES_MARK, &list)
                .into_bytes()
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
            || name == SERVICE_WORKER)
}

/// A hash of all names and contents. It tells builds apart and protects nothing; with another compiler
/// the same page may get another version, which costs a reload.
fn version_of(sources: &BTreeMap<String, Vec<u8>>) -> String {
    let mut hasher = DefaultHasher::new();
    for (name, bytes) in sources {
        for part in [name.as_bytes(), bytes.as_slice()] {
            hasher.write_usize(part.len());
            hasher.write(part);
        }
    }
    format!("{:016x}", hasher.finish())
}

fn text_of<'a>(name: &str, bytes: &'a [u8]) -> Result<&'a str, Error> {
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
fn names_a_file(value: &str) -> bool {
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
            ("main.js", "import './core.js'"),
            ("sw.js", "const version = \"%version%\", files = [\"%files%\"];"),
        ])
    }

    #[test]
    fn moves_what_may_be_cached_and_rewrites_references() {
        let site = assemble(page(), sources(&[("stallheat.js", "1")])).unwrap();
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
    fn service_worker_learns_version_and_files() {
        let site = assemble(page(), sources(&[])).unwrap();
        let version = &site.version;
        assert_eq!(
            text(&site, "sw.js"),
            format!(
                "const version = \"{version}\", files = [\"favicon.svg\",\"index.html\",\
                 \"v-{version}/main.js\",\"v-{version}/style.css\"];"
            )
        );
    }

    #[test]
    fn version_follows_every_byte() {
        let one = assemble(page(), sources(&[("a.wasm", "1")])).unwrap();
        let same = assemble(page(), sources(&[("a.wasm", "1")])).unwrap();
        let two = assemble(page(), sources(&[("a.wasm", "2")])).unwrap();
        assert_eq!(one, same);
        assert_ne!(one.version, two.version);
    }

    #[test]
    fn refuses_addresses_that_lead_nowhere() {
        for address in ["gone.js", "/main.js", "../main.js"] {
            let html = format!("<script src=\"{address}\"></script>");
            let error = assemble(sources(&[("index.html", &html)]), sources(&[])).unwrap_err();
            assert_eq!((error.kind, error.value.as_str()), (ErrorKind::Build, address));
        }
    }
}
