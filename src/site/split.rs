//! A WebAssembly module in two: what a page needs before anything can be seen, and what comes after it.
//!
//! Both share memory, tables and globals: the first has them and everything that runs at once, the later one imports from it
//! what it uses. What the first calls of the later one is an import from [`LATER`] there, which refuses until the later one
//! is loaded; where such a function stands in a table, the later one puts itself into its place.
//!
//! Which functions come later is a list of exports and of names (see [`Cut`]); what only those use goes with them. A name
//! that no function or export has is an error, so that the list cannot fall behind the sources unseen.

use std::collections::{BTreeMap, HashSet};

use stallheat::error::{Error, ErrorKind};
use walrus::ir::{Value, Visitor, dfs_in_order};
use walrus::{
    ConstExpr, ElementItems, ElementKind, ExportItem, FunctionId, FunctionKind, GlobalKind,
    ImportKind, ImportedFunction, Module, ModuleConfig,
};

/// The module that the first imports from what comes later.
pub const LATER: &str = "./later";
/// The module that the later one imports from the first.
pub const FIRST: &str = "./first";

/// What comes later.
pub struct Cut {
    /// Names of exports.
    pub exports: &'static [&'static str],
    /// Parts of the names of functions, without the hashes of crates in them.
    pub names: &'static [&'static str],
}

/// The two modules.
pub struct Split {
    /// What is needed at once: it has memory, tables and globals and starts by itself.
    pub first: Vec<u8>,
    /// The rest, to be instantiated with the exports of the first as [`FIRST`].
    pub later: Vec<u8>,
    /// The later one's functions that the first asks for, beside the exports of the cut.
    pub asked: Vec<String>,
}

/// Parts a module, given with the names of its functions; both parts are without them. Fails where the bytes are no module, a
/// name of the cut is nobody's, or a table is filled at no fixed place.
pub fn split(wasm: &[u8], cut: &Cut) -> Result<Split, Error> {
    let mut first = read(wasm)?;
    let mut later = read(wasm)?;
    // Read from the same bytes, both have the same functions in the same order.
    let later_ids: BTreeMap<FunctionId, FunctionId> = first
        .funcs
        .iter()
        .zip(later.funcs.iter())
        .map(|(one, other)| (one.id(), other.id()))
        .collect();
    let come_later = come_later(&first, cut)?;
    let own: HashSet<FunctionId> = come_later.iter().map(|id| later_ids[id]).collect();

    let shared = share(&mut first, &mut later);

    // In the first part the moved functions are imports. What nothing there asks for falls away.
    for (count, id) in come_later.iter().enumerate() {
        as_import(&mut first, *id, LATER, &format!("a{count}"));
    }
    let gone: Vec<_> = first
        .exports
        .iter()
        .filter(|export| cut.exports.contains(&export.name.as_str()))
        .map(|export| export.id())
        .collect();
    for id in gone {
        first.exports.delete(id);
    }
    walrus::passes::gc::run(&mut first);
    let asked: Vec<String> = first
        .imports
        .iter()
        .filter(|import| import.module == LATER)
        .map(|import| import.name.clone())
        .collect();

    // In the later part all others are.
    let exports: Vec<_> = later.exports.iter().map(|export| export.id()).collect();
    for id in exports {
        if !cut.exports.contains(&later.exports.get(id).name.as_str()) {
            later.exports.delete(id);
        }
    }
    for (count, id) in come_later.iter().enumerate() {
        let name = format!("a{count}");
        if asked.contains(&name) {
            later.exports.add(&name, later_ids[id]);
        }
    }
    let stays: Vec<_> =
        later.funcs.iter_local().map(|(id, _)| id).filter(|id| !own.contains(id)).collect();
    for (count, id) in stays.iter().enumerate() {
        as_import(&mut later, *id, FIRST, &format!("f{count}"));
    }
    put_into_tables(&mut later, &own)?;
    later.start = None;
    walrus::passes::gc::run(&mut later);

    // What the later part imports from the first, that exports.
    let first_ids: BTreeMap<FunctionId, FunctionId> =
        later_ids.iter().map(|(one, other)| (*other, *one)).collect();
    let mut needed = HashSet::new();
    for import in later.imports.iter().filter(|import| import.module == FIRST) {
        needed.insert(import.name.clone());
        if let ImportKind::Function(id) = import.kind {
            first.exports.add(&import.name, first_ids[&id]);
        }
    }
    for name in shared.iter().filter(|name| !needed.contains(*name)) {
        first.exports.remove(name).map_err(|cause| {
            refusal("core", cause.to_string(), "an export that was just made", "Report it.")
        })?;
    }
    Ok(Split { first: first.emit_wasm(), later: later.emit_wasm(), asked })
}

fn read(wasm: &[u8]) -> Result<Module, Error> {
    ModuleConfig::new()
        .generate_name_section(false)
        .generate_producers_section(false)
        .parse(wasm)
        .map_err(|cause| {
            refusal(
                "wasm",
                format!("{cause:#}"),
                "a WebAssembly module",
                "Build anew; if that does not help, report it with the output of `rustc --version`.",
            )
        })
}

fn refusal(field: &str, value: String, limit: &str, remedy: &str) -> Error {
    Error::new(ErrorKind::Build, field, value, limit, remedy)
}

/// The functions that come later, in order: those of the cut, and those that only they use.
fn come_later(module: &Module, cut: &Cut) -> Result<Vec<FunctionId>, Error> {
    let is_cut = |id: FunctionId| {
        let name = module.funcs.get(id).name.as_deref().map(plain).unwrap_or_default();
        cut.names.iter().any(|part| name.contains(part))
    };
    for name in cut.exports {
        if !module.exports.iter().any(|export| export.name == *name) {
            return Err(refusal(
                "core",
                name.to_string(),
                "an export that the core has",
                "Bring the list of what comes later in src/site/compile.rs up to date.",
            ));
        }
    }
    for part in cut.names {
        let has = |name: &str| plain(name).contains(part);
        if !module.funcs.iter().any(|function| function.name.as_deref().is_some_and(has)) {
            return Err(refusal(
                "core",
                part.to_string(),
                "a part of the name of a function that the core has",
                "Bring the list of what comes later in src/site/compile.rs up to date.",
            ));
        }
    }
    let mut to_do: Vec<FunctionId> = module.start.into_iter().collect();
    for export in module.exports.iter() {
        if let ExportItem::Function(id) = export.item
            && !cut.exports.contains(&export.name.as_str())
        {
            to_do.push(id);
        }
    }
    for element in module.elements.iter() {
        to_do.extend(functions_of(&element.items).into_iter().flatten());
    }
    let mut stays = HashSet::new();
    while let Some(id) = to_do.pop() {
        if is_cut(id) || !stays.insert(id) {
            continue;
        }
        if let FunctionKind::Local(function) = &module.funcs.get(id).kind {
            let mut called = Called(Vec::new());
            dfs_in_order(&mut called, function, function.entry_block());
            to_do.extend(called.0);
        }
    }
    Ok(module.funcs.iter_local().map(|(id, _)| id).filter(|id| !stays.contains(id)).collect())
}

/// A function's name without the hashes of crates, `[0123456789abcdef]`.
fn plain(name: &str) -> String {
    let mut plain = String::with_capacity(name.len());
    let mut rest = name;
    while let Some(at) = rest.find('[') {
        let is_hash = rest.as_bytes().get(at + 17) == Some(&b']')
            && rest.as_bytes()[at + 1..at + 17].iter().all(u8::is_ascii_hexdigit);
        plain.push_str(&rest[..at]);
        rest = if is_hash {
            &rest[at + 18..]
        } else {
            plain.push('[');
            &rest[at + 1..]
        };
    }
    plain + rest
}

/// The functions that a function names.
struct Called(Vec<FunctionId>);

impl Visitor<'_> for Called {
    fn visit_function_id(&mut self, id: &FunctionId) {
        self.0.push(*id);
    }
}

/// What stands in the places of a table.
fn functions_of(items: &ElementItems) -> Vec<Option<FunctionId>> {
    let function = |one: &ConstExpr| match one {
        ConstExpr::RefFunc(id) => Some(*id),
        _ => None,
    };
    match items {
        ElementItems::Functions(ids) => ids.iter().copied().map(Some).collect(),
        ElementItems::Expressions(_, expressions) => expressions.iter().map(function).collect(),
    }
}

/// Makes an import of a function.
fn as_import(module: &mut Module, id: FunctionId, from: &str, name: &str) {
    let ty = module.funcs.get(id).ty();
    let import = module.imports.add(from, name, id);
    module.funcs.get_mut(id).kind = FunctionKind::Import(ImportedFunction { import, ty });
}

/// Memory, tables and globals are the first module's, and what lies in the memory is put there by it. Gives the names under
/// which it exports them.
fn share(first: &mut Module, later: &mut Module) -> Vec<String> {
    let data: Vec<_> = later.data.iter().map(|data| data.id()).collect();
    for id in data {
        later.data.delete(id);
    }
    let mut names = Vec::new();
    let memories: Vec<_> = ids(first.memories.iter(), later.memories.iter(), |one| one.id());
    for (one, other) in memories {
        let name = format!("m{}", names.len());
        first.exports.add(&name, one);
        let import = later.imports.add(FIRST, &name, other);
        let memory = later.memories.get_mut(other);
        memory.import = Some(import);
        memory.data_segments.clear();
        names.push(name);
    }
    let tables: Vec<_> = ids(first.tables.iter(), later.tables.iter(), |one| one.id());
    for (one, other) in tables {
        let name = format!("t{}", names.len());
        first.exports.add(&name, one);
        later.tables.get_mut(other).import = Some(later.imports.add(FIRST, &name, other));
        names.push(name);
    }
    let globals: Vec<_> = ids(first.globals.iter(), later.globals.iter(), |one| one.id());
    for (one, other) in globals {
        let name = format!("g{}", names.len());
        first.exports.add(&name, one);
        let import = later.imports.add(FIRST, &name, other);
        later.globals.get_mut(other).kind = GlobalKind::Import(import);
        names.push(name);
    }
    names
}

/// The same things of two modules.
fn ids<'a, T: 'a, I>(
    first: impl Iterator<Item = &'a T>,
    later: impl Iterator<Item = &'a T>,
    id: impl Fn(&T) -> I,
) -> Vec<(I, I)> {
    first.zip(later).map(|(one, other)| (id(one), id(other))).collect()
}

/// Of all that stands in tables, the later module puts in only what is its own.
fn put_into_tables(later: &mut Module, own: &HashSet<FunctionId>) -> Result<(), Error> {
    let old: Vec<_> = later
        .elements
        .iter()
        .map(|element| (element.id(), element.kind.clone(), functions_of(&element.items)))
        .collect();
    for (id, kind, functions) in old {
        later.elements.delete(id);
        let ElementKind::Active { table, offset: ConstExpr::Value(Value::I32(from)) } = kind else {
            return Err(refusal(
                "core",
                "functions in a table at no fixed place".to_string(),
                "functions that stand in tables from the beginning, at a number",
                "Teach src/site/split.rs what the new compiler or wasm-bindgen does.",
            ));
        };
        later.tables.get_mut(table).elem_segments.remove(&id);
        let places = (from..).zip(functions);
        for (at, function) in places.filter_map(|(at, function)| Some((at, function?))) {
            if !own.contains(&function) {
                continue;
            }
            let offset = ConstExpr::Value(Value::I32(at));
            let items = ElementItems::Functions(vec![function]);
            let added = later.elements.add(ElementKind::Active { table, offset }, items);
            later.tables.get_mut(table).elem_segments.insert(added);
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use walrus::{FunctionBuilder, RefType};

    /// `first()` calls `both()` and `cold()`, `late()` calls `both()` and `only()`; `both` and `cold` stand in a table.
    fn module() -> Vec<u8> {
        let mut module = Module::default();
        module.memories.add_local(false, false, 1, None, None);
        let mut made = |name: &str, calls: &[FunctionId], value: i32| {
            let mut builder = FunctionBuilder::new(&mut module.types, &[], &[]);
            builder.name(name.to_string());
            for id in calls {
                builder.func_body().call(*id);
            }
            builder.func_body().i32_const(value).drop();
            builder.finish(vec![], &mut module.funcs)
        };
        let both = made("shop::both::h0123456789abcdef", &[], 1);
        let cold = made("<shop[0123456789abcdef]::Cold>::cold", &[both], 2);
        let first = made("first", &[both, cold], 3);
        let only = made("only", &[], 4);
        let late = made("late", &[both, only], 5);
        module.exports.add("first", first);
        module.exports.add("late", late);
        let table = module.tables.add_local(false, 3, None, RefType::FUNCREF);
        let offset = ConstExpr::Value(Value::I32(1));
        let element = module
            .elements
            .add(ElementKind::Active { table, offset }, ElementItems::Functions(vec![both, cold]));
        module.tables.get_mut(table).elem_segments.insert(element);
        module.emit_wasm()
    }

    fn names<'a>(all: impl Iterator<Item = &'a str>) -> Vec<String> {
        let mut names: Vec<String> = all.map(String::from).collect();
        names.sort();
        names
    }

    #[test]
    fn each_part_has_what_the_other_asks_for_and_no_function_is_in_both() {
        let cut = Cut { exports: &["late"], names: &["shop::Cold>::cold"] };
        let parts = split(&module(), &cut).unwrap();
        let [first, later] =
            [&parts.first, &parts.later].map(|wasm| Module::from_buffer(wasm).unwrap());
        let of = |module: &Module, from: &str| {
            names(
                module.imports.iter().filter(|one| one.module == from).map(|one| one.name.as_str()),
            )
        };
        let asked_of_later = of(&first, LATER);
        assert_eq!(asked_of_later, parts.asked);
        assert_eq!(asked_of_later.len(), 1, "cold");
        let exported = |module: &Module| names(module.exports.iter().map(|one| one.name.as_str()));
        assert_eq!(exported(&later), names(["late", &parts.asked[0]].into_iter()));
        // `both`, and the table.
        let asked_of_first = of(&later, FIRST);
        assert_eq!(asked_of_first.len(), 2, "{asked_of_first:?}");
        let with_first: Vec<&str> =
            asked_of_first.iter().map(String::as_str).chain(["first"]).collect();
        assert_eq!(exported(&first), names(with_first.into_iter()));
        // first and both; cold, late and only.
        assert_eq!((first.funcs.iter_local().count(), later.funcs.iter_local().count()), (2, 3));
        // Of the table the later part fills the place of `cold` alone.
        let puts: Vec<_> =
            later.elements.iter().map(|one| (&one.kind, functions_of(&one.items).len())).collect();
        assert!(
            matches!(
                puts[..],
                [(ElementKind::Active { offset: ConstExpr::Value(Value::I32(2)), .. }, 1)]
            ),
            "{puts:?}"
        );
    }

    #[test]
    fn a_name_that_no_function_or_export_has_is_an_error() {
        for (cut, name) in [
            (Cut { exports: &["late"], names: &["shop::gone"] }, "shop::gone"),
            (Cut { exports: &["lost"], names: &[] }, "lost"),
        ] {
            let error = split(&module(), &cut).err().unwrap();
            assert_eq!((error.field.as_str(), error.value.as_str()), ("core", name));
        }
    }

    #[test]
    fn names_are_compared_without_the_compilers_hashes() {
        assert_eq!(plain("<core[c5930c85a12de822]::Big>::a[3]"), "<core::Big>::a[3]");
        assert_eq!(plain("a[c5930c85a12de82"), "a[c5930c85a12de82");
    }
}
