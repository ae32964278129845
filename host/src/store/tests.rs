#![allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a test may stop at the first surprise"
)]

use shared_types::limits::MAX_RECORD_BODY;
use shared_types::log::{Event, Record, RecordError, Segment, decode_body, encode_body};
use shared_types::{BootId, LogId, LoggerId, MachineTag, RawAngle, RunMillis, UptimeMillis};
use std::fs;

use super::*;
use host_core::records::log_records::LoggedEvent;

const NOW: UtcMillis = UtcMillis(1_790_000_000_000);
const KEY: LogKey = LogKey { logger: LoggerId(1), log: LogId(2) };

fn raw(seq: u32, event: Event) -> RawRecord {
    let mut out = [0; MAX_RECORD_BODY];
    let record = Record { boot: BootId(1), at: UptimeMillis(u64::from(seq)), event };
    RawRecord { seq: RecordSeq(seq), body: encode_body(&record, &mut out).unwrap().to_vec() }
}

fn segment(seq: u32) -> RawRecord {
    raw(seq, Event::Segment(Segment { run: RunMillis(1_000), edges: 30, angle: None, continues: false }))
}

/// A program from before fittings were recorded.
fn older_reading() -> RecordReader {
    fn read(body: &[u8]) -> Result<Record, RecordError> {
        match decode_body(body) {
            Ok(Record { event: Event::Fitted(_), .. }) => Err(RecordError::Malformed),
            other => other,
        }
    }
    RecordReader { name: "0.0.9/1".to_owned(), read }
}

/// Changes the file past the program.
fn by_another(path: &Path, sql: &str) {
    Connection::open(path).unwrap().execute_batch(sql).unwrap();
}

#[test]
fn records_are_read_once_until_somebody_changes_them() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("studio.db");
    let mut store = Database::open(&path).unwrap();
    let entry = EntryBody::Withdrawn { entry: EntryId(1), reason: "why".to_owned() };
    store.keep_records(NOW, KEY, &[segment(0)]).unwrap();
    let first = store.logs().unwrap();
    store.add_entry(NOW, &entry).unwrap();
    assert!(Rc::ptr_eq(&first, &store.logs().unwrap()), "what the maker says changes no record");
    Database::open(&path).unwrap().add_entry(NOW, &entry).unwrap();
    assert!(Rc::ptr_eq(&first, &store.logs().unwrap()), "nor does what is said in another run");

    Database::open(&path).unwrap().keep_records(NOW, KEY, &[segment(1)]).unwrap();
    assert_eq!(store.logs().unwrap()[0].segments.len(), 2, "another run has kept one");
    store.keep_records(NOW, KEY, &[segment(2)]).unwrap();
    assert_eq!(store.logs().unwrap()[0].segments.len(), 3, "this run has kept one");

    let undone: Result<(), StoreError> = store.together(|store| {
        store.keep_records(NOW, KEY, &[segment(3)])?;
        assert_eq!(store.logs()?[0].segments.len(), 4);
        Err(StoreError::Grown)
    });
    assert!(undone.is_err());
    assert_eq!(store.logs().unwrap()[0].segments.len(), 3, "the act was undone");
}

#[test]
fn a_newer_program_reads_what_an_older_one_only_kept() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("studio.db");
    let records = [segment(0), raw(1, Event::Fitted(MachineTag(3))), segment(2)];
    {
        let mut older = Database::open_with(&path, migrate::MIGRATIONS, older_reading()).unwrap();
        assert_eq!(older.keep_records(NOW, KEY, &records).unwrap().unreadable, 1);
        let logs = older.logs().unwrap();
        assert_eq!((logs[0].unreadable, logs[0].events.len(), logs[0].segments.len()), (1, 0, 2));
    }
    let newer = Database::open(&path).unwrap();
    let logs = newer.logs().unwrap();
    assert_eq!((logs[0].unreadable, logs[0].segments.len()), (0, 2));
    assert_eq!(logs[0].events[0].what, LoggedEvent::Fitted(MachineTag(3)));
    assert_eq!(logs[0].events[0].seq, RecordSeq(1));
}

#[test]
fn derived_tables_are_made_anew_from_the_raw_records_alone() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("studio.db");
    let before = {
        let mut store = Database::open(&path).unwrap();
        store.keep_records(NOW, KEY, &[segment(0), raw(1, Event::Fitted(MachineTag(3)))]).unwrap();
        let logs = store.logs().unwrap();
        let store = Database::open(&path).unwrap();
        by_another(&path, "DELETE FROM segment; DELETE FROM event; UPDATE derived SET made_by = 'nobody'");
        let told = store.logs().unwrap_err();
        assert!(matches!(told, StoreError::SumsDamaged { .. }), "{told}");
        logs
    };
    assert_eq!(Database::open(&path).unwrap().logs().unwrap(), before);
}

#[test]
fn a_segment_that_was_changed_to_another_way_of_storing_the_same_is_damage() {
    let dir = tempfile::tempdir().unwrap();
    let segment =
        Segment { run: RunMillis(1_000), edges: 30, angle: Some(RawAngle::new(7)), continues: true };
    for change in ["continues = 2", "continues = -1", "angle = 4096 + 7", "angle = -1", "edges = 1 << 32"] {
        let path = dir.path().join(format!("{change}.db"));
        let mut store = Database::open(&path).unwrap();
        store.keep_records(NOW, KEY, &[raw(0, Event::Segment(segment))]).unwrap();
        store.logs().unwrap();
        // What is in memory is right all the same, so a run that has read nothing yet is asked.
        let store = Database::open(&path).unwrap();
        by_another(&path, &format!("UPDATE segment SET {change}"));
        let told = store.logs().unwrap_err();
        assert!(matches!(told, StoreError::SumsDamaged { .. }), "{change}: {told}");
    }
}

#[test]
fn a_full_disk_is_said_and_what_was_kept_before_is_whole() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("studio.db");
    let mut store = Database::open(&path).unwrap();
    store.keep_records(NOW, KEY, &[segment(0)]).unwrap();
    let pages: i64 = store.connection.query_row("PRAGMA page_count", (), |row| row.get(0)).unwrap();
    store.connection.execute_batch(&format!("PRAGMA max_page_count = {}", pages + 2)).unwrap();
    let many: Vec<RawRecord> = (1..5_000).map(segment).collect();
    assert!(matches!(store.keep_records(NOW, KEY, &many), Err(StoreError::DiskFull)));
    assert_eq!(store.first_missing(KEY).unwrap(), RecordSeq(1), "all or none");
    assert_eq!(store.logs().unwrap()[0].segments.len(), 1);
    let long = EntryBody::Withdrawn { entry: EntryId(1), reason: "x".repeat(100_000) };
    assert!(matches!(store.add_entry(NOW, &long), Err(StoreError::DiskFull)));
    store.connection.execute_batch("PRAGMA max_page_count = 1000000").unwrap();
    assert_eq!(store.keep_records(NOW, KEY, &many).unwrap().new, 4_999);
    assert_eq!(store.look_for_damage().unwrap(), Vec::<String>::new());
}

#[test]
fn an_act_for_which_the_disk_has_no_room_leaves_nothing() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = Database::open(&dir.path().join("studio.db")).unwrap();
    let long = |letters| EntryBody::Withdrawn { entry: EntryId(1), reason: "x".repeat(letters) };
    let pages: i64 = store.connection.query_row("PRAGMA page_count", (), |row| row.get(0)).unwrap();
    store.connection.execute_batch(&format!("PRAGMA max_page_count = {}", pages + 2)).unwrap();
    assert!(matches!(store.add_entries(NOW, &[long(1), long(100_000)]), Err(StoreError::DiskFull)));
    assert_eq!(store.entries().unwrap().with_withdrawn().len(), 0);
    store.add_entries(NOW, &[long(1), long(2)]).unwrap();
    assert_eq!(store.entries().unwrap().with_withdrawn().len(), 2);
}

fn with_another(sql: &'static str) -> Vec<Migration> {
    let mut steps = migrate::MIGRATIONS.to_vec();
    steps.push(Migration { sql, then: None });
    steps
}

const LATER: &str = "CREATE TABLE later (note TEXT) STRICT; INSERT INTO later VALUES ('new');";

#[test]
fn a_database_is_copied_before_it_is_changed_to_a_newer_version() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("studio.db");
    let mut store = Database::open(&path).unwrap();
    assert_eq!(store.copied_to(), None, "a new one needs no copy");
    store.keep_records(NOW, KEY, &[segment(0)]).unwrap();
    // Left open, so that the record stands in the journal only.
    let steps = with_another(LATER);
    let changed = Database::open_with(&path, &steps, RecordReader::default()).unwrap();
    let copy = changed.copied_to().unwrap().to_owned();
    assert_eq!(copy, dir.path().join("studio.db.version-4"));
    assert_eq!(changed.logs().unwrap()[0].segments.len(), 1);
    assert_eq!(Database::open(&copy).unwrap().logs().unwrap()[0].segments.len(), 1);
    drop((store, changed));
    assert!(matches!(Database::open(&path), Err(StoreError::Newer { found: 5, known: 4, .. })));
}

#[test]
fn an_earlier_copy_is_not_written_over() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("studio.db");
    drop(Database::open(&path).unwrap());
    fs::write(dir.path().join("studio.db.version-4"), "an earlier copy").unwrap();
    let steps = with_another(LATER);
    let changed = Database::open_with(&path, &steps, RecordReader::default()).unwrap();
    assert_eq!(changed.copied_to().unwrap(), dir.path().join("studio.db.version-4-2"));
    assert_eq!(fs::read(dir.path().join("studio.db.version-4")).unwrap(), b"an earlier copy");
}

#[test]
fn a_change_that_fails_leaves_the_database_as_it_was() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("studio.db");
    let mut store = Database::open(&path).unwrap();
    store.keep_records(NOW, KEY, &[segment(0)]).unwrap();
    drop(store);
    let steps = with_another("CREATE TABLE later (note TEXT); CREATE TABLE nonsense (");
    let failed = Database::open_with(&path, &steps, RecordReader::default());
    assert!(matches!(failed, Err(StoreError::Failed { .. })));
    let store = Database::open(&path).unwrap();
    assert_eq!(store.logs().unwrap()[0].segments.len(), 1);
    let later: i64 = store
        .connection
        .query_row("SELECT count(*) FROM sqlite_schema WHERE name = 'later'", (), |row| row.get(0))
        .unwrap();
    assert_eq!(later, 0);
}

#[test]
fn one_pull_at_a_time() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("studio.db");
    let (one, other) = (Database::open(&path).unwrap(), Database::open(&path).unwrap());
    let lock = one.lock_for_pull().unwrap();
    assert!(matches!(other.lock_for_pull(), Err(StoreError::Busy)));
    drop(lock);
    assert!(other.lock_for_pull().is_ok());
}

#[test]
fn the_journal_and_the_waiting_are_set_when_it_is_opened() {
    let dir = tempfile::tempdir().unwrap();
    let store = Database::open(&dir.path().join("studio.db")).unwrap();
    let ask = |pragma: &str| {
        store
            .connection
            .pragma_query_value(None, pragma, |row| row.get::<_, rusqlite::types::Value>(0))
            .unwrap()
    };
    assert_eq!(ask("journal_mode"), "wal".to_owned().into());
    assert_eq!(ask("synchronous"), 2_i64.into(), "FULL: a commit survives a power cut");
    assert_eq!(ask("foreign_keys"), 1_i64.into());
    assert_eq!(ask("application_id"), i64::from(migrate::APPLICATION_ID).into());
    assert_eq!(ask("user_version"), 4_i64.into());
}

/// The places of the steps that are walked while `meanwhile` runs.
fn walked_beside(store: &Database, meanwhile: impl FnOnce()) -> Vec<u64> {
    let mut places = Vec::new();
    let (outside, ()) = store.walk_chain_beside(&mut |step| places.push(step.position), meanwhile);
    assert_eq!(outside.unwrap(), []);
    places
}

#[test]
fn a_chain_that_is_walked_beside_a_reading_ends_where_the_reading_began() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("studio.db");
    let mut store = Database::open(&path).unwrap();
    assert_eq!(walked_beside(&store, || {}), [0_u64; 0], "there is no step yet");
    store.keep_records(NOW, KEY, &[segment(0), segment(1)]).unwrap();
    let entry = EntryBody::Withdrawn { entry: EntryId(1), reason: "why".to_owned() };
    store.add_entry(NOW, &entry).unwrap();
    let add = || Database::open(&path).unwrap().add_entry(NOW, &entry).map(drop).unwrap();
    let seen = Cell::new(0);
    let places = walked_beside(&store, || {
        add();
        seen.set(store.entries().unwrap().with_withdrawn().len());
    });
    assert_eq!((places, seen.get()), (vec![1, 2], 2), "what is added meanwhile is read and not walked");
    assert_eq!(walked_beside(&store, || {}), [1, 2, 3]);
    let within: Result<Vec<u64>, StoreError> = store.together(|store| {
        store.add_entry(NOW, &entry)?;
        Ok(walked_beside(store, || {}))
    });
    assert_eq!(within.unwrap(), [1, 2, 3, 4], "within an act its own steps count");
    drop(store);
    assert_eq!(walked_beside(&Database::open_to_read(&path).unwrap(), || {}), [1, 2, 3, 4]);
}

#[test]
fn another_file_by_the_same_name_is_not_walked_beside_this_one() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("studio.db");
    let mut store = Database::open(&path).unwrap();
    store.keep_records(NOW, KEY, &[segment(0)]).unwrap();
    for name in ["studio.db", "studio.db-wal", "studio.db-shm"] {
        fs::rename(dir.path().join(name), dir.path().join(format!("moved-{name}"))).unwrap();
    }
    let mut other = Database::open(&path).unwrap();
    other.keep_records(NOW, KEY, &[segment(1), segment(2)]).unwrap();
    other.add_entry(NOW, &EntryBody::Withdrawn { entry: EntryId(1), reason: "why".to_owned() }).unwrap();
    assert_eq!(walked_beside(&store, || {}), [1], "the file that was opened");
}
