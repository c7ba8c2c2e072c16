//! Where a script names other files: the addresses in it, read off its syntax.
//!
//! A build follows them to know what belongs together, and replaces them where files move. So every address must be of a
//! form that can be read without running the script; any other is an error, so that nothing is missing only in the
//! reader's hands:
//!
//! ```text
//! import … from "./a.js"    export … from "./a.js"    import "./a.js"    import("./a.js")    import(`./a.js${tail}`)
//! new URL("./a.css", import.meta.url)
//! new Worker(new URL("./a.js", import.meta.url), { type: "module" })    new Worker(import.meta.url, { type: "module" })
//! ```
//!
//! Addresses are relative to the script. The syntax is read by oxc.

use std::ops::Range;

use oxc::allocator::Allocator;
use oxc::ast::ast::{
    Argument, ExportAllDeclaration, ExportNamedDeclaration, Expression, ImportDeclaration,
    ImportExpression, MetaProperty, NewExpression, ObjectPropertyKind, Program, StringLiteral,
};
use oxc::ast_visit::{Visit, walk};
use oxc::parser::Parser;
use oxc::span::{GetSpan, SourceType, Span};
use stallheat::error::{Error, ErrorKind};

/// What a script does with the file at an address.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Use {
    /// Runs it before itself.
    Import,
    /// Imports it when it is needed.
    Lazy,
    /// Runs it as a worker.
    Worker,
    /// Asks for its address.
    Named,
}

/// An address in a script.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Address {
    pub how: Use,
    /// The file, by its name in `www/`.
    pub target: String,
    /// Whether it is the script itself, without its name written out.
    pub own: bool,
    /// What stands for it in the text: an address without its quotes, or all that is told a worker.
    place: Range<usize>,
}

/// A part of a script: text, or what takes the place of an address.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Part {
    Text(String),
    /// The address of a file, by its name in `www/`.
    File(String),
    /// The address of a worker that runs this script.
    Worker(String),
}

/// Reads the syntax of the module `name`, gives what `read` makes of it.
pub fn with_syntax<T>(
    name: &str,
    text: &str,
    read: impl for<'a> FnOnce(&'a Allocator, Program<'a>) -> Result<T, Error>,
) -> Result<T, Error> {
    let allocator = Allocator::default();
    let parsed = Parser::new(&allocator, text, kind_of(name)).parse();
    if let Some(wrong) = parsed.errors.first() {
        let start = wrong.labels.iter().flatten().next().map_or(0, |label| label.offset());
        let limit = format!("JavaScript that can be read ({})", wrong.message);
        return Err(refusal(name, text, start, &limit, "Mend the script."));
    }
    read(&allocator, parsed.program)
}

/// Service workers, the script for foreign pages and what runs before a page is seen are classic scripts, all others modules.
fn kind_of(name: &str) -> SourceType {
    let classic = matches!(name, "sw.js" | "sw-off.js" | "embed.js" | "start.js" | "first.js");
    SourceType::mjs().with_module(!classic).with_script(classic)
}

/// All addresses in the script `name`, in the order of the text; `exists` says which files there are.
pub fn addresses(
    name: &str,
    text: &str,
    exists: impl Fn(&str) -> bool,
) -> Result<Vec<Address>, Error> {
    with_syntax(name, text, |_, program| {
        let mut finder = Finder { name, text, exists: &exists, found: Ok(vec![]) };
        finder.visit_program(&program);
        let mut found = finder.found?;
        found.sort_by_key(|address| address.place.start);
        Ok(found)
    })
}

/// Splits the script `name` at its addresses; `exists` says which files there are.
pub fn parts(name: &str, text: &str, exists: impl Fn(&str) -> bool) -> Result<Vec<Part>, Error> {
    let mut parts = Vec::new();
    let mut done = 0;
    let mut before = String::new();
    for Address { how, target, place, .. } in addresses(name, text, exists)? {
        before += &text[done..place.start];
        done = place.end;
        // The address is a text of its own here, and the worker no module.
        let quote = if how == Use::Worker { "\"" } else { "" };
        parts.push(Part::Text(before + quote));
        parts.push(if how == Use::Worker { Part::Worker(target) } else { Part::File(target) });
        before = quote.to_string();
    }
    parts.push(Part::Text(before + &text[done..]));
    Ok(parts)
}

struct Finder<'t> {
    name: &'t str,
    text: &'t str,
    exists: &'t dyn Fn(&str) -> bool,
    found: Result<Vec<Address>, Error>,
}

impl Finder<'_> {
    /// Takes the address in `written`, which stands at `place`.
    fn take(&mut self, how: Use, (written, inside): (&str, Span), place: Option<Range<usize>>) {
        let place = place.unwrap_or(inside.start as usize..inside.end as usize);
        let Ok(found) = &mut self.found else { return };
        match located(self.name, written, self.exists) {
            Some(target) => found.push(Address { how, target, own: false, place }),
            None => {
                let limit = "an address of a file in www or core, relative to the script";
                let start = inside.start as usize;
                let mut error = refusal(
                    self.name,
                    self.text,
                    start,
                    limit,
                    "Correct the address, or add the file.",
                );
                error.value = written.to_string();
                self.found = Err(error);
            }
        }
    }

    fn refuse(&mut self, at: Span) {
        let limit =
            "an address that can be read off the script, in one of the forms of src/site/script.rs";
        let remedy = "Write the address out as one text, as the other scripts do.";
        if self.found.is_ok() {
            self.found = Err(refusal(self.name, self.text, at.start as usize, limit, remedy));
        }
    }
}

impl<'a> Visit<'a> for Finder<'_> {
    fn visit_import_declaration(&mut self, it: &ImportDeclaration<'a>) {
        if it.phase.is_some() {
            self.refuse(it.span);
        }
        self.take(Use::Import, of_literal(&it.source), None);
    }

    fn visit_export_named_declaration(&mut self, it: &ExportNamedDeclaration<'a>) {
        if let Some(source) = &it.source {
            self.take(Use::Import, of_literal(source), None);
        }
        walk::walk_export_named_declaration(self, it);
    }

    fn visit_export_all_declaration(&mut self, it: &ExportAllDeclaration<'a>) {
        self.take(Use::Import, of_literal(&it.source), None);
    }

    fn visit_import_expression(&mut self, it: &ImportExpression<'a>) {
        match beginning(&it.source) {
            Some(written) => {
                self.take(Use::Lazy, written, None);
                walk::walk_import_expression(self, it);
            }
            None => self.refuse(it.span),
        }
    }

    fn visit_new_expression(&mut self, it: &NewExpression<'a>) {
        let arguments = &it.arguments[..];
        if it.callee.is_specific_id("Worker") {
            let [script, options] = arguments else { return self.refuse(it.span) };
            let place = script.span().start as usize..options.span().end as usize;
            match (script.as_expression(), is_module(options)) {
                (Some(own), true) if is_own(own) => {
                    let target = self.name.to_string();
                    if let Ok(found) = &mut self.found {
                        found.push(Address { how: Use::Worker, target, own: true, place });
                    }
                }
                (Some(Expression::NewExpression(address)), true) => match named(address) {
                    Some(Some(written)) => self.take(Use::Worker, written, Some(place)),
                    _ => self.refuse(it.span),
                },
                _ => self.refuse(it.span),
            }
            return;
        }
        match named(it) {
            Some(Some(written)) => self.take(Use::Named, written, None),
            Some(None) => self.refuse(it.span),
            None => walk::walk_new_expression(self, it),
        }
    }

    fn visit_meta_property(&mut self, it: &MetaProperty<'a>) {
        if it.meta.name == "import" {
            self.refuse(it.span);
        }
    }
}

fn of_literal<'s>(literal: &'s StringLiteral) -> (&'s str, Span) {
    (literal.value.as_str(), literal.span.shrink(1))
}

/// What stands between the quotes of a text; in a template, before what is put in.
fn beginning<'s>(text: &'s Expression) -> Option<(&'s str, Span)> {
    match text {
        Expression::StringLiteral(literal) => Some(of_literal(literal)),
        Expression::TemplateLiteral(template) => {
            let first = template.quasis.first()?;
            Some((first.value.raw.as_str(), first.span))
        }
        _ => None,
    }
}

/// Whether it is `import.meta.url`.
fn is_own(it: &Expression) -> bool {
    let Expression::StaticMemberExpression(member) = it else { return false };
    member.property.name == "url"
        && matches!(&member.object, Expression::MetaProperty(of) if of.meta.name == "import")
}

/// The address in `new URL("…", import.meta.url)`: none if it is another call, nothing in it if it cannot be read.
fn named<'s>(it: &'s NewExpression) -> Option<Option<(&'s str, Span)>> {
    let [written, base] = &it.arguments[..] else { return None };
    if !it.callee.is_specific_id("URL") || !base.as_expression().is_some_and(is_own) {
        return None;
    }
    let whole = |text: &&Expression| match text {
        Expression::TemplateLiteral(template) => template.expressions.is_empty(),
        _ => true,
    };
    Some(written.as_expression().filter(whole).and_then(beginning))
}

/// Whether it is `{ type: "module" }`.
fn is_module(options: &Argument) -> bool {
    let Some(Expression::ObjectExpression(options)) = options.as_expression() else { return false };
    let [ObjectPropertyKind::ObjectProperty(only)] = &options.properties[..] else { return false };
    only.key.static_name().is_some_and(|key| key == "type")
        && beginning(&only.value).is_some_and(|(kind, _)| kind == "module")
}

/// The name of the file that `written` in the script `name` leads to.
fn located(name: &str, written: &str, exists: impl Fn(&str) -> bool) -> Option<String> {
    let mut steps: Vec<&str> = name.split('/').collect();
    steps.pop();
    for step in written.split('/') {
        match step {
            "." => {}
            ".." => {
                steps.pop()?;
            }
            _ => steps.push(step),
        }
    }
    Some(steps.join("/")).filter(|target| exists(target))
}

/// An error at the byte `start` of the script `name`.
pub fn refusal(name: &str, text: &str, start: usize, limit: &str, remedy: &str) -> Error {
    let line = text[..start].matches('\n').count() + 1;
    let value = text[start..].lines().next().unwrap_or_default();
    Error::new(
        ErrorKind::Build,
        format!("www/{name}:{line}"),
        value.chars().take(120).collect::<String>(),
        limit,
        remedy,
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
            "const s = \"import './gone.js'\"; /* import './gone.js' */ f(() => new.target);",
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
            ("new URL(name, import.meta.url)", "new URL(name, import.meta.url)"),
            ("new URL(`./${name}`, import.meta.url)", "new URL(`./${name}`, import.meta.url)"),
            ("f();\nf(import.meta.url)", "import.meta.url)"),
            ("new Worker(address)", "new Worker(address)"),
            (
                "new Worker(new URL(\"./a.js\", import.meta.url))",
                "new Worker(new URL(\"./a.js\", import.meta.url))",
            ),
            ("import defer", ""),
        ] {
            let error = split("x.js", text).unwrap_err();
            assert_eq!((error.kind, error.value.as_str()), (ErrorKind::Build, value), "{text}");
            let line = if text.contains('\n') { 2 } else { 1 };
            assert_eq!(error.field, format!("www/x.js:{line}"), "{text}");
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
            let text = std::fs::read_to_string(&path).unwrap();
            let code: String = text
                .lines()
                .filter(|line| !line.trim_start().starts_with("//"))
                .map(|line| format!("{line}\n"))
                .collect();
            let made =
                ["core/stallheat.js", "jobs/stallheat_jobs.js", "known.js", "rest.js", "words.js"];
            let parts =
                parts(&name, &text, |file| made.contains(&file) || www.join(file).is_file());
            let addresses =
                parts.unwrap().iter().filter(|part| !matches!(part, Part::Text(_))).count();
            // What goes on with a hash or not at all is the folder of a page, no file.
            let count = |text_of: &str| code.matches(text_of).count();
            let folders = count("\"./\"") + count("`./${");
            let written = count("\"./") + count("`./") + count("Worker(import") - folders;
            assert_eq!(addresses, written, "{name}");
            read += 1;
        }
        assert!(read > 50, "{read}");
    }
}
