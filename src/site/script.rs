//! The addresses that a script of `www/` holds: found, so that one file can put its own in their place.
//!
//! Nothing is parsed in full. These writings are understood, and whatever else looks like an address is an error, so that
//! nothing is missing only in the reader's hands:
//!
//! ```text
//! import … from "./a.js"    export … from "./a.js"    import "./a.js"    import("./a.js")    import(`./a.js${tail}`)
//! new URL("./a.css", import.meta.url)
//! new Worker(new URL("./a.js", import.meta.url), { type: "module" })    new Worker(import.meta.url, { type: "module" })
//! ```
//!
//! A statement with `from` begins its line, or ends one that begins with a brace. Addresses are relative to the script.

use stallheat::error::{Error, ErrorKind};

/// A part of a script: text, or what takes the place of an address.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Part {
    Text(String),
    /// The address of a file, by its name in `www/`.
    File(String),
    /// The address of a worker that runs this script.
    Worker(String),
}

const WORKER: &str = "new Worker(";
const MODULE: &str = ", { type: \"module\" })";
const OWN: &str = "import.meta.url";

/// Splits the script `name` at its addresses; `exists` says which files there are.
pub fn parts(name: &str, text: &str, exists: impl Fn(&str) -> bool) -> Result<Vec<Part>, Error> {
    let mut found = Vec::new();
    let mut done = 0;
    let mut at = 0;
    while let Some(next) = next_word(text, at) {
        let (word, rest) = (next.word, &text[next.end..]);
        let line = text[..next.start].rsplit('\n').next().unwrap_or_default();
        let here = || text[next.start..].lines().next().unwrap_or_default();
        let refuse = || Err(not_understood(name, here()));
        let mut put = |from: usize, to: usize, part: Part| {
            found.push(Part::Text(text[done..from].to_string()));
            found.push(part);
            (done, at) = (to, to);
        };
        let file = |written: &str| located(name, written, &exists);
        match word {
            "from" if !["import", "export", "}"].iter().any(|start| line.starts_with(start)) => {
                at = next.end;
            }
            "from" | "import" => {
                // `import { a } …` and `import a …` go on to a `from`; elsewhere the word is one of a text.
                let (space, call) = match (word, rest.strip_prefix('(')) {
                    ("import", Some(inside)) => (rest.len() - inside.len(), true),
                    _ => (rest.len() - rest.trim_start().len(), false),
                };
                if word == "import" && rest.starts_with(".meta") {
                    return refuse();
                }
                let Some(written) = quoted(&rest[space..]) else {
                    let statement = word == "import" && line.is_empty();
                    let whole = here();
                    if call || (statement && !goes_on(whole)) {
                        return refuse();
                    }
                    at = next.end;
                    continue;
                };
                let from = next.end + space + 1;
                let target = file(written)?;
                put(from, from + written.len(), Part::File(target));
            }
            "new" => {
                let call = &text[next.start..];
                if let Some(inside) = call.strip_prefix(WORKER) {
                    let own = inside.strip_prefix(OWN).map(|rest| (name, rest));
                    let Some((written, rest)) = own.or_else(|| address_call(inside)) else {
                        return refuse();
                    };
                    let Some(rest) = rest.strip_prefix(MODULE) else { return refuse() };
                    let target = if own.is_some() { name.to_string() } else { file(written)? };
                    let from = next.start + WORKER.len();
                    put(from, text.len() - rest.len(), Part::Worker(target));
                    // The address is a text of its own here, and the worker no module.
                    if let Some(Part::Text(before)) = found.iter_mut().rev().nth(1) {
                        before.push('"');
                    }
                    found.push(Part::Text("\")".to_string()));
                } else if let Some((written, _)) = address_call(call) {
                    let from = next.start + "new URL(".len() + 1;
                    let target = file(written)?;
                    put(from, from + written.len(), Part::File(target));
                    // What follows is known: `import.meta.url` as the base.
                    let rest = &text[done..];
                    at = done + rest.find(OWN).map_or(0, |base| base + OWN.len());
                } else {
                    at = next.end;
                }
            }
            _ => at = next.end,
        }
    }
    found.push(Part::Text(text[done..].to_string()));
    Ok(found)
}

struct Word {
    word: &'static str,
    start: usize,
    end: usize,
}

/// The next word from `at` on that may begin an address.
fn next_word(text: &str, at: usize) -> Option<Word> {
    let part = |letter: char| letter.is_alphanumeric() || matches!(letter, '_' | '$');
    ["from", "import", "new"]
        .into_iter()
        .filter_map(|word| {
            text[at..].match_indices(word).map(|(found, _)| at + found).find_map(|start| {
                let end = start + word.len();
                let before = text[..start].chars().next_back();
                let alone = !before.is_some_and(|letter| part(letter) || letter == '.')
                    && !text[end..].chars().next().is_some_and(part);
                alone.then_some(Word { word, start, end })
            })
        })
        .min_by_key(|word| word.start)
}

/// Whether the statement that begins with this line has its address further on.
fn goes_on(line: &str) -> bool {
    line.trim_end().ends_with('{') || line.contains(" from ")
}

/// What stands between the quotes that `text` begins with; in a template, before what is put in.
fn quoted(text: &str) -> Option<&str> {
    let quote = text.chars().next().filter(|quote| matches!(quote, '"' | '\'' | '`'))?;
    let inside = &text[1..];
    let end = inside.find(quote)?;
    let inside = &inside[..end];
    Some(if quote == '`' { inside.split("${").next().unwrap_or(inside) } else { inside })
}

/// The address in `new URL("…", import.meta.url)`, with what follows the call.
fn address_call(text: &str) -> Option<(&str, &str)> {
    let inside = text.strip_prefix("new URL(")?;
    let written = quoted(inside)?;
    let rest = inside[written.len() + 2..].strip_prefix(", import.meta.url)")?;
    Some((written, rest))
}

/// The name of the file that `written` in the script `name` leads to.
fn located(name: &str, written: &str, exists: impl Fn(&str) -> bool) -> Result<String, Error> {
    let mut steps: Vec<&str> = name.split('/').collect();
    steps.pop();
    let mut inside = true;
    for step in written.split('/') {
        match step {
            "." => {}
            ".." => inside &= steps.pop().is_some(),
            _ => steps.push(step),
        }
    }
    let target = steps.join("/");
    if inside && exists(&target) {
        return Ok(target);
    }
    Err(Error::new(
        ErrorKind::Build,
        format!("www/{name}"),
        written,
        "an address of a file in www or core, relative to the script",
        "Correct the address, or add the file.",
    ))
}

fn not_understood(name: &str, line: &str) -> Error {
    Error::new(
        ErrorKind::Build,
        format!("www/{name}"),
        line.trim(),
        "an address that can be read off the script, in one of the writings of src/site/script.rs",
        "Write the address out as one text, as the other scripts do.",
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    fn split(name: &str, text: &str) -> Result<String, Error> {
        let there = ["a.js", "b.css", "core/a.js", "core/a_bg.wasm", "worker.js"];
        let parts = parts(name, text, |file| there.contains(&file))?;
        Ok(parts
            .iter()
            .map(|part| match part {
                Part::Text(text) => text.clone(),
                Part::File(name) => format!("<{name}>"),
                Part::Worker(name) => format!("<worker {name}>"),
            })
            .collect())
    }

    #[test]
    fn every_writing_of_an_address_is_found() {
        for (text, expected) in [
            ("import { a } from \"./a.js\";", "import { a } from \"<a.js>\";"),
            ("import a from './a.js'", "import a from '<a.js>'"),
            ("import * as a from \"./core/a.js\";", "import * as a from \"<core/a.js>\";"),
            ("import {\na,\n} from \"./a.js\";", "import {\na,\n} from \"<a.js>\";"),
            (
                "export { a } from \"./a.js\"; import \"./a.js\";",
                "export { a } from \"<a.js>\"; import \"<a.js>\";",
            ),
            ("const m = await import(\"./a.js\");", "const m = await import(\"<a.js>\");"),
            ("f(`${import(`./core/a.js${tail}`)}`)", "f(`${import(`<core/a.js>${tail}`)}`)"),
            (
                "x(new URL(\"./b.css\", import.meta.url).href)",
                "x(new URL(\"<b.css>\", import.meta.url).href)",
            ),
            (
                "w = old ?? new Worker(new URL(\"./worker.js\", import.meta.url), { type: \"module\" });",
                "w = old ?? new Worker(\"<worker worker.js>\");",
            ),
            ("new Worker(import.meta.url, { type: \"module\" })", "new Worker(\"<worker x.js>\")"),
        ] {
            assert_eq!(split("x.js", text).unwrap(), expected);
        }
        // Of a script in a folder, addresses are relative to it.
        let glue = "p = new URL('a_bg.wasm', import.meta.url);\nimport { a } from \"../a.js\"";
        let expected = glue.replace("a_bg.wasm", "<core/a_bg.wasm>").replace("../a.js", "<a.js>");
        assert_eq!(split("core/glue.js", glue).unwrap(), expected);
    }

    #[test]
    fn words_that_are_no_address_stay() {
        for text in [
            "const s = `heat from \"oil\"`;\nf({ from: \"./gone.js\" });",
            "const important = 1; x.import; from(\"a\"); new Map(); new URL(hash, location.href)",
            "  // import of things",
        ] {
            assert_eq!(split("x.js", text).unwrap(), text);
        }
    }

    #[test]
    fn what_leads_nowhere_or_is_not_understood_is_an_error() {
        for (text, value) in [
            ("import { a } from \"./gone.js\";", "./gone.js"),
            ("import { a } from \"../a.js\";", "../a.js"),
            ("import { a } from \"library\";", "library"),
            ("import(\"./gone.js\")", "./gone.js"),
            ("new URL(\"./gone.css\", import.meta.url)", "./gone.css"),
            ("  import(name)", "import(name)"),
            ("f(import.meta.resolve(\"./a.js\"))", "import.meta.resolve(\"./a.js\"))"),
            ("new URL(name, import.meta.url)", "import.meta.url)"),
            ("new Worker(address)", "new Worker(address)"),
            (
                "new Worker(new URL(\"./a.js\", import.meta.url))",
                "new Worker(new URL(\"./a.js\", import.meta.url))",
            ),
            ("import defer", "import defer"),
        ] {
            let error = split("x.js", text).unwrap_err();
            assert_eq!((error.kind, error.value.as_str()), (ErrorKind::Build, value), "{text}");
            assert_eq!(error.field, "www/x.js");
        }
    }

    #[test]
    fn every_script_of_the_page_is_understood() {
        let www = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("www");
        let mut read = 0;
        for entry in std::fs::read_dir(&www).unwrap() {
            let path = entry.unwrap().path();
            let name = path.file_name().unwrap().to_string_lossy().into_owned();
            if !name.ends_with(".js") || name.starts_with("sw") {
                continue;
            }
            let text = super::super::thin::thinned(&name, &std::fs::read_to_string(&path).unwrap());
            let made = ["core/stallheat.js", "jobs/stallheat_jobs.js"];
            let parts =
                parts(&name, &text, |file| made.contains(&file) || www.join(file).is_file());
            let addresses =
                parts.unwrap().iter().filter(|part| !matches!(part, Part::Text(_))).count();
            // What goes on with a hash or not at all is the folder of a page, no file.
            let count = |text_of: &str| text.matches(text_of).count();
            let folders = count("\"./\"") + count("`./${");
            let written = count("\"./") + count("`./") + count("Worker(import") - folders;
            assert_eq!(addresses, written, "{name}");
            read += 1;
        }
        assert!(read > 50, "{read}");
    }
}
