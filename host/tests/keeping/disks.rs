//! Places where a database cannot be, cannot be written, or has no room; clocks that are off; answers that nobody reads.
#![cfg(unix)]
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::panic,
    reason = "a test may stop at the first surprise"
)]

use std::fs::{self, File};
use std::os::unix::fs::{MetadataExt as _, PermissionsExt as _};
use std::path::Path;
use std::process::{Command, Output, Stdio};

use crate::bench_studio::program::{place, run, run_in};
use host::app::ports::{Store as _, StoreError};
use host::store::Database;
use host_core::entries::{EntryBody, PersonAdded, PersonTag};
use shared_types::UtcMillis;

const YEAR_MS: i64 = 365 * 86_400_000;

/// The program as a maker runs it, without the word that the clock is right.
fn bare(db: &Path) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_needlehours"));
    let folder = db.parent().unwrap();
    command.current_dir(folder).env_clear().env("HOME", folder).env("NEEDLEHOURS_DB", db);
    command.env("NO_COLOR", "1").env("TZ", "UTC").stdin(Stdio::null());
    command
}

/// Standard error without the frame around messages.
fn err_words(output: &Output) -> String {
    let err = String::from_utf8(output.stderr.clone()).unwrap();
    err.split_whitespace().filter(|word| *word != "│").collect::<Vec<_>>().join(" ")
}

fn person(number: u32) -> EntryBody {
    EntryBody::PersonAdded(PersonAdded { person: PersonTag(number) })
}

fn now() -> UtcMillis {
    let since = std::time::SystemTime::now().duration_since(std::time::UNIX_EPOCH).unwrap();
    UtcMillis(i64::try_from(since.as_millis()).unwrap())
}

#[test]
fn what_is_no_file_is_refused_and_nothing_is_made() {
    let (folder, db) = place();
    for name in [":memory:", "file:studio.db?mode=memory", "file::memory:?cache=shared", " ", ":x"] {
        let told = run(&db, &["--db", name, "machine", "add", "Rosie"]);
        assert_eq!(told.code(), 5, "{name}: {told:?}");
        assert!(told.err_words().contains("is no name of a file"), "{name}: {}", told.err_words());
    }
    assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 0);
}

#[test]
fn the_database_and_its_journal_are_for_their_owner_alone() {
    let (folder, db) = place();
    let mut store = Database::open(&db).unwrap();
    store.add_entry(now(), &person(1)).unwrap();
    let mut seen = 0;
    for file in fs::read_dir(folder.path()).unwrap() {
        let file = file.unwrap();
        let mode = file.metadata().unwrap().permissions().mode() & 0o777;
        assert_eq!(mode, 0o600, "{}", file.path().display());
        seen += 1;
    }
    // The file, its journal, and what runs share of it.
    assert_eq!(seen, 3);
}

#[test]
fn an_unknown_time_zone_is_refused_and_known_ones_are_not() {
    let (_folder, db) = place();
    for zone in ["Europe/Lisboa", "Nowhere/City", "UTZ"] {
        let told = run_in(zone, &db, &["machine", "add", "Rosie"]);
        assert_eq!(told.code(), 6, "{zone}: {told:?}");
        assert!(told.err_words().contains("time::zone"), "{}", told.err_words());
    }
    assert!(!db.exists());
    for zone in ["Europe/Lisbon", "UTC", "EST5EDT", ""] {
        assert_eq!(run_in(zone, &db, &["hours"]).code(), 0, "{zone}");
    }
}

#[test]
fn a_clock_that_is_years_off_the_newest_entry_notes_nothing_until_the_maker_insists() {
    for off in [-3 * YEAR_MS, 3 * YEAR_MS] {
        let (_folder, db) = place();
        Database::open(&db).unwrap().add_entry(UtcMillis(now().0 + off), &person(1)).unwrap();
        let refused = bare(&db).args(["machine", "add", "Rosie"]).output().unwrap();
        assert_eq!(refused.status.code(), Some(5), "{refused:?}");
        let said = err_words(&refused);
        assert!(said.contains("db::clock") && said.contains("--clock-is-right"), "{said}");
        assert_eq!(Database::open(&db).unwrap().entries().unwrap().with_withdrawn().len(), 1);
        assert_eq!(
            bare(&db).args(["machine", "list"]).output().unwrap().status.code(),
            Some(0),
            "it can be read"
        );
        let insisted = bare(&db).args(["machine", "add", "Rosie", "--clock-is-right"]).output().unwrap();
        assert_eq!(insisted.status.code(), Some(0), "{insisted:?}");
    }
}

#[test]
fn a_clock_is_not_doubted_within_two_years_nor_over_an_empty_book() {
    let (_folder, db) = place();
    assert_eq!(bare(&db).args(["machine", "add", "Rosie"]).output().unwrap().status.code(), Some(0));
    for off in [-2 * YEAR_MS + 60_000, 2 * YEAR_MS - 60_000] {
        let (_folder, db) = place();
        Database::open(&db).unwrap().add_entry(UtcMillis(now().0 + off), &person(1)).unwrap();
        let added = bare(&db).args(["machine", "add", "Rosie"]).output().unwrap();
        assert_eq!(added.status.code(), Some(0), "{added:?}");
    }
}

#[test]
fn a_database_that_can_only_be_read_is_read_and_says_why_it_takes_nothing() {
    let (folder, db) = place();
    {
        let mut store = Database::open(&db).unwrap();
        store.add_entry(now(), &person(1)).unwrap();
        // With its journal beside it, as a stick that was pulled out.
        let copy = folder.path().join("pulled out");
        fs::create_dir(&copy).unwrap();
        for name in ["studio.db", "studio.db-wal"] {
            fs::copy(folder.path().join(name), copy.join(name)).unwrap();
        }
        let read = Database::open_to_read(&copy.join("studio.db")).unwrap();
        assert_eq!(read.entries().unwrap().with_withdrawn().len(), 1, "what stands in the journal counts");
    }
    let before = fs::read(&db).unwrap();
    let mut read = Database::open_to_read(&db).unwrap();
    assert_eq!(read.entries().unwrap().with_withdrawn().len(), 1);
    assert!(matches!(read.add_entry(now(), &person(2)), Err(StoreError::ReadOnly { .. })));
    assert_eq!((fs::read(&db).unwrap(), fs::read_dir(folder.path()).unwrap().count()), (before, 2));
}

/// A disk of its own; it goes with the test.
struct Disk(std::path::PathBuf);

impl Disk {
    /// A disk that cannot be had fails the test: without one it would show nothing.
    fn new(folder: &Path, size: &str) -> Self {
        let disk = folder.join("disk");
        fs::create_dir(&disk).unwrap();
        let options = format!("size={size}");
        let mounted =
            Command::new("mount").args(["-t", "tmpfs", "-o", &options, "tmpfs"]).arg(&disk).output();
        let refusal = match mounted {
            Ok(mounted) if mounted.status.success() => return Self(disk),
            Ok(mounted) => String::from_utf8_lossy(&mounted.stderr).trim().to_owned(),
            Err(error) => format!("mount: {error}"),
        };
        panic!(
            "this test mounts a disk in memory (tmpfs) and could not; run the tests as root, in a container that may mount: {refusal}"
        );
    }

    fn only_to_read(&self) {
        assert!(Command::new("mount").args(["-o", "remount,ro"]).arg(&self.0).status().unwrap().success());
    }
}

impl Drop for Disk {
    fn drop(&mut self) {
        Command::new("umount").arg(&self.0).status().unwrap();
    }
}

#[test]
fn on_a_disk_that_can_only_be_read_hours_are_told_and_nothing_is_noted() {
    let folder = tempfile::tempdir().unwrap();
    let disk = Disk::new(folder.path(), "4m");
    let db = disk.0.join("studio.db");
    assert_eq!(run(&db, &["machine", "add", "Rosie"]).code(), 0);
    disk.only_to_read();
    let hours = run(&db, &["hours"]);
    assert_eq!(hours.code(), 0, "{hours:?}");
    assert!(hours.err_words().contains("it is only read"), "{hours:?}");
    let refused = run(&db, &["machine", "add", "Bella"]);
    assert_eq!(refused.code(), 5);
    assert!(refused.err_words().contains("db::read_only"), "{refused:?}");
}

#[test]
fn a_full_disk_is_called_full_wherever_the_room_runs_out() {
    let folder = tempfile::tempdir().unwrap();
    let disk = Disk::new(folder.path(), "600k");
    let db = disk.0.join("studio.db");
    assert_eq!(run(&db, &["machine", "add", "Rosie"]).code(), 0);
    let held = Database::open(&db).unwrap().entries().unwrap().with_withdrawn().to_vec();
    let whole = fs::read(&db).unwrap();
    let mut told_full = 0;
    // From no room at all upwards, page by page: the file for sharing, the journal, the database run out one after the other.
    for free_pages in 0..24 {
        fs::write(&db, &whole).unwrap();
        fill(&disk.0, free_pages * 4096);
        let told = run(&db, &["machine", "add", "Bella"]);
        fs::remove_file(disk.0.join("filler")).unwrap();
        if told.code() != 0 {
            assert_eq!(told.code(), 5, "{told:?}");
            assert!(told.err_words().contains("db::full"), "{free_pages} pages: {}", told.err_words());
            assert_eq!(
                Database::open(&db).unwrap().entries().unwrap().with_withdrawn().to_vec(),
                held,
                "{free_pages} pages"
            );
            told_full += 1;
        }
        for ending in ["-wal", "-shm"] {
            let file = disk.0.join(format!("studio.db{ending}"));
            if file.exists() {
                fs::remove_file(file).unwrap();
            }
        }
    }
    assert!(told_full > 3 && told_full < 24, "{told_full}");
}

/// Fills a disk up to so many bytes.
fn fill(disk: &Path, leave: usize) {
    use std::io::Write as _;
    let mut filler = File::create(disk.join("filler")).unwrap();
    let mut written: u64 = 0;
    while filler.write_all(&[0; 4096]).is_ok() {
        written += 4096;
    }
    filler.set_len(written.saturating_sub(leave as u64)).unwrap();
}

#[test]
fn an_answer_that_cannot_be_printed_says_whether_the_entry_was_kept() {
    let (_folder, db) = place();
    let full = || File::options().write(true).open("/dev/full").unwrap();
    let kept = bare(&db).args(["machine", "add", "Rosie"]).stdout(full()).output().unwrap();
    assert_eq!(kept.status.code(), Some(1));
    assert!(err_words(&kept).contains("what you entered was kept"), "{}", err_words(&kept));
    assert_eq!(Database::open(&db).unwrap().entries().unwrap().with_withdrawn().len(), 1);
    let asked = bare(&db).args(["machine", "list"]).stdout(full()).output().unwrap();
    assert!(err_words(&asked).contains("nothing was entered"), "{}", err_words(&asked));
    // A reader that has gone.
    let (reader, writer) = std::io::pipe().unwrap();
    drop(reader);
    let kept = bare(&db).args(["machine", "add", "Bella"]).stdout(writer).output().unwrap();
    assert_eq!(kept.status.code(), Some(0));
    assert!(err_words(&kept).contains("what you entered was kept"), "{}", err_words(&kept));
    let (reader, writer) = std::io::pipe().unwrap();
    drop(reader);
    let asked = bare(&db).args(["machine", "list"]).stdout(writer).output().unwrap();
    assert_eq!((asked.status.code(), err_words(&asked)), (Some(0), String::new()));
}

#[test]
fn a_picture_is_replaced_by_a_whole_one_and_leaves_nothing_beside() {
    let (folder, db) = place();
    assert_eq!(run(&db, &["machine", "add", "Rosie"]).code(), 0);
    let picture = folder.path().join("book.html");
    fs::write(&picture, "an older page").unwrap();
    fs::set_permissions(&picture, fs::Permissions::from_mode(0o640)).unwrap();
    let before = fs::metadata(&picture).unwrap();
    let told = run(&db, &["book", "--out", picture.to_str().unwrap()]);
    assert_eq!(told.code(), 0, "{told:?}");
    let after = fs::metadata(&picture).unwrap();
    assert_ne!(before.ino(), after.ino(), "it was written over in its place");
    assert_eq!(after.permissions().mode() & 0o777, 0o640);
    let strays = fs::read_dir(folder.path())
        .unwrap()
        .filter(|file| file.as_ref().unwrap().file_name().to_string_lossy().contains(".part"));
    assert_eq!(strays.count(), 0);
}

#[test]
fn a_page_for_which_there_is_no_room_leaves_the_older_one_whole() {
    let (folder, db) = place();
    assert_eq!(run(&db, &["machine", "add", "Rosie"]).code(), 0);
    let disk = Disk::new(folder.path(), "64k");
    let page = disk.0.join("book.html");
    fs::write(&page, "an older page").unwrap();
    fill(&disk.0, 0);
    let told = run(&db, &["book", "--out", page.to_str().unwrap()]);
    assert_eq!(told.code(), 6, "{told:?}");
    assert_eq!(fs::read_to_string(&page).unwrap(), "an older page");
    assert_eq!(fs::read_dir(&disk.0).unwrap().count(), 2, "the page and what fills the disk");
}

#[test]
fn a_copy_before_a_change_of_version_is_announced() {
    let (folder, db) = place();
    let old = include_str!("../golden/version_1.sql");
    rusqlite::Connection::open(&db).unwrap().execute_batch(old).unwrap();
    let told = run(&db, &["machine", "list"]);
    assert_eq!(told.code(), 0, "{told:?}");
    let copy = folder.path().join("studio.db.version-1");
    assert!(
        told.err_words().contains(&format!("as it was before, it lies in {}", copy.display())),
        "{told:?}"
    );
    assert!(copy.exists());
    assert_eq!(run(&db, &["machine", "list"]).err(), "", "it is said once");
}
