//! The graph of files: who imports from whom, to the file that defines what is imported.

use std::collections::{BTreeMap, BTreeSet};

use petgraph::algo::kosaraju_scc;
use petgraph::graphmap::DiGraphMap;

use crate::parsing::{FileFacts, FoundModule, Import, TestCode, facts};

/// The crates of the workspace and where their sources stand.
pub const CRATES: [(&str, &str); 5] = [
    ("shared_types", "shared-types/src/"),
    ("firmware", "firmware/src/"),
    ("firmware_pico", "firmware/pico/src/"),
    ("host_core", "host/core/src/"),
    ("host", "host/src/"),
];

/// One module of the tree.
#[derive(Debug)]
struct Module {
    file: usize,
    root: usize,
    parent: Option<usize>,
    children: BTreeMap<String, usize>,
    found: FoundModule,
}

/// What a path names.
#[derive(Clone, Debug, PartialEq, Eq)]
enum Target {
    Module(usize),
    /// An item of this module.
    Item(usize),
    /// Something of a crate that is not ours, by its whole path.
    Outside(Vec<String>),
}

/// One file that uses another.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Arrow {
    /// The file that names the item.
    pub from: String,
    /// The file that defines it.
    pub to: String,
    /// The line on which it is named.
    pub line: usize,
    /// The path as it is written.
    pub path: String,
    /// Whether `from` holds the folder in which `to` stands.
    pub to_below: bool,
    /// The files of the modules through which the written path goes before its last step.
    pub through: Vec<String>,
}

impl std::fmt::Display for Arrow {
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(out, "{} -> {} ({}:{} {})", self.from, self.to, self.from, self.line, self.path)
    }
}

/// One path to a crate that is not ours.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Outside {
    /// The file that names it.
    pub from: String,
    /// The line on which it is named.
    pub line: usize,
    /// The whole path, from the crate's name on.
    pub path: Vec<String>,
}

/// All modules of all crates.
#[derive(Debug, Default)]
pub struct Tree {
    files: Vec<String>,
    modules: Vec<Module>,
    roots: BTreeMap<String, usize>,
}

/// A path with the place where it is written.
struct Written<'a> {
    module: usize,
    segments: &'a [String],
    line: usize,
    import: Option<&'a Import>,
}

/// Where a path leads, and the modules that it goes through.
struct Walk {
    target: Target,
    through: Vec<usize>,
}

type Guard = BTreeSet<(usize, Vec<String>)>;

impl Tree {
    /// The tree of these files, each given by its path from the root and its text.
    pub fn of(sources: &[(&str, &str)]) -> Self {
        let texts: BTreeMap<&str, &str> = sources.iter().copied().collect();
        let mut tree = Self::default();
        for (name, folder) in CRATES {
            for root in ["lib.rs", "main.rs"] {
                let path = format!("{folder}{root}");
                if let Some(module) = tree.load(&path, &texts, None) {
                    tree.roots.entry(name.to_owned()).or_insert(module);
                }
            }
        }
        tree
    }

    /// The files that some root loads.
    pub fn files(&self) -> &[String] {
        &self.files
    }

    fn load(&mut self, path: &str, texts: &BTreeMap<&str, &str>, parent: Option<usize>) -> Option<usize> {
        let text = texts.get(path)?;
        if self.files.iter().any(|file| file == path) {
            return None;
        }
        let FileFacts { modules, declared } = facts(path, text, TestCode::LeftOut);
        self.files.push(path.to_owned());
        let file = self.files.len() - 1;
        let first = self.modules.len();
        for found in modules {
            let at = self.modules.len();
            let parent = found.parent.map_or(parent, |inside| Some(first + inside));
            let root = parent.map_or(at, |parent| self.modules[parent].root);
            if let (Some(parent), false) = (parent, at == first) {
                self.modules[parent].children.insert(found.name.clone(), at);
            }
            self.modules.push(Module { file, root, parent, children: BTreeMap::new(), found });
        }
        for child in declared {
            let candidates =
                self.places(path, first + child.parent, first, &child.name, child.path.as_deref());
            let loaded =
                candidates.iter().find_map(|place| self.load(place, texts, Some(first + child.parent)));
            if let Some(loaded) = loaded {
                self.modules[first + child.parent].children.insert(child.name, loaded);
            }
        }
        Some(first)
    }

    /// Where the file of a declared module may stand.
    fn places(&self, path: &str, parent: usize, first: usize, name: &str, told: Option<&str>) -> Vec<String> {
        let (folder, file) = path.rsplit_once('/').unwrap_or(("", path));
        if let Some(told) = told {
            return vec![joined(folder, told)];
        }
        let mut below = match file {
            "lib.rs" | "main.rs" | "mod.rs" => folder.to_owned(),
            _ => path.trim_end_matches(".rs").to_owned(),
        };
        let mut inside = Vec::new();
        let mut at = parent;
        while at != first {
            inside.push(self.modules[at].found.name.clone());
            at = self.modules[at].parent.unwrap_or(first);
        }
        for name in inside.iter().rev() {
            below = format!("{below}/{name}");
        }
        vec![format!("{below}/{name}.rs"), format!("{below}/{name}/mod.rs")]
    }

    fn walk(&self, module: usize, segments: &[String], guard: &mut Guard) -> Option<Walk> {
        if !guard.insert((module, segments.to_vec())) {
            return None;
        }
        let (first, rest) = segments.split_first()?;
        let mut target = match first.as_str() {
            "crate" => Target::Module(self.modules[module].root),
            "self" => Target::Module(module),
            "super" => Target::Module(self.modules[module].parent?),
            name => self
                .named(module, name, rest.is_empty(), guard)
                .or_else(|| self.roots.get(name).map(|root| Target::Module(*root)))
                .unwrap_or_else(|| Target::Outside(vec![name.to_owned()])),
        };
        let mut through = Vec::new();
        for (number, name) in rest.iter().enumerate() {
            target = match target {
                Target::Module(at) => {
                    through.push(at);
                    match name.as_str() {
                        "super" => Target::Module(self.modules[at].parent?),
                        "self" => Target::Module(at),
                        _ => self.named(at, name, number + 1 == rest.len(), guard)?,
                    }
                }
                Target::Item(at) => Target::Item(at),
                Target::Outside(path) => Target::Outside([path, vec![name.clone()]].concat()),
            };
        }
        Some(Walk { target, through })
    }

    /// What a name means in a module: its own, imported by name, imported by a glob.
    fn named(&self, at: usize, name: &str, last: bool, guard: &mut Guard) -> Option<Target> {
        let module = &self.modules[at];
        let item = module.found.items.contains(name).then_some(Target::Item(at));
        let child = module.children.get(name).map(|child| Target::Module(*child));
        let own = if last { item.or(child) } else { child.or(item) };
        own.or_else(|| {
            let mut named =
                module.found.imports.iter().filter(|import| import.bound.as_deref() == Some(name));
            named.find_map(|import| self.walk(at, &import.segments, guard)).map(|walk| walk.target)
        })
        .or_else(|| {
            let mut globs = module.found.imports.iter().filter(|import| import.glob);
            globs.find_map(|import| {
                let mut own = guard.clone();
                own.insert((at, vec![name.to_owned()]));
                match self.walk(at, &import.segments, &mut own)?.target {
                    Target::Module(below) if guard.insert((below, vec!["*".to_owned(), name.to_owned()])) => {
                        self.named(below, name, last, guard)
                    }
                    _ => None,
                }
            })
        })
    }

    fn written(&self) -> impl Iterator<Item = Written<'_>> {
        self.modules.iter().enumerate().flat_map(|(module, it)| {
            let imports = it.found.imports.iter().map(move |import| Written {
                module,
                segments: &import.segments,
                line: import.line,
                import: Some(import),
            });
            let inlines = it.found.inlines.iter().map(move |inline| Written {
                module,
                segments: &inline.segments,
                line: inline.line,
                import: None,
            });
            imports.chain(inlines)
        })
    }

    /// Whether some path of the file begins with the name that this import brings.
    fn is_reached_through(&self, written: &Written<'_>, import: &Import) -> bool {
        let Some(name) = &import.bound else { return false };
        let found = &self.modules[written.module].found;
        let inlines = found.inlines.iter().map(|inline| &inline.segments);
        let imports = found.imports.iter().map(|other| &other.segments);
        inlines.chain(imports).any(|path| {
            path.len() > 1
                && path.first() == Some(name)
                && self
                    .walk(written.module, path, &mut Guard::new())
                    .is_some_and(|walk| !matches!(walk.target, Target::Outside(_)))
        })
    }

    /// Every arrow from file to file, in order.
    pub fn arrows(&self) -> Vec<Arrow> {
        let mut arrows: Vec<Arrow> = self.written().filter_map(|written| self.arrow(&written)).collect();
        arrows.sort();
        arrows.dedup();
        arrows
    }

    fn arrow(&self, written: &Written<'_>) -> Option<Arrow> {
        let from = &self.modules[written.module];
        let walk = self.walk(written.module, written.segments, &mut Guard::new())?;
        let (to, is_module) = match walk.target {
            Target::Module(to) => (to, true),
            Target::Item(to) => (to, false),
            Target::Outside(_) => return None,
        };
        let mut through = walk.through;
        if let Some(import) = written.import {
            if import.public && !from.children.is_empty() {
                return None;
            }
            if import.glob && is_module {
                through.push(to);
            } else if is_module && self.is_reached_through(written, import) {
                return None;
            }
        }
        let to_file = self.modules[to].file;
        (to_file != from.file).then(|| Arrow {
            from: self.files[from.file].clone(),
            to: self.files[to_file].clone(),
            line: written.line,
            path: text_of(written),
            to_below: self.is_above(from.file, to),
            through: through.iter().map(|at| self.files[self.modules[*at].file].clone()).collect(),
        })
    }

    fn is_above(&self, file: usize, below: usize) -> bool {
        let mut at = self.modules[below].parent;
        while let Some(module) = at {
            if self.modules[module].file == file {
                return true;
            }
            at = self.modules[module].parent;
        }
        false
    }

    /// Every path to a crate that is not ours.
    pub fn outside(&self) -> Vec<Outside> {
        self.written()
            .filter_map(|written| {
                let Target::Outside(path) =
                    self.walk(written.module, written.segments, &mut Guard::new())?.target
                else {
                    return None;
                };
                let is_crate = path.first()?.starts_with(|first: char| first.is_ascii_lowercase())
                    && !PRIMITIVES.contains(&path.first()?.as_str());
                (written.import.is_some() || is_crate).then(|| Outside {
                    from: self.files[self.modules[written.module].file].clone(),
                    line: written.line,
                    path,
                })
            })
            .collect()
    }
}

const PRIMITIVES: [&str; 17] = [
    "u8", "u16", "u32", "u64", "u128", "usize", "i8", "i16", "i32", "i64", "i128", "isize", "f32", "f64",
    "bool", "char", "str",
];

fn text_of(written: &Written<'_>) -> String {
    let path = written.segments.join("::");
    if written.import.is_some_and(|import| import.glob) { format!("{path}::*") } else { path }
}

fn joined(folder: &str, told: &str) -> String {
    let mut parts: Vec<&str> = folder.split('/').collect();
    for part in told.split('/') {
        match part {
            "." => {}
            ".." => drop(parts.pop()),
            _ => parts.push(part),
        }
    }
    parts.join("/")
}

/// The circles of a set of arrows: each a sorted list of names.
pub fn circles<'a>(arrows: impl IntoIterator<Item = (&'a str, &'a str)>) -> Vec<Vec<&'a str>> {
    let graph: DiGraphMap<&str, ()> = arrows.into_iter().filter(|(from, to)| from != to).collect();
    let mut found: Vec<Vec<&str>> = kosaraju_scc(&graph).into_iter().filter(|part| part.len() > 1).collect();
    found.iter_mut().for_each(|part| part.sort_unstable());
    found.sort();
    found
}
