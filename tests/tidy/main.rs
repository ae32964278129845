//! The shape of the tree: what the house rules say, held by a test.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    clippy::panic,
    clippy::expect_used,
    reason = "a test may stop at the first surprise"
)]

mod arrows;
mod graph;
mod graph_tests;
mod parsing;
mod rules;
mod source;

use source::{SourceFile, root, rust_sources, sources};

/// Finds every line for which `offends` holds and shows all of them at once.
fn assert_no_line(files: &[SourceFile], rule: &str, offends: impl Fn(&SourceFile, &str) -> bool) {
    let found: Vec<String> = files
        .iter()
        .flat_map(|file| file.lines().enumerate().map(move |(number, line)| (file, number + 1, line)))
        .filter(|(file, _, line)| offends(file, line))
        .map(|(file, number, line)| format!("  {}:{number}: {}", file.path, line.trim()))
        .collect();
    assert!(found.is_empty(), "{rule}\n{}", found.join("\n"));
}

#[test]
fn the_top_level_is_what_the_design_says() {
    const LEFT_BY_RUNNING: [&str; 2] = ["target", "needlehours-demo"];
    const ALLOWED: [&str; 10] = [
        "Cargo.toml",
        "Cargo.lock",
        "README.md",
        "DEVELOPERS.md",
        "LICENSE",
        "firmware",
        "host",
        "shared-types",
        "tests",
        "rust-toolchain.toml",
    ];
    let others: Vec<String> = std::fs::read_dir(root())
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .filter(|name| {
            !name.starts_with('.')
                && !LEFT_BY_RUNNING.contains(&name.as_str())
                && !ALLOWED.contains(&name.as_str())
        })
        .collect();
    assert_eq!(others, Vec::<String>::new(), "entries that the design does not have");
}

#[test]
fn no_source_file_is_longer_than_five_hundred_lines() {
    let long: Vec<String> = sources(&["rs", "mjs", "sql", "sh"])
        .iter()
        .filter(|file| file.lines().count() > 500)
        .map(|file| format!("{} ({} lines)", file.path, file.lines().count()))
        .collect();
    assert_eq!(long, Vec::<String>::new(), "two jobs in one file?");
}

#[test]
fn the_hosts_main_stays_on_one_screen() {
    let main = sources(&["rs"]).into_iter().find(|file| file.path == "host/src/main.rs").unwrap();
    assert!(main.lines().count() <= 70, "host/src/main.rs has {} lines", main.lines().count());
}

#[test]
fn the_board_binary_stays_small() {
    let lines: usize = sources(&["rs"])
        .iter()
        .filter(|file| file.path.starts_with("firmware/pico/src/"))
        .map(|file| file.lines().count())
        .sum();
    assert!(lines > 0, "no board binary found");
    let main = sources(&["rs"]).into_iter().find(|file| file.path == "firmware/pico/src/main.rs").unwrap();
    assert!(main.lines().count() < 300, "the board's main.rs has {} lines", main.lines().count());
}

#[test]
fn the_core_and_the_use_cases_neither_print_nor_ask_the_clock() {
    const FORBIDDEN: [&str; 9] = [
        "rusqlite",
        "clap::",
        "serialport",
        "SystemTime",
        "Timestamp::now",
        "Zoned::now",
        "println!",
        "eprint!",
        "firmware::",
    ];
    let (core, app) = (rust_sources("host/core/src/"), rust_sources("host/src/app/"));
    assert!(core.len() > 5 && app.len() > 2, "the core or the use cases have moved");
    assert_no_line(&[core, app].concat(), "the world is reached through ports only", |_, line| {
        FORBIDDEN.iter().any(|word| line.contains(word))
    });
}

#[test]
fn withdrawn_entries_are_seen_by_histories_and_what_takes_back_alone() {
    const MAY: [&str; 13] = [
        "host/core/src/book/lines.rs",
        "host/core/src/care/record.rs",
        "host/core/src/cloth/harms.rs",
        "host/core/src/entries/in_force.rs",
        "host/core/src/hours/reassignments.rs",
        "host/src/app/care/done.rs",
        "host/src/app/keeping/backup.rs",
        "host/src/app/logger/doctor.rs",
        "host/src/app/money/history.rs",
        "host/src/app/rugs/history.rs",
        "host/src/app/typed/take_back.rs",
        "host/src/app/book/take_back.rs",
        "host/src/store/tests.rs",
    ];
    let files = [rust_sources("host/core/src/"), rust_sources("host/src/")].concat();
    assert_no_line(&files, "read the entries in force", |file, line| {
        let is_all = line.contains("with_withdrawn()") || line.contains("all_named_now()");
        is_all && !MAY.contains(&file.path.as_str())
    });
}

#[test]
fn all_sql_stands_in_the_store() {
    let outside: Vec<SourceFile> = [rust_sources("host/src/"), rust_sources("host/core/src/")]
        .concat()
        .into_iter()
        .filter(|file| !file.path.starts_with("host/src/store/"))
        .collect();
    assert_no_line(&outside, "SQL belongs into host/src/store", |_, line| {
        ["SELECT ", "INSERT INTO", "UPDATE ", "PRAGMA "]
            .iter()
            .any(|word| line.contains(word) && line.contains('"'))
    });
}

#[test]
fn nothing_is_keyed_by_bare_text_in_core_and_app() {
    let files = [rust_sources("host/core/src/"), rust_sources("host/src/app/")].concat();
    assert_no_line(&files, "give the key a type of its own", |_, line| {
        line.contains("HashMap<String,") || line.contains("BTreeMap<String,")
    });
}

#[test]
fn every_error_of_a_use_case_has_a_code_and_says_what_to_try() {
    // Told inside another error, on one line of their own, and in the words of a fault.
    const TOLD_ELSEWHERE: [&str; 3] = ["/ports/contradiction.rs", "/care/notify.rs", "/logger/live.rs"];
    let is_variant = |line: &str| line.trim_start().starts_with(char::is_uppercase);
    let (mut seen, mut bare) = (0, Vec::new());
    for file in rust_sources("host/src/app/") {
        if TOLD_ELSEWHERE.iter().any(|name| file.path.ends_with(name)) {
            continue;
        }
        let lines: Vec<&str> = file.lines().collect();
        for (number, _) in lines.iter().enumerate().filter(|(_, line)| line.trim().starts_with("#[error(")) {
            let attributes = lines[number..].iter().take_while(|line| !is_variant(line));
            let attributes: String = attributes.copied().collect();
            let is_whole = attributes.contains("code(") && attributes.contains("help(");
            if !is_whole && !attributes.contains("#[diagnostic(transparent)]") {
                bare.push(format!("  {}:{}", file.path, number + 1));
            }
            seen += 1;
        }
    }
    assert!(seen > 90, "the errors have moved: {seen}");
    assert!(bare.is_empty(), "errors without a code or a remedy\n{}", bare.join("\n"));
}

#[test]
fn modules_are_named_after_things() {
    const EMPTY_NAMES: [&str; 6] = ["utils", "helpers", "common", "manager", "data", "process"];
    let named: Vec<String> = sources(&["rs", "mjs"])
        .into_iter()
        .filter(|file| file.path.split(['/', '.']).any(|part| EMPTY_NAMES.contains(&part)))
        .map(|file| file.path)
        .collect();
    assert_eq!(named, Vec::<String>::new(), "a name that says nothing");
}

#[test]
fn every_test_can_fail() {
    let empty: Vec<String> = sources(&["rs"])
        .iter()
        .flat_map(|file| file.tests().into_iter().map(move |test| (file, test)))
        .filter(|(_, test)| !test.can_fail())
        .map(|(file, test)| format!("  {}: {}", file.path, test.name))
        .collect();
    assert!(empty.is_empty(), "tests without an assertion\n{}", empty.join("\n"));
}

#[test]
fn nothing_is_put_off() {
    assert_no_line(&sources(&["rs", "mjs"]), "finish it or write it down elsewhere", |file, line| {
        !file.path.starts_with("tests/tidy/")
            // A calendar's task is called VTODO by its standard.
            && ["todo!(", "unimplemented!(", "FIXME", "XXX", "TODO"]
                .iter()
                .any(|word| line.replace("VTODO", "").contains(word))
    });
}

#[test]
fn ignored_tests_do_not_exist() {
    assert_no_line(&sources(&["rs"]), "a test that never runs proves nothing", |file, line| {
        !file.path.starts_with("tests/tidy/") && line.contains("#[ignore")
    });
}

#[test]
fn the_exit_codes_in_the_readme_are_those_of_the_program() {
    let codes = sources(&["rs"]).into_iter().find(|file| file.path == "host/src/cli/shell/exit.rs").unwrap();
    let readme = std::fs::read_to_string(root().join("README.md")).unwrap();
    let mut seen = 0;
    for line in codes.lines().filter(|line| line.starts_with("pub const")) {
        let number = line.trim_end_matches(';').rsplit(' ').next().unwrap();
        assert!(readme.contains(&format!("| {number} |")), "README.md does not explain exit code {number}");
        seen += 1;
    }
    assert!(seen >= 5, "exit codes have moved");
}

#[test]
fn every_module_stands_on_the_developers_map() {
    let page = std::fs::read_to_string(root().join("DEVELOPERS.md")).unwrap();
    let missing: Vec<String> = sources(&["rs"])
        .into_iter()
        .filter_map(|file| {
            let parts: Vec<&str> = file.path.split('/').collect();
            let at = parts.iter().position(|part| *part == "src")?;
            let folder = parts.get(at + 1).filter(|_| parts.len() > at + 2)?;
            (!page.contains(&format!("{folder}/"))).then(|| format!("{}/{folder}", parts[..=at].join("/")))
        })
        .collect();
    assert!(missing.is_empty(), "folders that DEVELOPERS.md does not show: {missing:?}");
}
