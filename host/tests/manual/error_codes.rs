//! Every error code of the program stands on the page of messages, and no other.

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

use crate::page::folder;

const PAGE: &str = "when-something-is-wrong.md";

/// The one code without a subject: an answer that could not be printed.
const UNPRINTED: &str = "output";

fn is_code(word: &str) -> bool {
    let is_name = |part: &str| !part.is_empty() && part.chars().all(|c| c.is_ascii_lowercase() || c == '_');
    word.split_once("::").is_some_and(|(subject, what)| is_name(subject) && is_name(what))
}

/// The codes of a source file: beside a variant as `code(rug::exists)`, elsewhere as a text of their own. Tests are left out.
fn codes_in(source: &str) -> BTreeSet<String> {
    let source = source.split("#[cfg(test)]").next().unwrap_or_default();
    let beside = source.split("code(").skip(1).filter_map(|rest| rest.split(')').next());
    let quoted = source.split('"');
    let unprinted = source.contains(&format!("UNPRINTED: &str = \"{UNPRINTED}\"")).then_some(UNPRINTED);
    beside.chain(quoted).filter(|word| is_code(word)).chain(unprinted).map(str::to_owned).collect()
}

fn sources(folder: &Path) -> Vec<PathBuf> {
    let entries = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
    entries
        .flat_map(|path| if path.is_dir() { sources(&path) } else { vec![path] })
        .filter(|path| path.to_str().is_some_and(|name| name.ends_with(".rs") && !name.ends_with("tests.rs")))
        .collect()
}

fn codes_of_the_program() -> BTreeSet<String> {
    let host = Path::new(env!("CARGO_MANIFEST_DIR"));
    [host.join("src"), host.join("core/src")]
        .iter()
        .flat_map(|folder| sources(folder))
        .flat_map(|file| codes_in(&fs::read_to_string(file).unwrap()))
        .collect()
}

/// The codes in the first column of the page's tables.
fn codes_of_the_page() -> Vec<String> {
    let page = fs::read_to_string(folder().join(PAGE)).unwrap();
    let cells = page.lines().filter_map(|line| line.strip_prefix("| `")?.split(" | ").next());
    cells
        .flat_map(|cell| cell.split('`'))
        .map(str::trim)
        .filter(|word| is_code(word) || *word == UNPRINTED)
        .map(str::to_owned)
        .collect()
}

#[test]
fn every_error_code_stands_in_the_manual_and_every_code_there_is_one() {
    let program = codes_of_the_program();
    assert!(program.len() > 150 && program.contains(UNPRINTED), "the codes have moved: {program:?}");
    let page: BTreeSet<String> = codes_of_the_page().into_iter().collect();
    let missing: Vec<&String> = program.difference(&page).collect();
    let gone: Vec<&String> = page.difference(&program).collect();
    assert!(missing.is_empty() && gone.is_empty(), "{PAGE} lacks {missing:?}, and has {gone:?} too many");
}

#[test]
fn every_error_code_stands_there_once() {
    let mut codes = codes_of_the_page();
    codes.sort();
    let twice: Vec<&[String]> = codes.windows(2).filter(|pair| pair[0] == pair[1]).collect();
    assert_eq!(twice, Vec::<&[String]>::new());
}

#[test]
fn a_code_is_found_beside_its_variant_and_in_a_text_and_not_in_tests() {
    let source = "#[diagnostic(code(rug::exists), help(\"x\"))] Failure::other(\"sheet::csv\", \"a::B\") \
        exit::code(exit::FINE) #[cfg(test)] \"made::up\"";
    let found: Vec<String> = codes_in(source).into_iter().collect();
    assert_eq!(found, ["rug::exists", "sheet::csv"]);
}
