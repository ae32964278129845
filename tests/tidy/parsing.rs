//! What one Rust file imports, declares and names.

use std::collections::BTreeSet;

use proc_macro2::{Delimiter, TokenStream, TokenTree};
use syn::spanned::Spanned;
use syn::visit::{self, Visit};

/// One leaf of a `use`.
#[derive(Clone, Debug)]
pub struct Import {
    /// The path of the leaf, without a `self` at its end.
    pub segments: Vec<String>,
    /// The name that it brings into scope; none for a glob and for `_`.
    pub bound: Option<String>,
    /// Whether it ends in `*`.
    pub glob: bool,
    /// Whether it is a re-export.
    pub public: bool,
    /// The line of the leaf.
    pub line: usize,
}

/// One path of two segments or more that stands outside every `use`.
#[derive(Clone, Debug)]
pub struct Inline {
    /// Its segments.
    pub segments: Vec<String>,
    /// The line on which it begins.
    pub line: usize,
}

/// One module as a file holds it: the file itself, or a `mod x { }` in it.
#[derive(Clone, Debug, Default)]
pub struct FoundModule {
    /// Its name; the file's own module has none.
    pub name: String,
    /// The module around it, by its place in the file.
    pub parent: Option<usize>,
    /// The names of what it defines.
    pub items: BTreeSet<String>,
    /// What it imports.
    pub imports: Vec<Import>,
    /// The paths written in its code.
    pub inlines: Vec<Inline>,
}

/// One `mod x;`.
#[derive(Clone, Debug)]
pub struct Declared {
    /// The module that declares it, by its place in the file.
    pub parent: usize,
    /// Its name.
    pub name: String,
    /// What `#[path = "..."]` says.
    pub path: Option<String>,
}

/// All that one file says.
#[derive(Clone, Debug)]
pub struct FileFacts {
    /// Its modules; the file's own is the first.
    pub modules: Vec<FoundModule>,
    /// The modules that stand in other files.
    pub declared: Vec<Declared>,
}

/// Whether the code that only tests compile is read too.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum TestCode {
    /// It is left out.
    LeftOut,
    /// It is read like all other code.
    Kept,
}

/// Reads one file. A file that is no Rust stops the test.
pub fn facts(path: &str, text: &str, tests: TestCode) -> FileFacts {
    let file = syn::parse_file(text).unwrap_or_else(|error| panic!("{path} does not parse: {error}"));
    let mut reader =
        Reader { modules: vec![FoundModule::default()], declared: Vec::new(), at: 0, depth: 0, tests };
    reader.visit_file(&file);
    FileFacts { modules: reader.modules, declared: reader.declared }
}

struct Reader {
    modules: Vec<FoundModule>,
    declared: Vec<Declared>,
    at: usize,
    /// How many functions stand around this place.
    depth: usize,
    tests: TestCode,
}

impl Reader {
    fn leaves_out(&self, attributes: &[syn::Attribute]) -> bool {
        self.tests == TestCode::LeftOut && attributes.iter().any(is_of_tests)
    }

    fn define(&mut self, name: &syn::Ident) {
        if self.depth == 0 {
            self.modules[self.at].items.insert(plain(name));
        }
    }

    fn path(&mut self, segments: Vec<String>, line: usize) {
        if segments.len() > 1 {
            self.modules[self.at].inlines.push(Inline { segments, line });
        }
    }

    fn leaves(&mut self, tree: &syn::UseTree, before: &[String], public: bool) {
        let line = tree.span().start().line;
        let mut leaf = |name: Option<&syn::Ident>, bound: Option<String>, glob| {
            let mut segments = before.to_vec();
            segments.extend(name.map(plain).filter(|name| name != "self" || before.is_empty()));
            self.modules[self.at].imports.push(Import { segments, bound, glob, public, line });
        };
        match tree {
            syn::UseTree::Path(path) => {
                self.leaves(&path.tree, &[before, &[plain(&path.ident)]].concat(), public)
            }
            syn::UseTree::Group(group) => {
                group.items.iter().for_each(|item| self.leaves(item, before, public))
            }
            syn::UseTree::Glob(_) => leaf(None, None, true),
            syn::UseTree::Name(name) => {
                let own = plain(&name.ident);
                let bound = if own == "self" { before.last().cloned() } else { Some(own) };
                leaf(Some(&name.ident), bound, false);
            }
            syn::UseTree::Rename(rename) => {
                let bound = Some(plain(&rename.rename)).filter(|name| name != "_");
                leaf(Some(&rename.ident), bound, false);
            }
        }
    }

    /// Paths in the words of a macro: names with `::` between them.
    fn words(&mut self, tokens: TokenStream) {
        let tokens: Vec<TokenTree> = tokens.into_iter().collect();
        let is = |at: usize, wanted: char| matches!(tokens.get(at), Some(TokenTree::Punct(mark)) if mark.as_char() == wanted);
        let mut at = 0;
        while at < tokens.len() {
            match &tokens[at] {
                TokenTree::Group(group) => self.words(group.stream()),
                TokenTree::Ident(first) => {
                    let after_mark =
                        at > 0 && (is(at - 1, '$') || is(at - 1, ':') && at > 1 && is(at - 2, ':'));
                    let line = first.span().start().line;
                    let mut segments = vec![plain(first)];
                    while let (true, true, Some(TokenTree::Ident(next))) =
                        (is(at + 1, ':'), is(at + 2, ':'), tokens.get(at + 3))
                    {
                        segments.push(plain(next));
                        at += 3;
                    }
                    if !after_mark {
                        self.path(segments, line);
                    }
                }
                _ => {}
            }
            at += 1;
        }
    }
}

impl<'ast> Visit<'ast> for Reader {
    fn visit_item(&mut self, item: &'ast syn::Item) {
        use syn::Item;
        let (attributes, name) = match item {
            Item::Const(it) => (&it.attrs, Some(&it.ident)),
            Item::Enum(it) => (&it.attrs, Some(&it.ident)),
            Item::Fn(it) => (&it.attrs, Some(&it.sig.ident)),
            Item::Macro(it) => (&it.attrs, it.ident.as_ref()),
            Item::Static(it) => (&it.attrs, Some(&it.ident)),
            Item::Struct(it) => (&it.attrs, Some(&it.ident)),
            Item::Trait(it) => (&it.attrs, Some(&it.ident)),
            Item::TraitAlias(it) => (&it.attrs, Some(&it.ident)),
            Item::Type(it) => (&it.attrs, Some(&it.ident)),
            Item::Union(it) => (&it.attrs, Some(&it.ident)),
            Item::Mod(it) => (&it.attrs, None),
            Item::Use(it) => (&it.attrs, None),
            Item::Impl(it) => (&it.attrs, None),
            _ => return visit::visit_item(self, item),
        };
        if self.leaves_out(attributes) {
            return;
        }
        if let Some(name) = name {
            self.define(name);
        }
        visit::visit_item(self, item);
    }

    fn visit_item_mod(&mut self, module: &'ast syn::ItemMod) {
        let name = plain(&module.ident);
        let Some((_, items)) = &module.content else {
            let path = module.attrs.iter().find_map(told_path);
            self.declared.push(Declared { parent: self.at, name, path });
            return;
        };
        let around = self.at;
        self.modules.push(FoundModule { name, parent: Some(around), ..FoundModule::default() });
        self.at = self.modules.len() - 1;
        items.iter().for_each(|item| self.visit_item(item));
        self.at = around;
    }

    fn visit_item_use(&mut self, item: &'ast syn::ItemUse) {
        self.leaves(&item.tree, &[], !matches!(item.vis, syn::Visibility::Inherited));
    }

    fn visit_impl_item_fn(&mut self, function: &'ast syn::ImplItemFn) {
        if !self.leaves_out(&function.attrs) {
            visit::visit_impl_item_fn(self, function);
        }
    }

    fn visit_field(&mut self, field: &'ast syn::Field) {
        if !self.leaves_out(&field.attrs) {
            visit::visit_field(self, field);
        }
    }

    fn visit_block(&mut self, block: &'ast syn::Block) {
        self.depth += 1;
        visit::visit_block(self, block);
        self.depth -= 1;
    }

    fn visit_path(&mut self, path: &'ast syn::Path) {
        let segments = path.segments.iter().map(|segment| plain(&segment.ident)).collect();
        self.path(segments, path.span().start().line);
        visit::visit_path(self, path);
    }

    fn visit_macro(&mut self, called: &'ast syn::Macro) {
        self.visit_path(&called.path);
        self.words(called.tokens.clone());
    }

    fn visit_attribute(&mut self, attribute: &'ast syn::Attribute) {
        if let (true, syn::Meta::List(list)) = (attribute.path().is_ident("derive"), &attribute.meta) {
            self.words(list.tokens.clone());
        }
    }

    fn visit_visibility(&mut self, _: &'ast syn::Visibility) {}
}

fn plain(name: &syn::Ident) -> String {
    name.to_string().trim_start_matches("r#").to_owned()
}

/// `#[test]`, `#[rstest]`, `#[cfg(test)]` and `#[cfg(all(test, ...))]`.
fn is_of_tests(attribute: &syn::Attribute) -> bool {
    if attribute.path().is_ident("test") || attribute.path().is_ident("rstest") {
        return true;
    }
    match &attribute.meta {
        syn::Meta::List(list) if list.path.is_ident("cfg") => asks_for_tests(list.tokens.clone()),
        _ => false,
    }
}

fn asks_for_tests(condition: TokenStream) -> bool {
    let words: Vec<TokenTree> = condition.into_iter().collect();
    match words.as_slice() {
        [TokenTree::Ident(word)] => word == "test",
        [TokenTree::Ident(word), TokenTree::Group(group)]
            if word == "all" && group.delimiter() == Delimiter::Parenthesis =>
        {
            group.stream().into_iter().any(|word| matches!(word, TokenTree::Ident(word) if word == "test"))
        }
        _ => false,
    }
}

fn told_path(attribute: &syn::Attribute) -> Option<String> {
    match &attribute.meta {
        syn::Meta::NameValue(pair) if pair.path.is_ident("path") => match &pair.value {
            syn::Expr::Lit(syn::ExprLit { lit: syn::Lit::Str(text), .. }) => Some(text.value()),
            _ => None,
        },
        _ => None,
    }
}
