//! Exports that were changed, cut, forged or left half, and places where something is already: nothing is made, nothing is lost.
#![cfg(unix)]
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::panic,
    reason = "a test may stop at the first surprise"
)]

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Stdio;
use std::thread;
use std::time::{Duration, Instant};

use crate::bench_studio::Studio;
use crate::bench_studio::program::{program, run};
use crate::hand_on::{export, files_below, hostile, import, names};
use host::app::keeping::whole::{Contents, FileSum};
use host_core::entries::{EntryBody, PersonAdded, PersonTag};
use sha2::{Digest as _, Sha256};

fn copy_all(from: &Path, to: &Path) {
    for file in files_below(from) {
        let target = to.join(file.strip_prefix(from).unwrap());
        fs::create_dir_all(target.parent().unwrap()).unwrap();
        fs::copy(&file, &target).unwrap();
    }
}

#[test]
fn whatever_was_changed_cut_or_lost_on_the_way_is_refused_and_nothing_is_made() {
    let studio = hostile();
    let to = studio.path().with_file_name("out");
    assert_eq!(export(&studio.path(), &to, &["--with-names"]).code(), 0);
    let base = tempfile::tempdir().unwrap();
    let folder = base.path().join("copy");
    let refused = |file: &Path, what: &str| {
        let before = names(base.path());
        let told = import(&base.path().join("new.db"), &folder, &[]);
        assert_eq!(told.code(), 6, "{what} {file:?}: {told:?}");
        assert!(told.err().contains("import::"), "{what} {file:?}: {told:?}");
        assert_eq!(names(base.path()), before, "{what} {file:?}");
    };
    // Each table is like the others, so that a few of their files stand for all.
    let is_asked = |file: &&PathBuf| {
        let name = file.strip_prefix(&to).unwrap().to_str().unwrap().to_owned();
        name.starts_with("whole") || name.contains("rugs") || name.contains("SCHEMA")
    };
    copy_all(&to, &folder);
    for file in files_below(&to).iter().filter(is_asked) {
        let copied = folder.join(file.strip_prefix(&to).unwrap());
        let whole = fs::read(file).unwrap();
        let mut changed = whole.clone();
        if let Some(last) = changed.len().checked_sub(1) {
            changed[last / 2] ^= 1;
            fs::write(&copied, &changed).unwrap();
            refused(file, "changed");
            fs::write(&copied, &whole[..last]).unwrap();
            refused(file, "cut");
        }
        fs::remove_file(&copied).unwrap();
        refused(file, "gone");
        fs::write(&copied, &whole).unwrap();
    }
    assert_eq!(import(&base.path().join("new.db"), &folder, &[]).code(), 0, "the copy itself is whole");
}

#[test]
fn the_tables_may_be_left_behind_where_that_is_said() {
    let studio = hostile();
    let to = studio.path().with_file_name("out");
    assert_eq!(export(&studio.path(), &to, &[]).code(), 0);
    fs::remove_dir_all(to.join("parquet")).unwrap();
    fs::write(to.join("tables/rugs.csv"), "opened and saved").unwrap();
    let new = studio.path().with_file_name("new.db");
    let refused = import(&new, &to, &[]);
    assert_eq!(refused.code(), 6);
    assert!(refused.err_words().contains("--whole-only"), "{refused:?}");
    assert_eq!(import(&new, &to, &["--whole-only"]).code(), 0);
    assert_eq!(run(&new, &["verify"]).code(), 0);
}

/// Changes what an export holds and makes its sums fit, as somebody could who wants to.
fn forged(export: &Path, change: impl FnOnce(&mut Contents, &mut BTreeMap<String, String>)) {
    let digits =
        |bytes: &[u8]| Sha256::digest(bytes).iter().map(|byte| format!("{byte:02x}")).collect::<String>();
    let list = export.join("whole/contents.json");
    let mut contents: Contents = serde_json::from_slice(&fs::read(&list).unwrap()).unwrap();
    let mut files: BTreeMap<String, String> = files_below(&export.join("whole"))
        .iter()
        .map(|file| {
            (file.file_name().unwrap().to_str().unwrap().to_owned(), fs::read_to_string(file).unwrap())
        })
        .collect();
    change(&mut contents, &mut files);
    for (name, text) in &files {
        fs::write(export.join("whole").join(name), text).unwrap();
        let file = format!("whole/{name}");
        for sum in contents.files.iter_mut().filter(|sum| sum.file == file) {
            *sum = FileSum { file: file.clone(), bytes: text.len() as u64, sha256: digits(text.as_bytes()) };
        }
    }
    let text = serde_json::to_string(&contents).unwrap();
    fs::write(&list, &text).unwrap();
    let sum = format!("{}  contents.json\n", digits(text.as_bytes()));
    fs::write(export.join("whole/contents.json.sha256"), sum).unwrap();
}

#[test]
fn what_is_well_formed_and_wrong_is_refused_too() {
    let studio = hostile();
    let to = studio.path().with_file_name("out");
    assert_eq!(export(&studio.path(), &to, &[]).code(), 0);
    let base = tempfile::tempdir().unwrap();
    let folder = base.path().join("copy");
    type Change = fn(&mut Contents, &mut BTreeMap<String, String>);
    let cases: [(&str, Change); 12] = [
        ("import::not_whole", |_, files| {
            let entries = files.get_mut("entries.jsonl").unwrap();
            *entries = entries.replace("Rosie", "Posie");
        }),
        ("import::not_whole", |_, files| {
            // The newest step and what it covers: the chain that is left holds, but is not the one of the head.
            let chain = files.get_mut("chain.jsonl").unwrap();
            let keep = chain.trim_end().rfind('\n').unwrap() + 1;
            chain.truncate(keep);
            let records = files.get_mut("records.jsonl").unwrap();
            *records = records
                .lines()
                .filter(|line| !line.contains("\"variant\":1"))
                .map(|l| format!("{l}\n"))
                .collect();
        }),
        ("import::not_whole", |contents, _| contents.studio.0 = "s0123456789abcdef".to_owned()),
        ("import::not_whole", |contents, _| contents.head = format!("1-{}", "0".repeat(64))),
        ("import::line", |_, files| files.get_mut("entries.jsonl").unwrap().push_str("[]\n")),
        ("import::line", |_, files| {
            let first = files["entries.jsonl"].lines().next().unwrap().to_owned();
            files.get_mut("entries.jsonl").unwrap().push_str(&format!("{first}\n"));
        }),
        ("import::line", |_, files| {
            let records = files.get_mut("records.jsonl").unwrap();
            *records = records.replacen("\"log_id\":1", "\"log_id\":99", 1);
        }),
        ("import::newer", |contents, _| contents.export_version = 2),
        ("import::newer", |contents, _| contents.database_version += 1),
        ("import::foreign", |contents, _| contents.what = "something else".to_owned()),
        ("import::missing", |contents, _| contents.with_names = true),
        ("import::contents", |contents, _| {
            let sum = FileSum { file: "whole/../../new.txt".to_owned(), bytes: 0, sha256: String::new() };
            contents.files.push(sum);
        }),
    ];
    for (code, change) in cases {
        fs::remove_dir_all(&folder).unwrap_or_default();
        copy_all(&to, &folder);
        forged(&folder, change);
        let told = import(&base.path().join("new.db"), &folder, &[]);
        assert_ne!(told.code(), 0, "{code}");
        assert!(told.err().contains(code), "{code}: {told:?}");
        assert_eq!(names(base.path()), ["copy"], "{code}");
    }
    for other in ["nowhere", "copy/tables", "copy/SCHEMA.md"] {
        let told = import(&base.path().join("new.db"), &base.path().join(other), &[]);
        assert!(told.code() == 6 && told.err().contains("import::foreign"), "{other}: {told:?}");
    }
}

#[test]
fn a_database_that_holds_something_is_not_replaced_and_an_empty_one_is() {
    let studio = hostile();
    let to = studio.path().with_file_name("out");
    assert_eq!(export(&studio.path(), &to, &[]).code(), 0);
    let before = run(&studio.path(), &["hours", "--json"]).out();
    let told = import(&studio.path(), &to, &[]);
    assert!(told.code() == 6 && told.err().contains("import::not_empty"), "{told:?}");
    assert_eq!(run(&studio.path(), &["hours", "--json"]).out(), before);
    let empty = studio.path().with_file_name("empty.db");
    assert_eq!(run(&empty, &["rug", "list"]).code(), 0);
    assert!(empty.exists());
    assert_eq!(import(&empty, &to, &[]).code(), 0);
    assert_eq!(run(&empty, &["hours", "--json"]).out(), before);
    let none = studio.path().with_file_name("none.db");
    fs::write(&none, "").unwrap();
    assert_eq!(import(&none, &to, &[]).code(), 0);
    let letter = studio.path().with_file_name("letter.db");
    fs::write(&letter, "Dear Rosie, ".repeat(500)).unwrap();
    assert_eq!(import(&letter, &to, &[]).code(), 5);
    let nowhere = studio.path().with_file_name("no-folder").join("new.db");
    let (from, into) = (to.to_str().unwrap(), nowhere.to_str().unwrap());
    assert_eq!(run(&studio.path(), &["import", from, "--db", into]).code(), 5);
    assert!(!nowhere.exists());
}

#[test]
fn an_export_never_touches_a_folder_that_holds_something_else() {
    let studio = hostile();
    let db = studio.path();
    let base = tempfile::tempdir().unwrap();
    let to = base.path().join("out");
    let refused = |code: &str, more: &[&str]| {
        let before = files_below(base.path());
        let told = export(&db, &to, more);
        assert_eq!(told.code(), 6, "{code}: {told:?}");
        assert!(told.err().contains(code), "{code}: {told:?}");
        assert_eq!(files_below(base.path()), before, "{code}");
    };
    fs::create_dir(&to).unwrap();
    assert_eq!(export(&db, &to, &[]).code(), 0, "an empty folder is as good as none");
    let first = fs::read(to.join("whole/contents.json")).unwrap();
    refused("export::there", &[]);
    let again = export(&db, &to, &["--replace"]);
    assert_eq!(again.code(), 0, "{again:?}");
    assert_ne!(fs::read(to.join("whole/contents.json")).unwrap(), first);
    assert_eq!(names(base.path()), ["out"]);
    fs::write(to.join("letter.txt"), "Dear Rosie").unwrap();
    refused("export::added", &["--replace"]);
    fs::remove_file(to.join("letter.txt")).unwrap();
    fs::write(to.join("whole/contents.json"), "{}").unwrap();
    refused("export::not_empty", &["--replace"]);
    // Another studio's.
    fs::remove_dir_all(&to).unwrap();
    let theirs = Studio::empty();
    theirs.tell(EntryBody::PersonAdded(PersonAdded { person: PersonTag(9) }));
    assert_eq!(export(&theirs.path(), &to, &[]).code(), 0);
    refused("export::not_empty", &["--replace"]);
    fs::remove_dir_all(&to).unwrap();
    fs::write(&to, "a file").unwrap();
    refused("export::not_empty", &[]);
    let nowhere = export(&db, &base.path().join("no/where"), &[]);
    assert!(nowhere.code() == 6 && nowhere.err().contains("export::folder"), "{nowhere:?}");
    let nothing = export(&base.path().join("none.db"), &base.path().join("new"), &[]);
    assert!(nothing.code() == 6 && nothing.err().contains("export::nothing"), "{nothing:?}");
    assert_eq!(names(base.path()), ["out"]);
}

#[test]
fn an_export_that_is_killed_leaves_no_folder_that_looks_like_one() {
    let studio = hostile();
    let base = tempfile::tempdir().unwrap();
    let to = base.path().join("out");
    let mut killed = 0;
    for wait_ms in (0..60).step_by(5) {
        let mut child = program("UTC", &studio.path(), &["export", to.to_str().unwrap()])
            .stdout(Stdio::null())
            .spawn()
            .unwrap();
        // From the moment on at which there is something to see.
        while names(base.path()).is_empty() && child.try_wait().unwrap().is_none() {
            thread::yield_now();
        }
        let seen = Instant::now();
        while seen.elapsed() < Duration::from_millis(wait_ms) {
            thread::yield_now();
        }
        child.kill().unwrap();
        child.wait().unwrap();
        if to.exists() {
            break;
        }
        for left in names(base.path()).iter().map(|left| base.path().join(left)) {
            let told = import(&base.path().join("new.db"), &left, &[]);
            // One that was finished and only not in its place yet is whole.
            if told.code() == 0 {
                assert_eq!(run(&base.path().join("new.db"), &["verify"]).code(), 0);
                fs::remove_file(base.path().join("new.db")).unwrap();
            } else {
                assert!(told.code() == 6 && told.err().contains("import::foreign"), "{told:?}");
                assert!(!base.path().join("new.db").exists());
                killed += 1;
            }
            fs::remove_dir_all(left).unwrap();
        }
    }
    assert!(killed > 0, "none was killed on the way");
    if to.exists() {
        assert_eq!(import(&base.path().join("new.db"), &to, &[]).code(), 0);
    }
}
