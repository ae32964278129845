//! The rules of the layers, over any tree: each gives its offences as lines to read.

use crate::graph::{Arrow, CRATES, Tree, circles};
use crate::parsing::{TestCode, facts};

/// The layers and the layers that each may use, besides itself.
pub const LAYERS: [(&str, &str, &[&str]); 9] = [
    ("core", "host/core/src/", &[]),
    ("app", "host/src/app/", &["core"]),
    ("store", "host/src/store/", &["core", "app"]),
    ("logger_link", "host/src/logger_link/", &["core", "app"]),
    ("view", "host/src/view/", &["core", "app"]),
    ("export_folder", "host/src/export_folder/", &["core", "app", "view"]),
    ("page", "host/src/page/", &["core", "app", "store", "logger_link", "view"]),
    ("demo", "host/src/demo/", &["core", "app", "store", "logger_link", "view"]),
    (
        "cli",
        "host/src/cli/",
        &["core", "app", "store", "logger_link", "view", "export_folder", "page", "demo"],
    ),
];

/// The subjects of the core: each may use those of the ranks before its own.
pub const CORE_RANKS: [&[&str]; 8] = [
    &["stats", "entries"],
    &["records"],
    &["studio"],
    &["sessions", "money"],
    &["hours", "care"],
    &["rugs", "parts", "slowing", "hand", "book"],
    &["heavy"],
    &["cloth"],
];

/// Pairs of one rank of which the first may use the second.
/// An amount of money is rounded by the number format of `stats`.
pub const ALLOWED_IN_A_RANK: [(&str, &str); 1] = [("entries", "stats")];

/// The subjects of the layers above the core.
pub const SUBJECTS: [&str; 15] = [
    "logger", "machines", "hours", "rugs", "care", "parts", "slowing", "heavy", "hand", "cloth", "money",
    "book", "keeping", "sessions", "today",
];

/// Folders that are ground for all subjects of their layer: others may reach into them.
pub const GROUND: [(&str, &[&str]); 3] =
    [("app", &["ports", "typed"]), ("view", &["words", "plot"]), ("cli", &["shell", "demo"])];

/// Files that stand right in a layer.
const RIGHT_IN_A_LAYER: [&str; 3] = ["app/mod.rs", "app/whole_book.rs", "view/mod.rs"];

/// The layer of a file, and the rest of its path below the layer.
fn layer(file: &str) -> Option<(&'static str, &str)> {
    LAYERS.iter().find_map(|(name, folder, _)| Some((*name, file.strip_prefix(folder)?)))
}

/// The subject of a file inside its layer: a folder, or a file by its own name.
fn subject(below: &str) -> &str {
    below.split('/').next().unwrap_or(below).trim_end_matches(".rs")
}

fn is_root(file: &str) -> bool {
    ["/mod.rs", "/lib.rs", "/main.rs"].iter().any(|name| file.ends_with(name))
}

fn ground(layer: &str) -> &'static [&'static str] {
    GROUND.iter().find(|(name, _)| *name == layer).map_or(&[], |(_, folders)| folders)
}

/// Tells the circles of the arrows between groups of files, each with its arrows.
fn told_circles<'a>(arrows: &'a [Arrow], group: impl Fn(&'a str) -> Option<String>) -> Vec<String> {
    let groups: Vec<(&Arrow, String, String)> = arrows
        .iter()
        .filter(|arrow| !arrow.to_below)
        .filter_map(|arrow| Some((arrow, group(&arrow.from)?, group(&arrow.to)?)))
        .filter(|(_, from, to)| from != to)
        .collect();
    let mut told = Vec::new();
    for circle in circles(groups.iter().map(|(_, from, to)| (from.as_str(), to.as_str()))) {
        told.push(format!("circle of {}: {}", circle.len(), circle.join(", ")));
        let inside = |name: &String| circle.contains(&name.as_str());
        let lines = groups.iter().filter(|(_, from, to)| inside(from) && inside(to));
        told.extend(lines.map(|(arrow, ..)| format!("  {arrow}")));
    }
    told
}

/// Circles of files.
pub fn circles_of_files(tree: &Tree) -> Vec<String> {
    told_circles(&tree.arrows(), |file| Some(file.to_owned()))
}

/// Circles of subjects inside a layer. The layer's own root is no subject.
pub fn circles_of_subjects(tree: &Tree) -> Vec<String> {
    let arrows: Vec<Arrow> = tree
        .arrows()
        .into_iter()
        .filter(|arrow| layer(&arrow.from).map(|it| it.0) == layer(&arrow.to).map(|it| it.0))
        .collect();
    told_circles(&arrows, |file| layer(file).map(|(layer, below)| format!("{layer}/{}", subject(below))))
}

/// Circles of layers, and of the crates where there are no layers.
pub fn circles_of_layers(tree: &Tree) -> Vec<String> {
    told_circles(&tree.arrows(), |file| {
        let of_crate = CRATES.iter().find(|(_, folder)| file.starts_with(folder)).map(|(name, _)| *name);
        layer(file).map(|(name, _)| name).or(of_crate).map(str::to_owned)
    })
}

/// Arrows from a layer to one that it may not use.
pub fn arrows_against_the_layers(tree: &Tree) -> Vec<String> {
    let offends = |arrow: &Arrow| {
        let Some((from, _)) = layer(&arrow.from) else { return false };
        let allowed = LAYERS.iter().find(|it| it.0 == from).map_or(&[][..], |it| it.2);
        match layer(&arrow.to) {
            Some((to, _)) => from != to && !allowed.contains(&to),
            None => {
                arrow.to.starts_with("host/src/") || from == "core" && !arrow.to.starts_with("shared-types/")
            }
        }
    };
    tree.arrows().iter().filter(|arrow| offends(arrow)).map(Arrow::to_string).collect()
}

fn rank(subject: &str) -> Option<usize> {
    CORE_RANKS.iter().position(|rank| rank.contains(&subject))
}

/// Arrows in the core from a subject to one that does not stand before it.
pub fn arrows_against_the_ranks(tree: &Tree) -> Vec<String> {
    let offends = |arrow: &Arrow| {
        let (Some(("core", from)), Some(("core", to))) = (layer(&arrow.from), layer(&arrow.to)) else {
            return false;
        };
        let (from, to) = (subject(from), subject(to));
        let before = matches!((rank(from), rank(to)), (Some(from), Some(to)) if to < from);
        from != "lib" && from != to && !before && !ALLOWED_IN_A_RANK.contains(&(from, to))
    };
    tree.arrows().iter().filter(|arrow| offends(arrow)).map(Arrow::to_string).collect()
}

/// Files whose folder is no subject of their layer.
pub fn files_without_a_subject<'a>(files: impl IntoIterator<Item = &'a str>) -> Vec<String> {
    let offends = |file: &str| {
        let Some((layer, below)) = layer(file) else { return false };
        let folder = below.split_once('/').map(|(folder, _)| folder);
        match (layer, folder) {
            ("core", Some(folder)) => rank(folder).is_none(),
            ("core", None) => !["lib.rs", "test_facts.rs"].contains(&below),
            ("app" | "view" | "cli", Some(folder)) => {
                !SUBJECTS.contains(&folder) && !ground(layer).contains(&folder)
            }
            ("app" | "view" | "cli", None) => {
                below != "mod.rs" && !RIGHT_IN_A_LAYER.contains(&format!("{layer}/{below}").as_str())
            }
            _ => false,
        }
    };
    files.into_iter().filter(|file| offends(file)).map(str::to_owned).collect()
}

/// Paths from one subject of app, view or cli into another, past its `mod.rs`.
pub fn paths_past_a_mod(tree: &Tree) -> Vec<String> {
    let offends = |arrow: &Arrow| {
        let Some((own_layer @ ("app" | "view" | "cli"), from)) = layer(&arrow.from) else { return false };
        arrow.through.iter().any(|passed| {
            let Some((passed_layer, below)) = layer(passed) else { return false };
            let other = subject(below);
            let below_its_mod = below.split_once('/').is_some_and(|(_, rest)| rest != "mod.rs");
            passed_layer == own_layer
                && other != subject(from)
                && below_its_mod
                && !ground(own_layer).contains(&other)
        })
    };
    tree.arrows()
        .iter()
        .filter(|arrow| !is_root_of_layer(&arrow.from) && offends(arrow))
        .map(Arrow::to_string)
        .collect()
}

fn is_root_of_layer(file: &str) -> bool {
    is_root(file) && layer(file).is_some_and(|(_, below)| !below.contains('/'))
}

/// The crates that the core may use, besides our own.
pub const CORE_CRATES: [&str; 14] = [
    "alloc",
    "core",
    "std",
    "jiff",
    "rand",
    "rand_chacha",
    "rand_distr",
    "serde",
    "serde_json",
    "sha2",
    "statrs",
    "strsim",
    "strum",
    "thiserror",
];

/// Parts of the standard library that reach the world.
const WORLDLY: [&[&str]; 8] = [
    &["fs"],
    &["io"],
    &["net"],
    &["process"],
    &["env"],
    &["thread"],
    &["time", "SystemTime"],
    &["time", "Instant"],
];

/// Paths of the core to crates that it may not use, and to the world.
pub fn the_core_reaching_out(tree: &Tree) -> Vec<String> {
    tree.outside()
        .into_iter()
        .filter(|used| used.from.starts_with("host/core/src/"))
        .filter(|used| match used.path.split_first() {
            Some((name, rest)) if ["std", "core", "alloc"].contains(&name.as_str()) => {
                WORLDLY.iter().any(|part| {
                    part.len() <= rest.len() && part.iter().zip(rest).all(|(worldly, own)| worldly == own)
                })
            }
            Some((name, _)) => !CORE_CRATES.contains(&name.as_str()),
            None => false,
        })
        .map(|used| format!("{}:{} {}", used.from, used.line, used.path.join("::")))
        .collect()
}

/// The crates in the `[dependencies]` of a manifest that the core may not use.
pub fn dependencies_that_the_core_may_not_have(manifest: &str) -> Vec<String> {
    manifest
        .lines()
        .skip_while(|line| line.trim() != "[dependencies]")
        .skip(1)
        .take_while(|line| !line.starts_with('['))
        .filter(|line| !line.trim().is_empty() && !line.trim_start().starts_with('#'))
        .filter_map(|line| line.split(['.', '=', ' ']).next())
        .map(|name| name.replace('-', "_"))
        .filter(|name| name != "shared_types" && !CORE_CRATES.contains(&name.as_str()))
        .collect()
}

/// Long paths in code that ought to be imports.
pub fn long_paths_in_code(file: &str, text: &str) -> Vec<String> {
    let found = facts(file, text, TestCode::Kept);
    let inlines = found.modules.iter().flat_map(|module| &module.inlines);
    inlines
        .filter(|inline| is_long(&inline.segments))
        .map(|inline| format!("{file}:{} {}", inline.line, inline.segments.join("::")))
        .collect()
}

fn is_long(segments: &[String]) -> bool {
    let is_type = |name: &String| name.starts_with(|first: char| first.is_uppercase());
    let item = segments.iter().position(is_type).unwrap_or(segments.len().saturating_sub(1));
    match segments.first().map(String::as_str) {
        Some("crate") => true,
        Some("super") => segments.get(1).is_some_and(|next| next == "super") || item > 2,
        Some(name) => item > 1 && CRATES.iter().any(|(own, _)| *own == name),
        None => false,
    }
}
