//! The rules of the layers, held over the project's own tree.

use std::sync::LazyLock;

use crate::graph::{CRATES, Tree};
use crate::rules;
use crate::source::{SourceFile, root, rust_sources};

static SOURCES: LazyLock<Vec<SourceFile>> =
    LazyLock::new(|| CRATES.iter().flat_map(|(_, folder)| rust_sources(folder)).collect());

static TREE: LazyLock<Tree> = LazyLock::new(|| {
    let texts: Vec<(&str, &str)> = SOURCES.iter().map(|file| (file.path.as_str(), file.text())).collect();
    Tree::of(&texts)
});

fn assert_none(rule: &str, offences: &[String]) {
    assert!(offences.is_empty(), "{rule}: {} lines\n  {}", offences.len(), offences.join("\n  "));
}

#[test]
fn the_graph_holds_every_layer() {
    for (layer, folder) in rules::LAYERS.iter().map(|it| (it.0, it.1)).filter(|it| it.0 != "page") {
        let files = TREE.files().iter().filter(|file| file.starts_with(folder)).count();
        assert!(files > 2, "{layer} has moved: {files} files in {folder}");
    }
    let arrows = TREE.arrows();
    assert!(arrows.len() > 300, "the graph has {} arrows only", arrows.len());
}

#[test]
fn no_files_use_each_other_in_a_circle() {
    assert_none("files in a circle", &rules::circles_of_files(&TREE));
}

#[test]
fn no_subjects_of_a_layer_use_each_other_in_a_circle() {
    assert_none("subjects in a circle", &rules::circles_of_subjects(&TREE));
}

#[test]
fn no_layers_and_no_crates_use_each_other_in_a_circle() {
    assert_none("layers in a circle", &rules::circles_of_layers(&TREE));
}

#[test]
fn each_layer_uses_only_those_below_it() {
    assert_none("against the layers", &rules::arrows_against_the_layers(&TREE));
}

#[test]
fn the_subjects_of_the_core_use_only_those_before_them() {
    assert_none("against the order in the core", &rules::arrows_against_the_ranks(&TREE));
}

#[test]
fn every_file_of_a_layer_stands_in_a_subject() {
    let offences = rules::files_without_a_subject(SOURCES.iter().map(|file| file.path.as_str()));
    assert_none("no subject of this layer", &offences);
}

#[test]
fn a_subject_is_used_through_its_mod_only() {
    assert_none("past a mod.rs", &rules::paths_past_a_mod(&TREE));
}

#[test]
fn the_core_uses_only_crates_that_reach_nothing() {
    assert_none("the core reaches out", &rules::the_core_reaching_out(&TREE));
    let manifest = std::fs::read_to_string(root().join("host/core/Cargo.toml")).expect("the core is a crate");
    assert_none("the core depends on", &rules::dependencies_that_the_core_may_not_have(&manifest));
}

#[test]
fn long_paths_stand_in_imports_only() {
    let offences: Vec<String> =
        SOURCES.iter().flat_map(|file| rules::long_paths_in_code(&file.path, file.text())).collect();
    assert_none("import it", &offences);
}
