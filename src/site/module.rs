//! One module as the bundle needs it: what it imports and exports, which names it uses, and its text under other names.
//!
//! Not understood, and so an error: `export default`, `import … from` with a default or a namespace, `export *`. What a
//! module exports may change later (`export let`): in a bundle it is one variable under one name.

use std::collections::{BTreeMap, BTreeSet};

use oxc::allocator::Vec as InArena;
use oxc::ast::ast::{
    ArrowFunctionExpression, AwaitExpression, BindingIdentifier, Declaration, ForOfStatement,
    Function, ImportDeclarationSpecifier, Program, Statement,
};
use oxc::ast_visit::{Visit, walk};
use oxc::codegen::{Codegen, CodegenOptions, CommentOptions};
use oxc::semantic::{ScopeFlags, Scoping, SemanticBuilder};
use oxc::span::{GetSpan, Span};
use stallheat::error::Error;

use super::script::{Address, Use, addresses, refusal, with_syntax};

/// A name and the module that has it.
pub type Named = (String, String);

/// What one module says about itself.
#[derive(Debug)]
pub struct Module {
    pub name: String,
    text: String,
    pub addresses: Vec<Address>,
    /// Names that stand for those of other modules, with where they are used first, in bytes.
    pub borrowed: BTreeMap<String, (Named, usize)>,
    /// Names for others: of its own, borrowed ones among them, or passed on from another module.
    pub exports: BTreeMap<String, Export>,
    /// Names that it declares for all of itself.
    pub own: BTreeSet<String>,
    /// Names that it declares within functions and blocks.
    pub inner: BTreeSet<String>,
    /// Names of the browser.
    pub foreign: BTreeSet<String>,
    /// Where it waits before those that import it may run, in bytes.
    pub waits: Option<usize>,
}

/// What a module exports under a name.
#[derive(Debug, Clone)]
pub enum Export {
    Own(String),
    Of(Named),
}

impl Module {
    /// Reads the module `name`; `exists` says which files there are.
    pub fn read(name: &str, text: &str, exists: impl Fn(&str) -> bool) -> Result<Module, Error> {
        let addresses = addresses(name, text, exists)?;
        with_syntax(name, text, |_, program| {
            let checked = SemanticBuilder::new().with_check_syntax_error(true).build(&program);
            if let Some(wrong) = checked.errors.first() {
                let at = wrong.labels.iter().flatten().next().map_or(0, |label| label.offset());
                let limit = format!("JavaScript that can be run ({})", wrong.message);
                return Err(refusal(name, text, at, &limit, "Mend the script."));
            }
            let mut module = Module {
                name: name.to_string(),
                text: text.to_string(),
                addresses,
                borrowed: BTreeMap::new(),
                exports: BTreeMap::new(),
                own: BTreeSet::new(),
                inner: BTreeSet::new(),
                foreign: BTreeSet::new(),
                waits: None,
            };
            module.take_links(&program)?;
            module.take_names(checked.semantic.scoping())?;
            let mut waiting = Waiting(None);
            waiting.visit_program(&program);
            module.waits = waiting.0.map(|span| span.start as usize);
            Ok(module)
        })
    }

    /// An error about this module at the byte `start`.
    pub fn refusal(&self, start: usize, limit: &str, remedy: &str) -> Error {
        refusal(&self.name, &self.text, start, limit, remedy)
    }

    /// The modules that run before it, in order.
    pub fn imports(&self) -> impl Iterator<Item = &str> {
        self.used(Use::Import)
    }

    pub fn used(&self, how: Use) -> impl Iterator<Item = &str> {
        self.addresses.iter().filter(move |one| one.how == how).map(|one| one.target.as_str())
    }

    fn take_links(&mut self, program: &Program) -> Result<(), Error> {
        // Their addresses come in the order of the text, as the statements do.
        let imports: Vec<String> = self.imports().map(String::from).collect();
        let mut imports = imports.into_iter();
        for statement in &program.body {
            let at = statement.span().start as usize;
            match statement {
                Statement::ImportDeclaration(import) => {
                    let from = imports.next().unwrap_or_default();
                    for one in import.specifiers.iter().flatten() {
                        let ImportDeclarationSpecifier::ImportSpecifier(one) = one else {
                            return Err(self.not_bundled(one.span()));
                        };
                        let named = (from.clone(), one.imported.name().to_string());
                        self.borrowed.insert(one.local.name.to_string(), (named, at));
                    }
                }
                Statement::ExportNamedDeclaration(export) => {
                    let from = export.source.as_ref().and_then(|_| imports.next());
                    for one in &export.specifiers {
                        let local = one.local.name().to_string();
                        let held = match &from {
                            Some(from) => Export::Of((from.clone(), local)),
                            None => Export::Own(local),
                        };
                        self.exports.insert(one.exported.name().to_string(), held);
                    }
                    if let Some(declared) = &export.declaration {
                        let mut names = Declared(vec![]);
                        names.visit_declaration(declared);
                        for name in names.0 {
                            self.exports.insert(name.clone(), Export::Own(name));
                        }
                    }
                }
                Statement::ExportAllDeclaration(_) | Statement::ExportDefaultDeclaration(_) => {
                    return Err(self.not_bundled(statement.span()));
                }
                _ => {}
            }
        }
        Ok(())
    }

    fn not_bundled(&self, at: Span) -> Error {
        let limit = "names imported and exported one by one, none of them default";
        let remedy = "Give what is exported a name and import it by that name.";
        self.refusal(at.start as usize, limit, remedy)
    }

    fn take_names(&mut self, scoping: &Scoping) -> Result<(), Error> {
        for symbol in scoping.symbol_ids() {
            let name = scoping.symbol_name(symbol).to_string();
            if scoping.symbol_scope_id(symbol) != scoping.root_scope_id() {
                self.inner.insert(name);
            } else if !self.borrowed.contains_key(&name) {
                self.own.insert(name);
            } else if let Some(again) = scoping.symbol_redeclarations(symbol).last() {
                let limit = "a name that is not imported as well";
                return Err(self.refusal(again.span.start as usize, limit, "Change the name."));
            }
        }
        self.foreign =
            scoping.root_unresolved_references().keys().map(|name| name.to_string()).collect();
        Ok(())
    }

    /// Its text without imports and exports, with the names that `renamed` gives for its own and borrowed ones.
    pub fn written(&self, renamed: impl Fn(&str) -> String) -> Result<String, Error> {
        with_syntax(&self.name, &self.text, |allocator, mut program| {
            let mut scoping = SemanticBuilder::new().build(&program).semantic.into_scoping();
            let root: Vec<_> = scoping.iter_bindings_in(scoping.root_scope_id()).collect();
            for symbol in root {
                let name = renamed(scoping.symbol_name(symbol));
                scoping.set_symbol_name(symbol, &name);
            }
            let body = std::mem::replace(&mut program.body, InArena::new_in(allocator));
            for statement in body {
                match statement {
                    Statement::ImportDeclaration(_) => {}
                    Statement::ExportNamedDeclaration(export) => {
                        program.body.extend(export.unbox().declaration.map(Statement::from));
                    }
                    other => program.body.push(other),
                }
            }
            let options =
                CodegenOptions { comments: CommentOptions::disabled(), ..Default::default() };
            Ok(Codegen::new()
                .with_options(options)
                .with_scoping(Some(scoping))
                .build(&program)
                .code)
        })
    }
}

/// The names that a declaration declares for all of the module.
struct Declared(Vec<String>);

impl<'a> Visit<'a> for Declared {
    fn visit_declaration(&mut self, it: &Declaration<'a>) {
        match it {
            Declaration::VariableDeclaration(variables) => {
                for one in &variables.declarations {
                    self.visit_binding_pattern(&one.id);
                }
            }
            _ => self.0.extend(it.id().map(|id| id.name.to_string())),
        }
    }

    fn visit_binding_identifier(&mut self, it: &BindingIdentifier<'a>) {
        self.0.push(it.name.to_string());
    }

    // What stands in for a value that is missing declares nothing.
    fn visit_function(&mut self, _: &Function<'a>, _: ScopeFlags) {}
    fn visit_arrow_function_expression(&mut self, _: &ArrowFunctionExpression<'a>) {}
}

/// The first place at which a module itself waits.
struct Waiting(Option<Span>);

impl<'a> Visit<'a> for Waiting {
    fn visit_await_expression(&mut self, it: &AwaitExpression<'a>) {
        self.0.get_or_insert(it.span);
    }

    fn visit_for_of_statement(&mut self, it: &ForOfStatement<'a>) {
        if it.r#await {
            self.0.get_or_insert(it.span);
        }
        walk::walk_for_of_statement(self, it);
    }

    fn visit_function(&mut self, _: &Function<'a>, _: ScopeFlags) {}
    fn visit_arrow_function_expression(&mut self, _: &ArrowFunctionExpression<'a>) {}
}
