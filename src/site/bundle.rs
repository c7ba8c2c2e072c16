//! From the many modules of `www/` to the few script files that a browser loads.
//!
//! **Entry points** are the module scripts of the pages, what is imported when it is needed (`import(…)`) and the scripts
//! of workers. Each keeps its name: `main.js` is still `main.js`, so every address in the sources holds. What only it
//! needs goes into its file. What several need goes into a file of its own for each set of entry points, `common-1.js`
//! and so on, and so exists once, with its state.
//!
//! What is imported when it is needed finds in place what all who import it have loaded; that does not count as needed
//! by it. But no file may import that of an entry point which is still running (it would wait for itself), so what an
//! entry point shares in this way lies beside its file, too.
//!
//! **Within a file** the modules stand one after the other in the order in which they would run by themselves, in one
//! scope: names that would clash are changed, imports and exports among them vanish. What a module holds that nobody
//! uses is left out by [`minified`].
//!
//! A script without a type, which runs before its page is seen, stays a file of its own.
//!
//! A module that waits before those that import it may run (`await` outside of functions) must be an entry point that
//! nobody imports. The core's and the jobs' scripts in their folders stay files of their own.

use std::collections::{BTreeMap, BTreeSet};

use stallheat::error::{Error, ErrorKind};

use super::assemble::{keeps_address, text_of};
use super::module::{Export, Module, Named};
use super::script::Use;
use super::thin::minified;
use super::{KILL_SWITCH, tags};

/// The files of the site with the modules of `www/` put together; what no page needs is left out.
pub fn bundled(mut sources: BTreeMap<String, Vec<u8>>) -> Result<BTreeMap<String, Vec<u8>>, Error> {
    let graph = Graph::read(&sources)?;
    let chunks = graph.chunks();
    let names = graph.names()?;
    let mut files = BTreeMap::new();
    for (chunk, text) in graph.written(&chunks, &names)? {
        files.insert(chunk.clone(), minified(&chunk, &text)?.into_bytes());
    }
    let pages = sources.iter().filter(|(name, _)| name.ends_with(".html"));
    let pages = pages.map(|(name, bytes)| text_of(name, bytes)).collect::<Result<Vec<_>, _>>()?;
    let plain: BTreeSet<String> = pages.into_iter().flat_map(|html| scripts(html, None)).collect();
    sources.retain(|name, _| {
        let known = keeps_address(name) || name == KILL_SWITCH || plain.contains(name);
        !name.ends_with(".js") || name.contains('/') || known
    });
    for (name, bytes) in &mut sources {
        // The service worker gets the list of files first.
        let own = name.contains('/') && name.ends_with(".js") || name == "embed.js";
        if own || plain.contains(name) {
            *bytes = minified(name, text_of(name, bytes)?)?.into_bytes();
        }
    }
    sources.extend(files);
    Ok(sources)
}

/// The module scripts that a page runs.
pub fn scripts_of(html: &str) -> Vec<String> {
    scripts(html, Some("module"))
}

/// The scripts of their own files of this type that a page runs; without a type, those that run before it is seen.
fn scripts(html: &str, kind: Option<&str>) -> Vec<String> {
    let mut found = Vec::new();
    let mut at = 0;
    while let Some(tag) = tags::next(html, at) {
        at = tag.end;
        if let ("script", Some(name)) = (tag.name, tag.value("src"))
            && tag.value("type") == kind
        {
            found.push(name.strip_prefix("./").unwrap_or(name).to_string());
        }
    }
    found
}

/// An entry point.
struct Entry {
    name: String,
    /// What it needs, itself last, in the order in which it runs.
    needs: Vec<String>,
    /// The entry points that import it when they need it; empty if a page or a worker runs it.
    importers: BTreeSet<usize>,
    /// A page or a worker runs it.
    starts: bool,
}

/// All modules that the pages need, and who needs whom.
struct Graph {
    modules: BTreeMap<String, Module>,
    entries: Vec<Entry>,
    /// The modules in the order in which they run.
    order: Vec<String>,
}

/// A set of entry points, and whether it is what one of them has in place for what it loads later.
type Key = (BTreeSet<usize>, bool);

/// The files to be: by name, the modules in each.
type Chunks = Vec<(String, Vec<String>)>;

impl Graph {
    fn read(sources: &BTreeMap<String, Vec<u8>>) -> Result<Graph, Error> {
        let mut graph = Graph { modules: BTreeMap::new(), entries: vec![], order: vec![] };
        for (name, bytes) in sources.iter().filter(|(name, _)| name.ends_with(".html")) {
            for script in scripts_of(text_of(name, bytes)?) {
                // One that is missing is an error of the page.
                if sources.contains_key(&script) {
                    graph.add_entry(&script, None);
                }
            }
        }
        let mut next = 0;
        while next < graph.entries.len() {
            let mut needs = Vec::new();
            graph.follow(sources, &graph.entries[next].name.clone(), &mut vec![], &mut needs)?;
            for name in &needs {
                for how in [Use::Lazy, Use::Worker] {
                    let targets: Vec<String> =
                        graph.modules[name].used(how).map(String::from).collect();
                    for target in targets.iter().filter(|target| !target.contains('/')) {
                        graph.add_entry(target, (how == Use::Lazy).then_some(next));
                    }
                }
                if !graph.order.contains(name) {
                    graph.order.push(name.clone());
                }
            }
            graph.entries[next].needs = needs;
            next += 1;
        }
        graph.check_waiting()?;
        Ok(graph)
    }

    fn add_entry(&mut self, name: &str, importer: Option<usize>) {
        let known = self.entries.iter().position(|entry| entry.name == name);
        let at = known.unwrap_or_else(|| {
            let (importers, needs) = (BTreeSet::new(), Vec::new());
            self.entries.push(Entry { name: name.to_string(), needs, importers, starts: false });
            self.entries.len() - 1
        });
        match importer {
            Some(importer) => {
                self.entries[at].importers.insert(importer);
            }
            None => self.entries[at].starts = true,
        }
    }

    /// Reads `name` and all that it imports, and adds them to `needs` in the order in which they run.
    fn follow(
        &mut self,
        sources: &BTreeMap<String, Vec<u8>>,
        name: &str,
        under_way: &mut Vec<String>,
        needs: &mut Vec<String>,
    ) -> Result<(), Error> {
        if needs.iter().chain(&*under_way).any(|known| known == name) {
            return Ok(());
        }
        if !self.modules.contains_key(name) {
            let bytes = sources.get(name).map(Vec::as_slice).unwrap_or_default();
            let exists = |file: &str| sources.contains_key(file);
            let module = Module::read(name, text_of(name, bytes)?, exists)?;
            self.modules.insert(name.to_string(), module);
        }
        under_way.push(name.to_string());
        let imports: Vec<String> = self.modules[name].imports().map(String::from).collect();
        for import in imports {
            if import.contains('/') || !import.ends_with(".js") {
                let limit = "imports of scripts that lie in www itself";
                return Err(self.modules[name].refusal(
                    0,
                    limit,
                    "Move the script, or load it with import(…).",
                ));
            }
            self.follow(sources, &import, under_way, needs)?;
        }
        under_way.pop();
        needs.push(name.to_string());
        Ok(())
    }

    /// Refuses what cannot stand in a file with others, or under another address.
    fn check_waiting(&self) -> Result<(), Error> {
        for module in self.modules.values() {
            let alone = self.entries.iter().any(|entry| entry.name == module.name)
                && self.needed_by(&module.name).len() == 1;
            if let (Some(at), false) = (module.waits, alone) {
                let limit = "no await outside of functions in a script that others import";
                return Err(module.refusal(at, limit, "Export a function that waits."));
            }
            if !alone && module.addresses.iter().any(|address| address.own) {
                let limit = "import.meta.url alone only in a script that nobody imports";
                return Err(module.refusal(
                    0,
                    limit,
                    "Name the script: new URL(\"./a.js\", import.meta.url).",
                ));
            }
        }
        Ok(())
    }

    fn needed_by(&self, module: &str) -> BTreeSet<usize> {
        let needs = |entry: &Entry| entry.needs.iter().any(|name| name == module);
        (0..self.entries.len()).filter(|at| needs(&self.entries[*at])).collect()
    }

    /// For each entry point, the modules that are in place when it is loaded.
    fn in_place(&self) -> Vec<BTreeSet<&str>> {
        let all: BTreeSet<&str> = self.order.iter().map(String::as_str).collect();
        let at_first = |entry: &Entry| if entry.starts { BTreeSet::new() } else { all.clone() };
        let mut in_place: Vec<BTreeSet<&str>> = self.entries.iter().map(at_first).collect();
        loop {
            let mut same = true;
            for (at, entry) in self.entries.iter().enumerate().filter(|(_, entry)| !entry.starts) {
                let mut held = in_place[at].clone();
                for importer in &entry.importers {
                    held.retain(|name| {
                        in_place[*importer].contains(name)
                            || self.entries[*importer].needs.iter().any(|need| need == name)
                    });
                }
                same &= held.len() == in_place[at].len();
                in_place[at] = held;
            }
            if same {
                return in_place;
            }
        }
    }

    fn chunks(&self) -> Chunks {
        let in_place = self.in_place();
        let mut keys: Vec<(Key, Vec<String>)> = Vec::new();
        for module in &self.order {
            let needed_by = self.needed_by(module);
            let fetched_by: BTreeSet<usize> = needed_by
                .iter()
                .copied()
                .filter(|at| !in_place[*at].contains(module.as_str()))
                .collect();
            let shared = fetched_by.len() > 1 || needed_by != fetched_by;
            let key = (fetched_by, shared);
            match keys.iter_mut().find(|(known, _)| *known == key) {
                Some((_, modules)) => modules.push(module.clone()),
                None => keys.push((key, vec![module.clone()])),
            }
        }
        let mut chunks: Chunks = Vec::new();
        let mut count = 0;
        for ((fetched_by, shared), modules) in keys {
            let name = match fetched_by.first() {
                Some(only) if !shared => self.entries[*only].name.clone(),
                _ => {
                    count += 1;
                    format!("common-{count}.js")
                }
            };
            chunks.push((name, modules));
        }
        // One that others import as well is only a name for what lies elsewhere.
        for entry in &self.entries {
            if !chunks.iter().any(|(name, _)| *name == entry.name) {
                chunks.push((entry.name.clone(), vec![]));
            }
        }
        chunks
    }

    /// What `named` leads to, through all that only pass it on: the module that declares it, and the name there.
    fn declared(&self, named: &Named) -> Result<Named, Error> {
        let mut at = named.clone();
        let mut passed = BTreeSet::new();
        loop {
            let (module, name) = &at;
            let module = &self.modules[module];
            let Some(export) = module.exports.get(name) else {
                return Err(missing(&at));
            };
            let next = match export {
                Export::Of(next) => next.clone(),
                Export::Own(local) => match module.borrowed.get(local) {
                    Some((next, _)) => next.clone(),
                    None => return Ok((module.name.clone(), local.clone())),
                },
            };
            if !passed.insert(at) {
                return Err(missing(&next));
            }
            at = next;
        }
    }

    /// One name for all of the site for everything that modules declare for all of themselves.
    fn names(&self) -> Result<BTreeMap<Named, String>, Error> {
        let modules = || self.order.iter().map(|name| &self.modules[name]);
        // Within this module the name means something else.
        let mut hidden_in: BTreeMap<Named, Vec<&Module>> = BTreeMap::new();
        for module in modules() {
            for (local, (named, at)) in &module.borrowed {
                let declared = self.declared(named).map_err(|_| {
                    let limit = format!("a name that www/{} exports, not {}", named.0, named.1);
                    module.refusal(*at, &limit, "Correct the name, or export it.")
                })?;
                if *local != declared.1 {
                    hidden_in.entry(declared).or_default().push(module);
                }
            }
        }
        let foreign: BTreeSet<&String> = modules().flat_map(|module| &module.foreign).collect();
        let inner: BTreeSet<&String> = modules().flat_map(|module| &module.inner).collect();
        let own: BTreeSet<&String> = modules().flat_map(|module| &module.own).collect();
        let mut taken: BTreeSet<String> = BTreeSet::new();
        let mut names = BTreeMap::new();
        for module in modules() {
            for local in &module.own {
                let declared = (module.name.clone(), local.clone());
                let hidden = hidden_in
                    .get(&declared)
                    .is_some_and(|by| by.iter().any(|module| module.inner.contains(local)));
                let mut name = local.clone();
                let mut count = 0;
                while taken.contains(&name)
                    || foreign.contains(&name)
                    || (count == 0 && hidden)
                    || (count > 0 && (inner.contains(&name) || own.contains(&name)))
                {
                    count += 1;
                    name = format!("{local}${count}");
                }
                taken.insert(name.clone());
                names.insert(declared, name);
            }
        }
        Ok(names)
    }

    /// The text of each file.
    fn written(
        &self,
        chunks: &Chunks,
        names: &BTreeMap<Named, String>,
    ) -> Result<Vec<(String, String)>, Error> {
        let place = |module: &str| {
            chunks.iter().position(|(_, held)| held.iter().any(|one| one == module)).unwrap_or(0)
        };
        let mut bodies = Vec::new();
        // By file: the files that it imports with the names that it takes from each, and what it exports.
        let mut imports: Vec<BTreeMap<usize, BTreeSet<String>>> =
            vec![BTreeMap::new(); chunks.len()];
        let mut exports: Vec<BTreeMap<String, String>> = vec![BTreeMap::new(); chunks.len()];
        for (at, (file, held)) in chunks.iter().enumerate() {
            let mut own_exports = BTreeMap::new();
            let mut take = |declared: &Named| {
                let (from, name) = (place(&declared.0), &names[declared]);
                if from != at {
                    imports[at].entry(from).or_default().insert(name.clone());
                    exports[from].insert(name.clone(), name.clone());
                }
                name.clone()
            };
            let mut body = String::new();
            for name in held {
                let module = &self.modules[name];
                let mut renamed = BTreeMap::new();
                for local in &module.own {
                    renamed.insert(local, names[&(name.clone(), local.clone())].clone());
                }
                for (local, (named, _)) in &module.borrowed {
                    renamed.insert(local, take(&self.declared(named)?));
                }
                body += &module.written(|local| {
                    renamed.get(&local.to_string()).cloned().unwrap_or_else(|| local.to_string())
                })?;
            }
            if let Some(entry) = self.modules.get(file) {
                for export in entry.exports.keys() {
                    let declared = self.declared(&(file.clone(), export.clone()))?;
                    let name = take(&declared);
                    own_exports.insert(export.clone(), name);
                }
            }
            exports[at].extend(own_exports);
            // What is imported for what it does alone counts as well.
            let others = held.iter().flat_map(|name| self.modules[name].imports());
            for from in
                others.chain(self.modules.contains_key(file).then_some(file.as_str())).map(place)
            {
                if from != at {
                    imports[at].entry(from).or_default();
                }
            }
            bodies.push(body);
        }
        Ok(chunks
            .iter()
            .zip(bodies)
            .enumerate()
            .map(|(at, ((file, _), body))| {
                let mut text = String::new();
                for (from, names) in &imports[at] {
                    let names: Vec<&str> = names.iter().map(String::as_str).collect();
                    text += &match names[..] {
                        [] => format!("import \"./{}\";\n", chunks[*from].0),
                        _ => format!(
                            "import {{ {} }} from \"./{}\";\n",
                            names.join(", "),
                            chunks[*from].0
                        ),
                    };
                }
                text += &body;
                let names: Vec<String> =
                    exports[at].iter().map(|(name, local)| format!("{local} as {name}")).collect();
                if !names.is_empty() {
                    text += &format!("export {{ {} }};\n", names.join(", "));
                }
                (file.clone(), text)
            })
            .collect())
    }
}

fn missing((module, name): &Named) -> Error {
    Error::new(
        ErrorKind::Build,
        format!("www/{module}"),
        name,
        "a name that the script exports and declares",
        "Declare it, or no longer export it.",
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    const PAGE: (&str, &str) = ("index.html", "<script type=\"module\" src=\"main.js\"></script>");

    fn made(files: &[(&str, &str)]) -> Result<BTreeMap<String, String>, Error> {
        let files = files.iter().chain([&PAGE]);
        let sources =
            files.map(|(name, text)| (name.to_string(), text.as_bytes().to_vec())).collect();
        let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
        Ok(bundled(sources)?.into_iter().map(|(name, bytes)| (name, text(bytes))).collect())
    }

    /// How often a text stands in all files together.
    fn count(files: &BTreeMap<String, String>, text: &str) -> usize {
        files.values().map(|file| file.matches(text).count()).sum()
    }

    #[test]
    fn modules_stand_once_in_the_order_in_which_they_run() {
        let files = made(&[
            ("main.js", "import { b } from \"./b.js\"; import \"./c.js\"; log(\"main\", b);"),
            ("b.js", "import { a } from \"./a.js\"; log(\"b\"); export const b = a + 1;"),
            ("a.js", "import \"./main.js\"; export let a = 0; log(\"a\", () => a++);"),
            ("c.js", "import { a as b } from \"./a.js\"; log(\"c\", b);"),
            ("unused.js", "import(nothing)"),
        ])
        .unwrap();
        assert_eq!(files.keys().collect::<Vec<_>>(), ["index.html", "main.js"]);
        let main = &files["main.js"];
        let at = ["a", "b", "c", "main"].map(|name| {
            main.find(&format!("`{name}`")).or(main.find(&format!("\"{name}\""))).unwrap()
        });
        assert!(at.is_sorted(), "{main}");
        assert_eq!(main.matches("log(").count(), 4, "{main}");
        assert!(!main.contains("import"), "{main}");
    }

    #[test]
    fn what_is_loaded_when_needed_stays_apart_and_shares_what_was_loaded() {
        let files = made(&[
            ("main.js", "import { store } from \"./store.js\"; log(store); const { add } = await import(\"./later.js\"); add();"),
            ("store.js", "export const store = new Map([[\"state\", 1]]);"),
            ("later.js", "import { store } from \"./store.js\"; import { more } from \"./more.js\"; export function add() { more(store); }"),
            ("more.js", "export const more = (store) => store.set(\"more\", 2);"),
            ("worker.js", "import { store } from \"./store.js\"; log(store, new Worker(import.meta.url, { type: \"module\" }));"),
            ("other.js", "new Worker(new URL(\"./worker.js\", import.meta.url), { type: \"module\" });"),
            ("other.html", "<script type=\"module\" src=\"other.js\"></script>"),
        ])
        .unwrap();
        let scripts: Vec<&String> = files.keys().filter(|name| name.ends_with(".js")).collect();
        assert_eq!(scripts, ["common-1.js", "later.js", "main.js", "other.js", "worker.js"]);
        assert_eq!(count(&files, "new Map"), 1, "{files:?}");
        assert!(files["common-1.js"].contains("new Map"), "{files:?}");
        // Not from main.js, which waits for it.
        assert!(!files["later.js"].contains("main.js"), "{files:?}");
        assert!(
            files["later.js"].contains("as add}") || files["later.js"].contains("{add}"),
            "{files:?}"
        );
        assert!(
            files["main.js"].contains("import(\"./later.js\")")
                || files["main.js"].contains("import(`./later.js`)"),
            "{files:?}"
        );
        assert_eq!((count(&files, ".set("), files["later.js"].matches(".set(").count()), (1, 1));
    }

    #[test]
    fn names_that_clash_are_told_apart() {
        let graph = |files: &[(&str, &str)]| {
            let files = files.iter().chain([&PAGE]);
            let sources =
                files.map(|(name, text)| (name.to_string(), text.as_bytes().to_vec())).collect();
            let graph = Graph::read(&sources).unwrap();
            graph.written(&graph.chunks(), &graph.names().unwrap()).unwrap().remove(0).1
        };
        let text = graph(&[
            (
                "main.js",
                "import { open as show } from \"./a.js\"; import { size } from \"./b.js\"; \
                const one = 1; { const open$1 = 2; show({ size, one }, open$1); } f((size) => size);",
            ),
            ("a.js", "const one = 2; export { open }; function open() { return one; }"),
            ("b.js", "open(); let { one } = { one: 3 }; export { one as size };"),
        ]);
        // `open` of the browser is another than that of a.js, and `open$1` stands within a block.
        let expected = "const one = 2;\nfunction open$2() {\n\treturn one;\n}\n\
            open();\nlet { one: one$1 } = { one: 3 };\n\
            const one$2 = 1;\n{\n\tconst open$1 = 2;\n\topen$2({\n\t\tsize: one$1,\n\t\tone: one$2\n\t}, open$1);\n}\n\
            f((size) => size);\n";
        assert_eq!(text, expected);
    }

    #[test]
    fn what_is_not_understood_is_an_error_with_its_file_and_line() {
        for (text, field) in [
            ("\nimport * as a from \"./a.js\";", "www/main.js:2"),
            ("import a from \"./a.js\";", "www/main.js:1"),
            ("f();\nexport * from \"./a.js\";", "www/main.js:2"),
            ("f();\n\nexport default 1;", "www/main.js:3"),
            ("import {\n  gone,\n} from \"./a.js\";", "www/main.js:1"),
            ("import \"./wait.js\";", "www/wait.js:2"),
            ("import \"./self.js\";", "www/self.js:1"),
            ("import { a } from \"./a.js\";\nconst a = 1;", "www/main.js:2"),
            ("import \"./deep/a.js\";", "www/main.js:1"),
            ("f();\nimport(name);", "www/main.js:2"),
            ("f(;", "www/main.js:1"),
        ] {
            let error = made(&[
                ("main.js", text),
                ("a.js", "export const a = 1;"),
                ("deep/a.js", ""),
                ("wait.js", "async () => await f();\nawait f();"),
                ("self.js", "new Worker(import.meta.url, { type: \"module\" });"),
            ])
            .unwrap_err();
            assert_eq!((error.kind, error.field.as_str()), (ErrorKind::Build, field), "{text}");
        }
    }

    #[test]
    fn the_page_comes_in_few_files_that_start_nothing_twice() {
        let www = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("www");
        let mut sources = super::super::folder::read_tree(&www).unwrap();
        let modules = sources.keys().filter(|name| name.ends_with(".js")).count();
        sources.extend(super::super::known::scripts().unwrap());
        for made in ["core/stallheat.js", "jobs/stallheat_jobs.js"] {
            sources.insert(made.to_string(), b"export class Day {}".to_vec());
        }
        let whole: usize = sources.values().map(Vec::len).sum();
        let files = bundled(sources).unwrap();
        let scripts = files.keys().filter(|name| name.ends_with(".js")).count();
        assert!(modules > 80 && 4 * scripts < modules, "{modules} {scripts}");
        assert!(files.values().map(Vec::len).sum::<usize>() < whole * 7 / 10);
    }
}
