//! Backups: whole or none, looked through, and put back without losing what came after.
#![cfg(unix)]
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    reason = "a test may stop at the first surprise"
)]

use crate::bench_studio::program;
use std::fs;
use std::path::{Path, PathBuf};

use crate::bench_studio::program::{Told, place, run};
use host::app::keeping::backup::{BackupNote, BackupSeen};
use host::app::ports::Store as _;
use host::store::Database;
use shared_types::UtcMillis;

fn add(db: &Path, name: &str) {
    assert_eq!(run(db, &["machine", "add", name]).code(), 0);
}

fn names(db: &Path) -> String {
    run(db, &["machine", "list"]).out()
}

fn back_up(db: &Path, to: &Path) -> Told {
    run(db, &["backup", to.to_str().unwrap()])
}

fn restore(db: &Path, from: &Path, more: &[&str]) -> Told {
    run(db, &[&["restore", from.to_str().unwrap()], more].concat())
}

fn strays(folder: &Path) -> Vec<PathBuf> {
    let all = fs::read_dir(folder).unwrap().map(|file| file.unwrap().path());
    all.filter(|file| file.to_string_lossy().contains(".part")).collect()
}

#[test]
fn a_backup_holds_what_still_stands_in_the_journal_and_comes_back() {
    let (folder, db) = place();
    add(&db, "Rosie");
    // Held open, the newest entries stay in the journal beside the file.
    let open = Database::open(&db).unwrap();
    add(&db, "Bella");
    let backup = folder.path().join("away.db");
    let told = back_up(&db, &backup);
    assert_eq!((told.code(), told.err().as_str()), (0, ""), "{told:?}");
    assert!(told.out().contains("2 entries and 0 records"), "{}", told.out());
    // What a plain copy of the file alone would have kept.
    let plain = folder.path().join("plain.db");
    fs::copy(&db, &plain).unwrap();
    assert!(!fs::read(&plain).unwrap().windows(5).any(|bytes| bytes == b"Bella"));
    drop(open);
    let other = folder.path().join("other.db");
    let told = restore(&other, &backup, &[]);
    assert_eq!(told.code(), 0, "{told:?}");
    assert!(names(&other).contains("Rosie") && names(&other).contains("Bella"));
    assert_eq!(strays(folder.path()), Vec::<PathBuf>::new());
}

#[test]
fn a_backup_does_not_go_over_newer_entries_unless_the_maker_insists() {
    let (folder, db) = place();
    add(&db, "Rosie");
    let backup = folder.path().join("away.db");
    assert_eq!(back_up(&db, &backup).code(), 0);
    add(&db, "Bella");
    let refused = restore(&db, &backup, &[]);
    assert_eq!(refused.code(), 6, "{refused:?}");
    let said = refused.err_words();
    assert!(said.contains("the database holds 1 entry and 0 records that the backup does not"), "{said}");
    assert!(said.contains("--over-newer") && names(&db).contains("Bella"), "{said}");
    assert_eq!(strays(folder.path()), Vec::<PathBuf>::new());
    let told = restore(&db, &backup, &["--over-newer"]);
    assert_eq!(told.code(), 0, "{told:?}");
    assert!(!names(&db).contains("Bella") && names(&db).contains("Rosie"));
    let aside = folder.path().join("studio.db.before-restore");
    assert!(told.out().contains(aside.to_str().unwrap()), "{}", told.out());
    assert!(names(&aside).contains("Bella"), "the one that was there is kept aside, whole");
    // With nothing newer, nobody is asked.
    assert_eq!(restore(&db, &backup, &[]).code(), 0);
    assert!(folder.path().join("studio.db.before-restore-2").exists());
}

#[test]
fn a_damaged_or_foreign_backup_is_not_put_back() {
    let (folder, db) = place();
    add(&db, "Rosie");
    let backup = folder.path().join("away.db");
    assert_eq!(back_up(&db, &backup).code(), 0);
    let before = fs::read(&db).unwrap();
    let whole = fs::read(&backup).unwrap();
    let name = whole.windows(5).position(|bytes| bytes == b"Rosie").unwrap();
    let cases: [(&str, Vec<u8>); 4] = [
        ("a name that was changed", {
            let mut bytes = whole.clone();
            bytes[name] = b'J';
            bytes
        }),
        ("half of it", whole[..whole.len() / 2].to_vec()),
        ("a letter", b"Dear Rosie, ".repeat(500)),
        ("nothing", Vec::new()),
    ];
    for (what, bytes) in cases {
        fs::write(&backup, bytes).unwrap();
        let told = restore(&db, &backup, &["--over-newer"]);
        assert_ne!(told.code(), 0, "{what}: {told:?}");
        assert_eq!(fs::read(&db).unwrap(), before, "{what}");
        assert_eq!(strays(folder.path()), Vec::<PathBuf>::new(), "{what}");
    }
}

#[test]
fn a_backup_of_what_does_not_hold_together_leaves_the_older_one() {
    let (folder, db) = place();
    add(&db, "Rosie");
    let backup = folder.path().join("away.db");
    assert_eq!(back_up(&db, &backup).code(), 0);
    let older = fs::read(&backup).unwrap();
    let changed =
        "DROP TRIGGER entry_is_never_changed; UPDATE entry SET body = replace(body, 'Rosie', 'Josie')";
    rusqlite::Connection::open(&db).unwrap().execute_batch(changed).unwrap();
    let told = back_up(&db, &backup);
    assert_eq!(told.code(), 1, "{told:?}");
    assert_eq!(fs::read(&backup).unwrap(), older);
    assert_eq!(strays(folder.path()), Vec::<PathBuf>::new());
}

#[test]
fn a_backup_onto_the_database_its_journal_a_letter_or_into_no_folder_is_refused() {
    let (folder, db) = place();
    add(&db, "Rosie");
    let open = Database::open(&db).unwrap();
    add(&db, "Bella");
    let letter = folder.path().join("letter.txt");
    fs::write(&letter, "Dear Ann, ".repeat(400)).unwrap();
    let link = folder.path().join("link.db");
    std::os::unix::fs::symlink(&db, &link).unwrap();
    let inside = |name: &str| folder.path().join(name);
    let places = [
        db.clone(),
        inside("studio.db-wal"),
        inside("studio.db-shm"),
        inside("studio.db-journal"),
        inside("studio.db.pulling"),
        folder.path().join(".").join("studio.db"),
        link,
        letter.clone(),
        inside("no folder/away.db"),
        folder.path().to_owned(),
    ];
    for place in places {
        let told = back_up(&db, &place);
        assert_eq!(told.code(), 6, "{}: {told:?}", place.display());
    }
    assert_eq!(open.entries().unwrap().with_withdrawn().len(), 2);
    assert!(fs::read_to_string(&letter).unwrap().starts_with("Dear Ann"));
    assert!(!inside("no folder").exists());
    let (_other, none) = program::place();
    assert_eq!(back_up(&none, &inside("away.db")).code(), 6, "there is nothing to copy");
    assert!(!none.exists() && !inside("away.db").exists());
}

#[test]
fn a_database_that_another_run_has_open_is_not_replaced() {
    let (folder, db) = place();
    add(&db, "Rosie");
    let backup = folder.path().join("away.db");
    assert_eq!(back_up(&db, &backup).code(), 0);
    let open = Database::open(&db).unwrap();
    assert_eq!(open.entries().unwrap().with_withdrawn().len(), 1);
    let told = restore(&db, &backup, &[]);
    assert_eq!(told.code(), 5, "{told:?}");
    assert!(told.err_words().contains("db::busy"), "{}", told.err_words());
    assert!(!folder.path().join("studio.db.before-restore").exists());
}

#[test]
fn a_damaged_database_gives_way_to_its_backup_and_is_kept_aside() {
    let (folder, db) = place();
    add(&db, "Rosie");
    let backup = folder.path().join("away.db");
    assert_eq!(back_up(&db, &backup).code(), 0);
    fs::write(&db, b"Dear Rosie, ".repeat(1_000)).unwrap();
    assert_eq!(restore(&db, &backup, &[]).code(), 6, "nobody can say what is lost");
    let told = restore(&db, &backup, &["--over-newer"]);
    assert_eq!(told.code(), 0, "{told:?}");
    assert!(names(&db).contains("Rosie"));
    let aside = fs::read(folder.path().join("studio.db.before-restore")).unwrap();
    assert!(aside.starts_with(b"Dear Rosie"));
}

#[test]
fn doctor_tells_when_the_last_backup_is_older_than_the_limit() {
    let (folder, db) = place();
    add(&db, "Rosie");
    let seen = |db: &Path| run(db, &["doctor"]).out();
    assert!(seen(&db).contains("Backup: none was ever made from here."), "{}", seen(&db));
    assert!(seen(&db).contains("our assumption"));
    assert_eq!(back_up(&db, &folder.path().join("away.db")).code(), 0);
    assert!(seen(&db).contains("Backup: made today."), "{}", seen(&db));
    assert!(!seen(&db).contains("our assumption"));
    let json = run(&db, &["backup", "--limit-days", "30", "--json"]).json();
    assert_eq!((json["limit_days"].as_u64(), json["is_overdue"].as_bool()), (Some(30), Some(false)));
    assert_eq!(json["limit_is_assumed"], false);
}

#[test]
fn a_backup_is_old_after_the_limit_and_not_before() {
    // 10 days of 86,400,000 ms.
    let now = UtcMillis(864_000_000);
    let note = |last, limit_days| BackupNote { last_utc_ms: last, limit_days, file: None };
    let is_overdue = |last, limit| BackupSeen::of(&note(last, limit), now).is_overdue;
    // Seven days are 604,800,000 ms, so the last moment that is young is 259,200,000.
    assert!(!is_overdue(Some(259_200_000), None));
    assert!(is_overdue(Some(259_199_999), None));
    assert!(!is_overdue(Some(259_199_999), Some(8)));
    assert!(is_overdue(None, Some(8)));
    assert!(is_overdue(Some(864_000_001), None), "made by a clock that was wrong");
    assert_eq!(BackupSeen::of(&note(Some(259_200_000), None), now).days_ago, Some(7));
}
