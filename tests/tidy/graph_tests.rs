use crate::graph::{Arrow, Tree, circles};
use crate::rules;

fn pairs(sources: &[(&str, &str)]) -> Vec<String> {
    let told = |file: &str| file.rsplit_once("src/").map_or(file, |(_, rest)| rest).to_owned();
    let mut pairs: Vec<String> = Tree::of(sources)
        .arrows()
        .iter()
        .map(|Arrow { from, to, .. }| format!("{} -> {}", told(from), told(to)))
        .collect();
    pairs.dedup();
    pairs
}

const LIB: &str = "host/core/src/lib.rs";
const A: &str = "host/core/src/a.rs";
const B: &str = "host/core/src/b.rs";

#[test]
fn an_import_is_an_arrow_to_the_file_that_defines_the_item() {
    let care = [
        (LIB, "pub mod care; mod a;"),
        ("host/core/src/care/mod.rs", "mod plan; pub mod due; pub use plan::{Task as Job}; pub use due::*;"),
        ("host/core/src/care/plan.rs", "pub struct Task;"),
        ("host/core/src/care/due.rs", "pub fn due() {}"),
    ];
    let with = |text| pairs(&[care.as_slice(), &[(A, text)]].concat());
    assert_eq!(with("use crate::care::Job;"), ["a.rs -> care/plan.rs"]);
    assert_eq!(with("use super::care::due;"), ["a.rs -> care/due.rs"]);
    assert_eq!(with("use super::care; fn f() { let _ = care::Job; }"), ["a.rs -> care/plan.rs"]);
    assert_eq!(with("use super::care::*;"), ["a.rs -> care/mod.rs"]);
    assert_eq!(with("use super::care::{self};"), ["a.rs -> care/mod.rs"]);
    assert_eq!(with("fn f() { use super::care::Job as Work; }"), ["a.rs -> care/plan.rs"]);
    assert_eq!(with("fn f() { println!(\"{}\", crate::care::Job::X); }"), ["a.rs -> care/plan.rs"]);
    assert_eq!(with("use super::care as c; type T = Vec<c::Job>;"), ["a.rs -> care/plan.rs"]);
    assert_eq!(with("use std::fmt;"), Vec::<String>::new());
}

#[test]
fn what_only_tests_compile_is_left_out() {
    let lib = "mod b; mod a; #[cfg(test)] mod c;";
    let a = "#[cfg(test)] use super::b::X; #[cfg(test)] mod tests { use super::super::b::X; } #[test] fn t() { crate::b::X; }";
    let found =
        pairs(&[(LIB, lib), (A, a), (B, "pub struct X;"), ("host/core/src/c.rs", "use crate::b::X;")]);
    assert_eq!(found, Vec::<String>::new());
    let kept = "#[cfg(not(test))] use super::b::X;";
    assert_eq!(pairs(&[(LIB, lib), (A, kept), (B, "pub struct X;")]), ["a.rs -> b.rs"]);
}

#[test]
fn a_module_is_found_by_its_told_path_and_in_an_inline_module() {
    let lib = "#[path = \"far/../b.rs\"] mod near; mod inside { pub mod deep; } mod a;";
    let a = "use super::near::X; use crate::inside::deep::Y;";
    let deep = ("host/core/src/inside/deep.rs", "pub struct Y;");
    assert_eq!(
        pairs(&[(LIB, lib), (A, a), (B, "pub struct X;"), deep]),
        ["a.rs -> b.rs", "a.rs -> inside/deep.rs"]
    );
}

#[test]
fn other_crates_of_ours_are_reached_and_re_exports_in_a_loop_end() {
    let shared = ("shared-types/src/lib.rs", "mod record; pub use record::Record;");
    let record = ("shared-types/src/record.rs", "pub struct Record;");
    let lib = (LIB, "mod a; mod b; pub use a::*; pub use b::*;");
    let a = (A, "pub use super::b::*; pub use super::b::Nobody; use shared_types::Record;");
    let b = (B, "pub use super::a::*; pub use super::a::Nobody; use super::Nothing;");
    assert_eq!(pairs(&[shared, record, lib, a, b]), ["a.rs -> b.rs", "a.rs -> record.rs", "b.rs -> a.rs"]);
}

#[test]
fn circles_are_told_with_their_arrows() {
    assert_eq!(circles([("a", "b"), ("b", "c"), ("c", "a"), ("c", "d")]), [vec!["a", "b", "c"]]);
    let lib = (LIB, "mod a; mod b;");
    let circle = rules::circles_of_files(&Tree::of(&[
        lib,
        (A, "use super::b::Y;\npub struct X;"),
        (B, "use super::a::X; pub struct Y;"),
    ]));
    assert_eq!(circle.len(), 3, "{circle:?}");
    assert!(
        circle[1].ends_with("host/core/src/a.rs -> host/core/src/b.rs (host/core/src/a.rs:1 super::b::Y)")
    );
    let own_mod = [(LIB, "mod a; pub struct Z; fn f() { a::x(); }"), (A, "use super::Z; pub fn x() {}")];
    assert_eq!(rules::circles_of_files(&Tree::of(&own_mod)), Vec::<String>::new());
}

#[test]
fn subjects_in_a_circle_are_found() {
    let tree = Tree::of(&[
        (LIB, "mod hours; mod care;"),
        ("host/core/src/hours/mod.rs", "mod x; mod y; pub use y::Y; pub use x::X;"),
        ("host/core/src/hours/x.rs", "use crate::care::C; pub struct X;"),
        ("host/core/src/hours/y.rs", "pub struct Y;"),
        ("host/core/src/care/mod.rs", "mod c; mod d; pub use c::C;"),
        ("host/core/src/care/c.rs", "pub struct C;"),
        ("host/core/src/care/d.rs", "use crate::hours::Y;"),
    ]);
    assert_eq!(rules::circles_of_files(&tree), Vec::<String>::new());
    assert!(rules::circles_of_subjects(&tree)[0].contains("core/care, core/hours"));
    assert_eq!(rules::arrows_against_the_ranks(&tree).len(), 2);
}

#[test]
fn the_order_in_the_core_is_one_way() {
    let with = |cloth: &str, stats: &str| {
        rules::arrows_against_the_ranks(&Tree::of(&[
            (LIB, "mod stats; mod cloth;"),
            ("host/core/src/stats/mod.rs", stats),
            ("host/core/src/cloth/mod.rs", cloth),
        ]))
        .len()
    };
    assert_eq!(with("use crate::stats::X;", "pub struct X;"), 0);
    assert_eq!(with("pub struct X;", "use crate::cloth::X;"), 1);
}

const HOST: (&str, &str) = ("host/src/lib.rs", "pub mod app; pub mod store; pub mod view;");

#[test]
fn an_arrow_to_a_layer_above_is_found() {
    let with = |app: &str, view: &str| {
        let files = [
            HOST,
            ("host/src/app/mod.rs", app),
            ("host/src/store/mod.rs", "pub struct S;"),
            ("host/src/view/mod.rs", view),
        ];
        let tree = Tree::of(&files);
        (rules::arrows_against_the_layers(&tree).len(), rules::circles_of_layers(&tree).len())
    };
    assert_eq!(with("pub struct A;", "use crate::app::A;"), (0, 0));
    assert_eq!(with("use crate::store::S;", ""), (1, 0));
    assert_eq!(with("", "use crate::store::S;"), (1, 0));
    assert_eq!(with("use crate::view::V; pub struct A;", "use crate::app::A; pub struct V;"), (1, 3));
}

#[test]
fn a_path_past_the_mod_of_another_subject_is_found() {
    let with = |rugs: &str| {
        rules::paths_past_a_mod(&Tree::of(&[
            HOST,
            ("host/src/app/mod.rs", "pub mod care; pub mod rugs; pub mod typed;"),
            ("host/src/app/care/mod.rs", "pub mod plan; pub use plan::Task;"),
            ("host/src/app/care/plan.rs", "pub struct Task;"),
            ("host/src/app/typed/mod.rs", "pub mod day;"),
            ("host/src/app/typed/day.rs", "pub struct Day;"),
            ("host/src/app/rugs/mod.rs", "mod sheet;"),
            ("host/src/app/rugs/sheet.rs", rugs),
        ]))
        .len()
    };
    assert_eq!(with("use super::super::care::plan::Task;"), 1);
    assert_eq!(with("use crate::app::care::plan::*;"), 1);
    assert_eq!(with("use crate::app::care; fn f(_: care::plan::Task) {}"), 1);
    assert_eq!(with("use crate::app::care::{Task, plan};"), 0);
    assert_eq!(with("use crate::app::typed::day::Day;"), 0);
}

#[test]
fn a_file_outside_every_subject_is_found() {
    let right = [
        "host/src/app/ports/mod.rs",
        "host/src/cli/shell/exit.rs",
        "host/core/src/stats/mod.rs",
        "host/core/src/lib.rs",
    ];
    assert_eq!(rules::files_without_a_subject(right), Vec::<String>::new());
    let wrong = [
        "host/src/app/fit.rs",
        "host/src/view/shell/a.rs",
        "host/core/src/misc/a.rs",
        "host/core/src/facts.rs",
    ];
    assert_eq!(rules::files_without_a_subject(wrong), wrong);
}

#[test]
fn a_core_that_reaches_the_world_is_found() {
    let with = |text| rules::the_core_reaching_out(&Tree::of(&[(LIB, text)])).len();
    assert_eq!(
        with("use std::{fmt, time::Duration}; use jiff::Zoned; fn f() { String::new(); u32::from(1u8); }"),
        0
    );
    assert_eq!(with("use std::{fmt, fs};"), 1);
    assert_eq!(with("use std::time; fn f() { time::Instant::now(); }"), 1);
    assert_eq!(with("fn f() { std::process::exit(1); }"), 1);
    assert_eq!(with("use rusqlite::Connection;"), 1);
    let manifest = "[dependencies]\nshared-types.workspace = true\njiff.workspace = true\nclap = \"4\"\n[lints]\nworkspace = true\n";
    assert_eq!(rules::dependencies_that_the_core_may_not_have(manifest), ["clap"]);
}

#[test]
fn a_long_path_in_code_is_found() {
    let with = |path: &str| rules::long_paths_in_code("a.rs", &format!("fn f() {{ let _ = {path}; }}")).len();
    for long in [
        "crate::x()",
        "super::super::x()",
        "super::a::b::x()",
        "super::a::b::X::new()",
        "host_core::a::X::new()",
        "vec![crate::a::X]",
    ] {
        assert_eq!(with(long), 1, "{long}");
    }
    for short in ["super::x()", "super::a::x()", "a::X::new()", "host_core::X::new()", "std::mem::take(x)"] {
        assert_eq!(with(short), 0, "{short}");
    }
}
