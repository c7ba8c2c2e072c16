//! The whole page as one HTML file that works from a disk, a stick or a mail, and asks for nothing.
//!
//! A browser lets a file import no other file. So the scripts that the page runs, with all that they import, load or run
//! as workers ([`script`](super::script) finds the addresses), lie in the file as data, and a short script (`start.js`)
//! makes an address of the browser's memory (`blob:`) for each. Style sheets and icons are put where they are linked.
//!
//! What belongs to a site only is left out: the service worker, the web manifest, the icon of a home screen, and every
//! element with the attribute `data-site-only`, such as a link to another page. `<html>` gets `data-single`, by which
//! scripts and style can tell. Anything else that names a file is an error.
//!
//! **Policy.** Nothing at all may be loaded (`default-src 'none'`), but
//!
//! - scripts and style sheets whose content is known: `'sha256-…'` of each inline script and of each sheet;
//! - `blob:` for scripts, workers, fetched data and the style sheet of a sheet to print: only a script that already runs
//!   can make such an address, so this lets nothing in from outside;
//! - `'wasm-unsafe-eval'`, which WebAssembly needs; `eval` stays forbidden;
//! - `data:` and `blob:` for pictures: the icon, and charts saved as pictures.
//!
//! `frame-ancestors` cannot be stated in a file.

use std::collections::BTreeMap;

use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use serde_json::{Map, Value, json};
use sha2::{Digest, Sha256};
use stallheat::error::{Error, ErrorKind};

use super::assemble::{names_a_file, text_of, version_of, with_build};
use super::script::{Part, parts};
use super::thin::{minified, thinned};
use super::{media_type, packed, tags};

const START: &str = include_str!("start.js");
/// The page that becomes the file.
const ENTRY: &str = "index.html";
const POLICY_MARK: &str = "%policy%";
/// By this a file is known as one of ours, which a new build may replace.
pub const MADE_BY: &str = "<meta name=\"generator\" content=\"stallheat build --single\">";

/// Makes one file of the page, as [`bundled`](super::bundle::bundled) gives it.
pub fn single(sources: BTreeMap<String, Vec<u8>>) -> Result<Vec<u8>, Error> {
    let entry = text_of(ENTRY, bytes_of(&sources, ENTRY)?)?;
    let mut page = Page {
        sources: &sources,
        out: String::new(),
        styles: vec![],
        before: vec![],
        scripts: vec![],
    };
    page.fill(entry)?;
    let Page { out, styles, before: mut inline, scripts, .. } = page;

    let names: Vec<&str> = scripts.iter().map(String::as_str).collect();
    let data = Value::from(embedded(&sources, &names)?).to_string().replace('<', "\\u003c");
    let start = format!(
        "{}(JSON.parse(document.getElementById(\"stallheat-files\").textContent), {});",
        START.trim_end(),
        json!(names)
    );
    let start = minified("start.js", &start)?;
    let scripts = format!(
        "<script type=\"application/json\" id=\"stallheat-files\">{data}</script>\n<script>{start}</script>\n"
    );
    inline.push(start);
    let policy = policy(&inline, &styles);
    let Some((before, after)) = out.rsplit_once("</body>") else {
        return Err(refusal(ENTRY, "no </body>", "a page that ends with </body>"));
    };
    if !before.contains(POLICY_MARK) {
        return Err(refusal(ENTRY, "no policy", "a Content-Security-Policy in a meta element"));
    }
    let before = before.replacen(POLICY_MARK, &policy, 1);
    let before = with_build(&before, &version_of(&sources));
    Ok(format!("{before}{scripts}</body>{after}").into_bytes())
}

fn policy(scripts: &[String], styles: &[String]) -> String {
    let hash =
        |text: &String| format!("'sha256-{}'", STANDARD.encode(Sha256::digest(text.as_bytes())));
    let hashes = |texts: &[String]| texts.iter().map(hash).collect::<Vec<_>>().join(" ");
    format!(
        "default-src 'none'; script-src {} blob: 'wasm-unsafe-eval'; worker-src blob:; connect-src blob:; \
         style-src {} blob:; img-src data: blob:; base-uri 'none'; form-action 'none'",
        hashes(scripts),
        hashes(styles)
    )
}

/// The scripts `names` and all that they lead to, each as `{ type, parts }` or `{ type, gzip }`.
fn embedded(
    sources: &BTreeMap<String, Vec<u8>>,
    names: &[&str],
) -> Result<Map<String, Value>, Error> {
    let mut files = Map::new();
    let mut under_way = Vec::new();
    for name in names {
        embed(sources, name, &mut under_way, &mut files)?;
    }
    Ok(files)
}

/// `under_way`: the scripts that led here. A file of memory needs the addresses of what it imports, so none may lead
/// back to one of them; a worker is started from a text and may.
fn embed(
    sources: &BTreeMap<String, Vec<u8>>,
    name: &str,
    under_way: &mut Vec<String>,
    files: &mut Map<String, Value>,
) -> Result<(), Error> {
    if let Some(from) = under_way.iter().position(|one| one == name) {
        let circle = [&under_way[from..], &[name.to_string()]].concat().join(" → ");
        return Err(Error::new(
            ErrorKind::Build,
            format!("www/{name}"),
            circle,
            "scripts that import each other in one direction",
            "Move what both need into a script of its own.",
        ));
    }
    if files.contains_key(name) {
        return Ok(());
    }
    let bytes = bytes_of(sources, name)?;
    let media = media_type(name).split(';').next().unwrap_or_default();
    if !name.ends_with(".js") {
        let text = name.ends_with(".css").then(|| text_of(name, bytes)).transpose()?;
        let held = match text {
            Some(text) => json!({ "type": media, "parts": [own_style(name, text)?] }),
            // Letters of base64 pack badly afterwards: packed before, the core is a third as long.
            None => json!({ "type": media, "gzip": STANDARD.encode(packed(bytes)?) }),
        };
        files.insert(name.to_string(), held);
        return Ok(());
    }
    let text = text_of(name, bytes)?;
    let split = parts(name, text, |file| sources.contains_key(file))?;
    under_way.push(name.to_string());
    for part in &split {
        match part {
            Part::File(target) => embed(sources, target, under_way, files)?,
            // Its own worker is on the way already.
            Part::Worker(target) if target != name => embed(sources, target, under_way, files)?,
            _ => {}
        }
    }
    under_way.pop();
    let held: Vec<Value> = split
        .into_iter()
        .map(|part| match part {
            Part::Text(text) => Value::from(text),
            Part::File(target) => json!({ "file": target }),
            Part::Worker(target) => json!({ "worker": target }),
        })
        .collect();
    files.insert(name.to_string(), json!({ "type": media, "parts": held }));
    Ok(())
}

/// A style sheet that names no other file.
fn own_style(name: &str, text: &str) -> Result<String, Error> {
    let text = thinned(text);
    let inside = |rest: &str| {
        let address = rest.trim_start_matches(['"', '\'']);
        address.starts_with('#') || address.starts_with("data:")
    };
    match text.split("url(").skip(1).find(|rest| !inside(rest)) {
        Some(rest) => {
            let value = rest.split(')').next().unwrap_or_default();
            Err(refusal(name, value, "a style sheet without addresses of files"))
        }
        None if text.contains("@import") || text.contains("</") => {
            Err(refusal(name, "@import or </", "a style sheet that can stand inside the page"))
        }
        None => Ok(text),
    }
}

/// A script that can stand inside the page, and names no other file.
fn own_script(name: &str, text: &str) -> Result<String, Error> {
    match parts(name, text, |_| false)?.as_slice() {
        [Part::Text(text)] if !text.contains("</") && !text.contains("<!--") => Ok(text.clone()),
        _ => Err(refusal(name, "another file, or </", "a script that can stand inside the page")),
    }
}

/// The page while it is rewritten.
struct Page<'a> {
    sources: &'a BTreeMap<String, Vec<u8>>,
    out: String,
    /// Style sheets as they stand inside the page.
    styles: Vec<String>,
    /// Scripts that run before it is seen, as they stand inside it.
    before: Vec<String>,
    /// The module scripts that it runs, by name.
    scripts: Vec<String>,
}

impl Page<'_> {
    fn fill(&mut self, text: &str) -> Result<(), Error> {
        let mut at = 0;
        while let Some(tag) = tags::next(text, at) {
            self.out.push_str(&text[at..tag.start]);
            at = tag.end;
            if tag.value("data-site-only").is_some() {
                at = tags::end_of_element(text, &tag);
                continue;
            }
            let whole = &text[tag.start..tag.end];
            let target = ["href", "src"]
                .iter()
                .find_map(|name| tag.value(name))
                .filter(|value| names_a_file(value));
            match (tag.name, tag.value("rel"), target) {
                ("html", ..) => {
                    self.out.push_str(&whole.replacen("<html", "<html data-single", 1));
                }
                ("meta", ..) if tag.value("http-equiv") == Some("Content-Security-Policy") => {
                    self.out.push_str(&format!(
                        "<meta http-equiv=\"Content-Security-Policy\" content=\"{POLICY_MARK}\">\n{MADE_BY}"
                    ));
                }
                ("link", Some("manifest" | "apple-touch-icon"), _) => {}
                ("link", Some("stylesheet"), Some(name)) => {
                    let style = own_style(name, text_of(name, bytes_of(self.sources, name)?)?)?;
                    self.out.push_str(&format!("<style>{style}</style>"));
                    self.styles.push(style);
                }
                ("link", Some("icon"), Some(name)) | ("img", _, Some(name)) => {
                    let bytes = bytes_of(self.sources, name)?;
                    let media = media_type(name);
                    let data = format!("data:{media};base64,{}", STANDARD.encode(bytes));
                    self.out.push_str(&whole.replacen(name, &data, 1));
                }
                ("script", _, Some(name)) if tag.value("type") == Some("module") => {
                    self.scripts.push(name.to_string());
                    at = tags::end_of_element(text, &tag);
                }
                ("script", _, Some(name)) if tag.value("type").is_none() => {
                    let script = own_script(name, text_of(name, bytes_of(self.sources, name)?)?)?;
                    self.out.push_str(&format!("<script>{script}</script>"));
                    self.before.push(script);
                    at = tags::end_of_element(text, &tag);
                }
                ("script", ..) => {
                    return Err(refusal(ENTRY, whole, "scripts of their own files"));
                }
                (_, _, Some(address)) => {
                    return Err(Error::new(
                        ErrorKind::Build,
                        format!("www/{ENTRY}"),
                        address,
                        "a style sheet, icon, picture or module script, which can stand inside one file",
                        "Mark an element that makes sense on a site only with data-site-only.",
                    ));
                }
                _ => self.out.push_str(whole),
            }
        }
        self.out.push_str(&text[at..]);
        Ok(())
    }
}

fn bytes_of<'a>(sources: &'a BTreeMap<String, Vec<u8>>, name: &str) -> Result<&'a [u8], Error> {
    sources
        .get(name.strip_prefix("./").unwrap_or(name))
        .map(Vec::as_slice)
        .ok_or_else(|| refusal(name, "missing", "a file in www or core"))
}

fn refusal(name: &str, value: &str, limit: &str) -> Error {
    Error::new(
        ErrorKind::Build,
        format!("www/{name}"),
        value,
        limit,
        "Change the page so, or build it as a folder.",
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    const HEAD: &str = "<!doctype html>\n<html lang=\"en\"><head><meta http-equiv=\"Content-Security-Policy\" content=\"x\">\
        <link rel=\"icon\" href=\"i.svg\"><link rel=\"manifest\" href=\"m.webmanifest\"><link rel=\"stylesheet\" href=\"s.css\">\
        <script src=\"before.js\"></script><script type=\"module\" src=\"main.js\"></script></head>";

    fn made(body: &str, more: &[(&str, &str)]) -> Result<String, Error> {
        let html = format!("{HEAD}<body>{body}</body></html>");
        let mut files: BTreeMap<String, Vec<u8>> = [
            ("index.html", html.as_str()),
            ("i.svg", "<svg/>"),
            ("s.css", "a { b: url(\"#c\") }"),
            ("before.js", "document.title = 1"),
            ("main.js", "import \"./a.js\"; const t = \"</script>\";"),
            ("a.js", "new Worker(new URL(\"./w.js\", import.meta.url), { type: \"module\" })"),
            ("w.js", "import(\"./core/c.js\"); new Worker(import.meta.url, { type: \"module\" })"),
            ("unused.js", "import(nothing)"),
        ]
        .iter()
        .map(|(name, text)| (name.to_string(), text.as_bytes().to_vec()))
        .collect();
        files.extend(more.iter().map(|(name, text)| (name.to_string(), text.as_bytes().to_vec())));
        let compiled = [
            ("core/c.js".to_string(), b"new URL('c.wasm', import.meta.url)".to_vec()),
            ("core/c.wasm".to_string(), vec![0, 97, 115, 109]),
        ];
        files.extend(BTreeMap::from(compiled));
        Ok(String::from_utf8(single(files)?).unwrap())
    }

    fn data(html: &str) -> Value {
        let opening = "id=\"stallheat-files\">";
        let from = html.find(opening).unwrap() + opening.len();
        serde_json::from_str(html[from..].split("</script>").next().unwrap()).unwrap()
    }

    #[test]
    fn all_that_the_page_needs_stands_in_it() {
        let html = made("<p>Hi</p>", &[]).unwrap();
        assert!(html.contains("<html data-single lang=\"en\">"), "{html}");
        assert!(html.contains("<style>a { b: url(\"#c\") }\n</style>"), "{html}");
        assert!(html.contains("href=\"data:image/svg+xml;base64,PHN2Zy8+\""), "{html}");
        assert!(!html.contains("manifest") && !html.contains("src=\""), "{html}");
        let data = data(&html);
        let names: Vec<&String> = data.as_object().unwrap().keys().collect();
        assert_eq!(names, ["core/c.wasm", "core/c.js", "w.js", "a.js", "main.js"]);
        assert_eq!(data["core/c.wasm"]["type"], "application/wasm");
        let held = STANDARD.decode(data["core/c.wasm"]["gzip"].as_str().unwrap()).unwrap();
        let mut bytes = Vec::new();
        std::io::Read::read_to_end(&mut flate2::read::GzDecoder::new(&held[..]), &mut bytes)
            .unwrap();
        assert_eq!(bytes, [0, 97, 115, 109]);
        let expected = json!([
            "import(\"", { "file": "core/c.js" }, "\"); new Worker(\"", { "worker": "w.js" }, "\")"
        ]);
        assert_eq!(data["w.js"]["parts"], expected);
    }

    #[test]
    fn the_policy_names_what_stands_inline() {
        let html = made("", &[]).unwrap();
        let script = html.rsplit("<script>").next().unwrap().split("</script>").next().unwrap();
        let style = html.split("<style>").nth(1).unwrap().split("</style>").next().unwrap();
        let before = html.split("<script>").nth(1).unwrap().split("</script>").next().unwrap();
        assert_eq!(before.trim_end(), "document.title = 1");
        for text in [script, before, style] {
            let hash = STANDARD.encode(Sha256::digest(text.as_bytes()));
            assert!(html.contains(&format!("'sha256-{hash}'")), "{text}");
        }
        assert!(!html.contains("unsafe-inline") && !html.contains("'self'"), "{html}");
    }

    #[test]
    fn what_is_of_a_site_only_is_left_out() {
        let body = "<nav data-site-only><a href=\"lessons.html\">Lessons</a><nav>x</nav></nav>\
            <img data-site-only src=\"gone.png\"><a href=\"#top\">Top</a><p>stays</p>";
        let html = made(body, &[("lessons.html", "")]).unwrap();
        assert!(html.contains("<body><a href=\"#top\">Top</a><p>stays</p><script"), "{html}");
    }

    #[test]
    fn what_cannot_stand_in_one_file_is_an_error() {
        for (body, more, value) in [
            ("<a href=\"lessons.html\">x</a>", ("x", ""), "lessons.html"),
            ("<script>1</script>", ("x", ""), "<script>"),
            ("", ("a.js", "import \"./gone.js\""), "./gone.js"),
            ("", ("a.js", "import \"./main.js\""), "main.js → a.js → main.js"),
            ("", ("a.js", "import(name)"), "import(name)"),
            ("", ("before.js", "f(\"</script>\")"), "another file, or </"),
            ("", ("s.css", "a { b: url(font.woff) }"), "font.woff"),
        ] {
            let error = made(body, &[more]).unwrap_err();
            assert_eq!((error.kind, error.value.as_str()), (ErrorKind::Build, value));
        }
    }
}
