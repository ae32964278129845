//! The database through its port: what is kept, what is refused, and that nothing is lost or counted twice.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a test may stop at the first surprise"
)]

use shared_types::limits::MAX_RECORD_BODY;
use shared_types::log::Fault;
use std::path::Path;

use crate::bench_studio::program::{place, run, run_at_home};
use host::app::book::verify::verify;
use host::app::ports::book::Names;
use host::app::ports::{Kept, RawRecord, Store, StoreError};
use host::store::Database;
use host_core::entries::{EntryBody, EntryId, PersonTag};
use host_core::records::log_records::{LogKey, LoggedEvent};
use shared_types::link::{LogState, LoggerStatus};
use shared_types::log::{Event, FaultChange, FirmwareVersion, Record, Segment, Settings, encode_body};
use shared_types::{
    BootId, Edges, LogId, LoggerId, RawAngle, RecordSeq, RunMillis, Totals, UptimeMillis, UtcMillis,
};

const NOW: UtcMillis = UtcMillis(1_790_000_000_000);
const KEY: LogKey = LogKey { logger: LoggerId(u64::MAX - 5), log: LogId(u32::MAX) };

fn raw(seq: u32, event: Event) -> RawRecord {
    let record = Record { boot: BootId(1), at: UptimeMillis(u64::from(seq) * 20_000), event };
    let mut out = [0; MAX_RECORD_BODY];
    RawRecord { seq: RecordSeq(seq), body: encode_body(&record, &mut out).unwrap().to_vec() }
}

fn segment(seq: u32) -> RawRecord {
    raw(
        seq,
        Event::Segment(Segment {
            run: RunMillis(1_000 + u64::from(seq)),
            edges: 30,
            angle: Some(RawAngle::new(2_000)),
            continues: false,
        }),
    )
}

fn segments(seqs: impl IntoIterator<Item = u32>) -> Vec<RawRecord> {
    seqs.into_iter().map(segment).collect()
}

fn status(oldest: u32, next: u32, totals: Totals) -> LoggerStatus {
    LoggerStatus {
        record_version: 1,
        firmware: FirmwareVersion { major: 0, minor: 1, patch: 0 },
        build: "bench".try_into().unwrap(),
        logger: KEY.logger,
        log: LogState::Ready {
            log: KEY.log,
            oldest: RecordSeq(oldest),
            next: RecordSeq(next),
            acknowledged: RecordSeq(0),
            formatted_with: Totals { run: RunMillis(7), edges: Edges(u64::MAX - 1) },
        },
        boot: BootId(3),
        uptime: UptimeMillis(5),
        totals,
        settings: Settings::default(),
        faults: 0,
    }
}

/// Looks into the file as any other program could.
fn peek(path: &Path) -> rusqlite::Connection {
    rusqlite::Connection::open(path).unwrap()
}

#[test]
fn a_record_comes_back_as_it_was_given() {
    let (_dir, path) = place();
    let given = [segment(4), raw(5, Event::Fault(FaultChange { fault: Fault::KnobSilent, present: true }))];
    {
        let mut store = Database::open(&path).unwrap();
        let kept = store.keep_records(NOW, KEY, &given).unwrap();
        assert_eq!(kept.new, 2);
        assert_eq!(kept.run_and_edges, Totals { run: RunMillis(1_004), edges: Edges(30) });
        assert_eq!((kept.new_from, kept.new_to), (Some(RecordSeq(4)), Some(RecordSeq(5))));
    }
    let logs = Database::open(&path).unwrap().logs().unwrap();
    assert_eq!(logs.len(), 1);
    assert_eq!(logs[0].key, KEY, "identities of 64 bits survive");
    let segment = logs[0].segments[0];
    assert_eq!((segment.seq, segment.boot, segment.at), (RecordSeq(4), BootId(1), UptimeMillis(80_000)));
    assert_eq!((segment.run, segment.edges, segment.continues), (RunMillis(1_004), 30, false));
    assert_eq!(segment.angle, Some(RawAngle::new(2_000)));
    assert_eq!(logs[0].events[0].seq, RecordSeq(5));
    assert!(matches!(logs[0].events[0].what, LoggedEvent::Fault(FaultChange { present: true, .. })));
    let body: Vec<u8> =
        peek(&path).query_row("SELECT body FROM raw_record WHERE seq = 4", (), |row| row.get(0)).unwrap();
    assert_eq!(body, given[0].body, "the bytes are kept as received");
}

#[test]
fn the_same_records_twice_count_once() {
    let (_dir, path) = place();
    let mut store = Database::open(&path).unwrap();
    store.keep_records(NOW, KEY, &segments(0..10)).unwrap();
    let again = store.keep_records(NOW, KEY, &segments(5..12)).unwrap();
    assert_eq!((again.new, again.known, again.conflicting), (2, 5, 0));
    assert_eq!(store.logs().unwrap()[0].segments.len(), 12);
}

#[test]
fn the_same_number_with_other_bytes_keeps_both_and_uses_the_first() {
    let (_dir, path) = place();
    let mut store = Database::open(&path).unwrap();
    store.keep_records(NOW, KEY, &segments([3])).unwrap();
    let other = RawRecord { seq: RecordSeq(3), body: segment(99).body };
    assert_eq!(store.keep_records(NOW, KEY, std::slice::from_ref(&other)).unwrap().conflicting, 1);
    let third = store.keep_records(NOW, KEY, &[other]).unwrap();
    assert_eq!(third, Kept { known: 1, ..Kept::default() }, "the second variant is known by now");
    let logs = store.logs().unwrap();
    assert_eq!(logs[0].conflicting, [RecordSeq(3)]);
    assert_eq!(logs[0].segments.len(), 1);
    assert_eq!(logs[0].segments[0].run, RunMillis(1_003));
    let bodies: i64 = peek(&path).query_row("SELECT count(*) FROM raw_record", (), |row| row.get(0)).unwrap();
    assert_eq!(bodies, 2);
}

#[test]
fn an_unknown_kind_is_kept_and_counted() {
    let (_dir, path) = place();
    let mut store = Database::open(&path).unwrap();
    let newer_version = RawRecord { seq: RecordSeq(0), body: vec![9, 1, 2, 3] };
    let newer_kind = RawRecord { seq: RecordSeq(1), body: vec![1, 1, 0, 120, 1, 2] };
    let empty = RawRecord { seq: RecordSeq(2), body: vec![] };
    let kept = store.keep_records(NOW, KEY, &[newer_version, newer_kind, empty, segment(3)]).unwrap();
    assert_eq!((kept.new, kept.unreadable), (4, 3));
    let logs = store.logs().unwrap();
    assert_eq!((logs[0].unreadable, logs[0].segments.len()), (3, 1));
    assert_eq!(store.first_missing(KEY).unwrap(), RecordSeq(4), "they are not asked for again");
}

#[test]
fn a_pull_goes_on_at_the_first_gap() {
    let (_dir, path) = place();
    let mut store = Database::open(&path).unwrap();
    assert_eq!(store.first_missing(KEY).unwrap(), RecordSeq(0));
    store.keep_records(NOW, KEY, &segments(0..10)).unwrap();
    assert_eq!(store.first_missing(KEY).unwrap(), RecordSeq(10));
    // A saved log from elsewhere holds later records; what lies between must still be asked for.
    store.keep_records(NOW, KEY, &segments(50..60)).unwrap();
    assert_eq!(store.first_missing(KEY).unwrap(), RecordSeq(10));
    store.keep_records(NOW, KEY, &segments(10..50)).unwrap();
    assert_eq!(store.first_missing(KEY).unwrap(), RecordSeq(60));
}

#[test]
fn what_the_logger_no_longer_has_is_not_asked_for_again() {
    let (_dir, path) = place();
    let mut store = Database::open(&path).unwrap();
    store.keep_records(NOW, KEY, &segments(0..10)).unwrap();
    store.keep_records(NOW, KEY, &segments(50..60)).unwrap();
    store.note_gone(KEY, RecordSeq(10), RecordSeq(49)).unwrap();
    assert_eq!(store.first_missing(KEY).unwrap(), RecordSeq(49), "one number is still open");
    store.note_gone(KEY, RecordSeq(49), RecordSeq(50)).unwrap();
    assert_eq!(store.first_missing(KEY).unwrap(), RecordSeq(60));
    // The oldest number of a hello is only a word: what is before it counts as gone when it was asked for and passed over.
    store.note_status(NOW, &status(200, 300, Totals::default()), "cable").unwrap();
    assert_eq!(store.first_missing(KEY).unwrap(), RecordSeq(60));
    store.note_gone(KEY, RecordSeq(60), RecordSeq(200)).unwrap();
    assert_eq!(store.first_missing(KEY).unwrap(), RecordSeq(200));
    assert_eq!(
        store.keep_records(NOW, KEY, &segments([20])).unwrap().new,
        1,
        "but it is welcome if it turns up"
    );
}

#[test]
fn totals_of_64_bits_survive_and_an_old_hello_does_not_take_them_back() {
    let (_dir, path) = place();
    let far = Totals { run: RunMillis(u64::MAX - 3), edges: Edges(u64::MAX - 4) };
    let mut store = Database::open(&path).unwrap();
    store.note_status(NOW, &status(0, 30, far), "cable").unwrap();
    let earlier = Totals { run: RunMillis(1), edges: Edges(2) };
    store.note_status(NOW, &status(0, 20, earlier), "saved file").unwrap();
    let logs = store.logs().unwrap();
    assert_eq!(logs[0].last_totals, far);
    assert_eq!(logs[0].last_next, RecordSeq(30));
    assert_eq!(logs[0].formatted_with, Totals { run: RunMillis(7), edges: Edges(u64::MAX - 1) });
    let heard = store.status_reports().unwrap();
    assert_eq!((heard[0].place.as_str(), heard[1].totals), ("cable", earlier));
}

#[test]
fn entries_come_back_in_the_order_of_arrival() {
    let (_dir, path) = place();
    let mut store = Database::open(&path).unwrap();
    let withdrawn = EntryBody::Withdrawn { entry: EntryId(1), reason: "typed \"twice\"".to_owned() };
    let first = store.add_entry(NOW, &withdrawn).unwrap();
    let second = store.add_entry(UtcMillis(-1), &withdrawn).unwrap();
    assert!(first < second);
    let entries = store.entries().unwrap().with_withdrawn().to_vec();
    assert_eq!(entries.len(), 2);
    assert_eq!((entries[1].id, entries[1].entered_at), (second, UtcMillis(-1)));
    assert_eq!(entries[0].body, withdrawn);
}

fn withdrawn(entry: i64) -> EntryBody {
    EntryBody::Withdrawn { entry: EntryId(entry), reason: String::new() }
}

#[test]
fn an_act_is_kept_whole_or_not_at_all_and_so_is_one_within_it() {
    let (_dir, path) = place();
    let mut store = Database::open(&path).unwrap();
    let two = [withdrawn(1), withdrawn(2)];
    let refused = store.together(|store| {
        store.add_entries(NOW, &two)?;
        store.together(|store| store.add_entry(NOW, &withdrawn(3)))?;
        store.keep_records(NOW, KEY, &segments([0]))?;
        Err::<(), _>(StoreError::Busy)
    });
    assert!(matches!(refused, Err(StoreError::Busy)));
    assert_eq!(store.entries().unwrap().with_withdrawn().to_vec(), []);
    assert_eq!(*store.logs().unwrap(), []);
    store.add_entries(NOW, &[]).unwrap();
    let last = store.together(|store| {
        store.add_entries(NOW, &two)?;
        store.together(|store| store.add_entry(NOW, &withdrawn(3)))
    });
    let entries = Database::open(&path).unwrap().entries().unwrap().with_withdrawn().to_vec();
    assert_eq!(
        entries.iter().map(|entry| entry.id).collect::<Vec<_>>(),
        [EntryId(1), EntryId(2), EntryId(3)]
    );
    assert_eq!(last.unwrap(), EntryId(3));
    assert!(verify(&store, None).unwrap().is_fine);
}

#[test]
fn of_an_act_that_was_cut_off_on_the_way_nothing_is_there() {
    let (dir, path) = place();
    let mut store = Database::open(&path).unwrap();
    store.add_entry(NOW, &withdrawn(1)).unwrap();
    let left = dir.path().join("left.db");
    store
        .together(|store| {
            store.add_entry(NOW, &withdrawn(2))?;
            // What lies on the disk when the program is ended here.
            for end in ["", "-wal"] {
                let name = |of: &Path| format!("{}{end}", of.display());
                std::fs::copy(name(&path), name(&left)).unwrap();
            }
            store.add_entry(NOW, &withdrawn(3))
        })
        .unwrap();
    let left = Database::open(&left).unwrap();
    assert_eq!(left.entries().unwrap().with_withdrawn().len(), 1);
    assert!(verify(&left, None).unwrap().is_fine);
    assert_eq!(store.entries().unwrap().with_withdrawn().len(), 3);
}

#[test]
fn an_old_name_never_stays_in_the_file_behind_a_larger_act() {
    let (_dir, path) = place();
    let mut store = Database::open(&path).unwrap();
    let one = PersonTag(1);
    store.together(|store| store.set_name(one, Some("Tamsin"))).unwrap();
    assert!(store.together(|store| store.set_name(one, Some("Mirel"))).is_err());
    assert_eq!(store.names().unwrap(), [(one, "Tamsin".to_owned())]);
    store.set_name(one, Some("Mirel")).unwrap();
    assert_eq!(store.names().unwrap(), [(one, "Mirel".to_owned())]);
}

#[test]
fn records_and_entries_can_be_neither_changed_nor_deleted() {
    let (_dir, path) = place();
    let mut store = Database::open(&path).unwrap();
    store.keep_records(NOW, KEY, &segments([0])).unwrap();
    store.add_entry(NOW, &withdrawn(1)).unwrap();
    for forbidden in [
        "DELETE FROM raw_record",
        "UPDATE raw_record SET body = x'00'",
        "DELETE FROM entry",
        "UPDATE entry SET entered_at = 0",
    ] {
        let error = peek(&path).execute(forbidden, ()).unwrap_err().to_string();
        assert!(error.contains("are never"), "{forbidden}: {error}");
    }
}

#[test]
fn a_database_of_a_newer_version_is_refused_and_left_alone() {
    let (_dir, path) = place();
    drop(Database::open(&path).unwrap());
    peek(&path).pragma_update(None, "user_version", 99).unwrap();
    let before = std::fs::read(&path).unwrap();
    assert!(matches!(Database::open(&path), Err(StoreError::Newer { found: 99, known: 4, .. })));
    assert_eq!(std::fs::read(&path).unwrap(), before);
}

#[test]
fn a_file_of_another_kind_is_refused_and_left_alone() {
    let (_dir, path) = place();
    std::fs::write(&path, "rug,hours\nFox,3\n".repeat(100)).unwrap();
    let before = std::fs::read(&path).unwrap();
    assert!(matches!(Database::open(&path), Err(StoreError::Foreign { .. })));
    assert_eq!(std::fs::read(&path).unwrap(), before);
}

#[test]
fn a_database_of_another_program_is_refused_and_left_alone() {
    let (_dir, path) = place();
    peek(&path).execute_batch("CREATE TABLE recipe (name TEXT); PRAGMA user_version = 1;").unwrap();
    let before = std::fs::read(&path).unwrap();
    assert!(matches!(Database::open(&path), Err(StoreError::Foreign { .. })));
    assert_eq!(std::fs::read(&path).unwrap(), before);
}

#[test]
fn an_empty_file_becomes_a_database_and_a_folder_does_not() {
    let (dir, path) = place();
    std::fs::write(&path, "").unwrap();
    assert_eq!(*Database::open(&path).unwrap().logs().unwrap(), []);
    assert!(matches!(Database::open(dir.path()), Err(StoreError::Open { .. })));
}

#[test]
fn a_missing_folder_is_refused_and_not_made() {
    let (dir, _) = place();
    let missing = dir.path().join("stduio");
    let refused = Database::open(&missing.join("studio.db"));
    assert!(matches!(refused, Err(StoreError::NoFolder { folder, .. }) if folder == missing));
    assert!(!missing.exists());
}

#[test]
fn somebody_else_writing_is_said_and_nothing_is_kept() {
    let (_dir, path) = place();
    let mut store = Database::open(&path).unwrap();
    let other = peek(&path);
    other.execute_batch("BEGIN IMMEDIATE").unwrap();
    assert!(matches!(store.keep_records(NOW, KEY, &segments([0])), Err(StoreError::Busy)));
    other.execute_batch("ROLLBACK").unwrap();
    assert_eq!(store.keep_records(NOW, KEY, &segments([0])).unwrap().new, 1);
}

#[test]
fn reading_goes_on_while_somebody_writes() {
    let (_dir, path) = place();
    let mut store = Database::open(&path).unwrap();
    store.keep_records(NOW, KEY, &segments([0])).unwrap();
    let other = peek(&path);
    other.execute_batch("BEGIN IMMEDIATE").unwrap();
    assert_eq!(store.logs().unwrap()[0].segments.len(), 1);
}

#[test]
fn a_mistyped_folder_is_told_and_only_the_usual_one_is_made() {
    let (dir, path) = place();
    let told = run(&path, &["machine", "list", "--db", "stduio/studio.db"]);
    assert_eq!((told.code(), told.out().as_str()), (5, ""));
    let said = told.err_words();
    assert!(said.contains("there is no folder stduio for the database stduio/studio.db"), "{said}");
    assert!(said.contains("Nothing was made"), "{said}");
    let told = run(&path, &["doctor", "--db", "stduio/studio.db", "--port", "/dev/there-is-no-such-port"]);
    assert!(told.out().contains("there is no folder stduio"), "{told:?}");
    assert!(!dir.path().join("stduio").exists());
    let told = run_at_home(dir.path(), &["machine", "add", "Blue"]);
    assert_eq!(told.code(), 0, "{told:?}");
    let made = std::fs::read_dir(dir.path()).unwrap().count();
    assert_eq!(made, 1, "the folder of this system for a program's data, in the home");
}
