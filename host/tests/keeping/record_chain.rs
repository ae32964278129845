//! The chain over everything that is kept: every change that somebody makes past the program is told, and where it is.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::panic,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a test may stop at the first surprise"
)]

use crate::bench_studio;
use std::path::Path;

use crate::bench_studio::{Log, MONDAY_8, Studio};
use host::app::book::verify::{VerifyReport, verify};
use host::app::ports::book::{Chained, Names};
use host::store::Database;
use host_core::book::{Against, Break, Covers, Why};
use host_core::entries::{self, EntryId, PersonTag};
use rusqlite::Connection;

/// What somebody does who opens the file with another program and knows how to pass its guards without a trace.
fn past_the_guards(path: &Path) -> Connection {
    let connection = Connection::open(path).unwrap();
    connection.set_db_config(rusqlite::config::DbConfig::SQLITE_DBCONFIG_ENABLE_TRIGGER, false).unwrap();
    connection
}

/// Three entries, then a hearing and three groups of records, then two entries more; and a way past the program.
fn studio() -> (Studio, Connection) {
    let studio = Studio::new();
    let mut log = Log::new();
    log.run_seconds(10, 9, 300, 10).run_seconds(20, 9, 700, 10);
    studio.pulled(&log);
    studio.rug("Fox", "roll 1");
    let connection = past_the_guards(&studio.path());
    (studio, connection)
}

fn checked(path: &Path) -> VerifyReport {
    verify(&Database::open(path).unwrap(), None).unwrap()
}

fn breaks_after(sql: &str) -> Vec<Break> {
    let (studio, past) = studio();
    past.execute_batch(sql).unwrap();
    let report = checked(&studio.path());
    assert!(!report.is_fine, "{sql}");
    report.chain.breaks
}

fn broken(step: Option<u64>, covers: Covers, why: Why) -> Break {
    Break { step, covers: Some(covers), why }
}

#[test]
fn a_studio_that_nobody_touched_is_whole() {
    let (studio, _past) = studio();
    let report = checked(&studio.path());
    assert!(report.is_fine);
    let chain = &report.chain;
    assert_eq!((chain.steps, chain.entries, chain.heard, chain.record_groups), (7, 5, 1, 1));
}

#[test]
fn every_byte_of_every_entry_is_guarded_and_the_entry_is_named() {
    let (studio, past) = studio();
    let store = studio.database();
    let entries: Vec<(i64, Vec<u8>, Vec<u8>)> = past
        .prepare("SELECT id, CAST(kind AS BLOB), CAST(body AS BLOB) FROM entry ORDER BY id")
        .unwrap()
        .query_map((), |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?)))
        .unwrap()
        .map(Result::unwrap)
        .collect();
    assert_eq!(entries.len(), 5);
    let mut flipped = 0;
    for (id, kind, body) in &entries {
        for (column, content) in [("kind", kind), ("body", body)] {
            for place in 0..content.len() {
                let mut other = content.clone();
                other[place] ^= 1;
                let write = |bytes: &[u8]| {
                    let sql = format!("UPDATE entry SET {column} = CAST(?2 AS TEXT) WHERE id = ?1");
                    assert_eq!(past.execute(&sql, (id, bytes)).unwrap(), 1);
                };
                write(&other);
                let found = verify(&store, None).unwrap().chain.breaks;
                let named: Vec<_> = found.iter().map(|broken| (&broken.covers, broken.why)).collect();
                let expected = Some(Covers::Entry { entry: *id });
                assert_eq!(named, [(&expected, Why::Changed)], "entry {id}, byte {place} of its {column}");
                write(content);
                flipped += 1;
            }
        }
    }
    assert!(flipped > 300, "{flipped}");
    assert!(verify(&store, None).unwrap().is_fine, "all of it was put back");
}

#[test]
fn an_entrys_moment_and_its_number_are_guarded() {
    let entry = |entry| Covers::Entry { entry };
    assert_eq!(
        breaks_after("UPDATE entry SET entered_at = entered_at + 1 WHERE id = 2"),
        [broken(Some(2), entry(2), Why::Changed)]
    );
    assert_eq!(
        breaks_after("UPDATE entry SET id = 77 WHERE id = 2"),
        [broken(Some(2), entry(2), Why::Gone), broken(None, entry(77), Why::PutInPastTheChain)]
    );
}

#[test]
fn an_entry_taken_out_put_in_or_in_anothers_place_is_told() {
    let entry = |entry| Covers::Entry { entry };
    assert_eq!(breaks_after("DELETE FROM entry WHERE id = 3"), [broken(Some(3), entry(3), Why::Gone)]);
    assert_eq!(
        breaks_after(
            "INSERT INTO entry (entered_at, kind, body) SELECT entered_at, kind, body FROM entry WHERE id = 4"
        ),
        [broken(None, entry(6), Why::PutInPastTheChain)]
    );
    let swapped =
        "UPDATE entry SET (kind, body) = (SELECT kind, body FROM entry other WHERE other.id = 7 - entry.id)
                   WHERE id = 3 OR id = 4";
    // SQLite changes row after row, so the first of the two is kept aside.
    let swapped = swapped.replace("FROM entry other", "FROM temp.kept other");
    let swap = format!("CREATE TEMP TABLE kept AS SELECT * FROM entry; {swapped}");
    let found = breaks_after(&swap);
    let named: Vec<_> = found.iter().map(|broken| (broken.covers.clone(), broken.why)).collect();
    assert_eq!(named, [(Some(entry(3)), Why::Changed), (Some(entry(4)), Why::Changed)]);
}

#[test]
fn links_cannot_be_changed_or_taken_out_unseen() {
    let gone = breaks_after("DELETE FROM chain WHERE position = 2");
    assert_eq!(
        gone,
        [
            Break { step: Some(2), covers: None, why: Why::StepGone },
            broken(None, Covers::Entry { entry: 2 }, Why::PutInPastTheChain)
        ]
    );
    let other = breaks_after("UPDATE chain SET link = zeroblob(32) WHERE position = 2");
    let steps: Vec<_> = other.iter().map(|broken| (broken.step, broken.why)).collect();
    assert_eq!(steps, [(Some(2), Why::Changed), (Some(3), Why::Changed)]);
    for sql in [
        "UPDATE chain SET link = x'00' WHERE position = 2",
        "UPDATE chain SET row_id = 3 WHERE position = 2",
        "UPDATE chain SET covers = 'heard' WHERE position = 1",
        "UPDATE chain SET covers = 'nothing' WHERE position = 1",
        "UPDATE chain SET numbers = '0:0-1' WHERE covers = 'records'",
        "UPDATE chain SET numbers = 'none' WHERE covers = 'records'",
        "UPDATE chain SET position = 99 WHERE position = 7",
    ] {
        assert!(!breaks_after(sql).is_empty(), "{sql}");
    }
}

#[test]
fn the_loggers_records_are_guarded_as_they_came() {
    let records =
        || Covers::Records { log: "00000000000000a1/000000b2".to_owned(), numbers: "0:0-3".to_owned() };
    for sql in [
        "UPDATE raw_record SET body = CAST(x'00' || body AS BLOB) WHERE seq = 2",
        "UPDATE raw_record SET received_at = received_at + 1 WHERE seq = 2",
        "DELETE FROM raw_record WHERE seq = 2",
        "DELETE FROM raw_record WHERE seq = 3",
    ] {
        let found = breaks_after(sql);
        assert_eq!(found, [broken(Some(5), records(), Why::Changed)], "{sql}");
    }
    let found = breaks_after(
        "INSERT INTO raw_record SELECT log_id, 9, 0, received_at, body FROM raw_record WHERE seq = 2",
    );
    let put_in = Covers::Records { log: "00000000000000a1/000000b2".to_owned(), numbers: "0:9-9".to_owned() };
    assert_eq!(found, [broken(None, put_in, Why::PutInPastTheChain)]);
    let found = breaks_after("UPDATE log SET logger = 5");
    assert_eq!((found.len(), found[0].why), (1, Why::Changed));
}

#[test]
fn every_column_of_a_hearing_is_guarded() {
    let (studio, past) = studio();
    let columns: Vec<String> = past
        .prepare("SELECT name FROM pragma_table_info('hello')")
        .unwrap()
        .query_map((), |row| row.get(0))
        .unwrap()
        .map(Result::unwrap)
        .collect();
    assert_eq!(columns.len(), 19);
    let store = studio.database();
    for column in columns {
        let other = match column.as_str() {
            "place" | "firmware" | "build" | "settings" => "'other'",
            _ => "7",
        };
        past.execute_batch(&format!(
            "CREATE TEMP TABLE kept AS SELECT * FROM hello; UPDATE hello SET {column} = {other};"
        ))
        .unwrap();
        assert!(!verify(&store, None).unwrap().chain.is_whole, "{column}");
        past.execute_batch("DELETE FROM hello; INSERT INTO hello SELECT * FROM kept; DROP TABLE kept;")
            .unwrap();
        assert!(verify(&store, None).unwrap().is_fine, "{column}");
    }
}

#[test]
fn sums_that_do_not_fit_the_records_are_told_and_made_anew() {
    for sql in [
        "UPDATE segment SET run_ms = run_ms + 1",
        "DELETE FROM segment WHERE seq = 3",
        "INSERT INTO segment SELECT log_id, 50, boot, at_ms, run_ms, edges, angle, continues FROM segment LIMIT 1",
        "UPDATE event SET kind = 'press' WHERE seq = 0",
    ] {
        let (studio, past) = studio();
        past.execute_batch(sql).unwrap();
        let report = checked(&studio.path());
        assert!(report.chain.is_whole && report.summaries_differ > 0 && !report.is_fine, "{sql}");
        let told = studio.ask(&["verify"]);
        assert_eq!(told.code(), 7);
        assert!(told.out().contains("needlehours verify --renew"), "{told:?}");
        assert_eq!(studio.ask(&["verify", "--renew"]).code(), 0);
        assert_eq!(studio.database().summaries_that_differ().unwrap(), 0);
    }
}

#[test]
fn new_entries_go_on_behind_a_change_and_the_change_stays_visible() {
    let (studio, past) = studio();
    past.execute_batch("UPDATE entry SET body = replace(body, 'Rosie', 'Rosa') WHERE id = 1").unwrap();
    studio.rug("Bear", "roll 2");
    let report = checked(&studio.path());
    assert_eq!(report.chain.steps, 9);
    assert_eq!(report.chain.breaks, [broken(Some(1), Covers::Entry { entry: 1 }, Why::Changed)]);
}

#[test]
fn a_head_of_yesterday_holds_after_new_entries_and_not_after_a_chain_made_anew() {
    let (studio, past) = studio();
    let head = checked(&studio.path()).chain.head.to_string();
    studio.rug("Bear", "roll 2");
    let told = studio.json(&["verify", "--against", &head, "--json"]);
    assert_eq!((&told["against_result"], &told["is_fine"]), (&"holds".into(), &true.into()));
    assert_eq!(told["against"], head.as_str());

    // Somebody changes an old entry and makes every link anew, with the program's own way of making them.
    past.execute_batch("UPDATE entry SET body = replace(body, 'Rosie', 'Rosa') WHERE id = 1; DROP TABLE chain; PRAGMA user_version = 1; DELETE FROM person_name; DROP TABLE person_name;")
        .unwrap();
    let report = checked(&studio.path());
    assert!(report.is_fine, "without the older head nothing shows");
    let told = studio.ask(&["verify", "--against", &head]);
    assert_eq!(told.code(), 7);
    assert!(told.out().contains("DOES NOT HOLD"), "{told:?}");
}

#[test]
fn an_unknown_head_and_a_shorter_record_fail_clearly() {
    let (studio, past) = studio();
    let report = checked(&studio.path());
    let (_, link) =
        report.chain.head.to_string().split_once('-').map(|(n, l)| (n.to_owned(), l.to_owned())).unwrap();
    let against = |head: &str| verify(&studio.database(), Some(head)).unwrap().chain.against_result.unwrap();
    assert_eq!(against(&link.to_uppercase()), Against::Holds);
    assert_eq!(against(&"ab".repeat(32)), Against::Unknown);
    assert_eq!(against(&format!("8-{link}")), Against::Shorter);
    assert_eq!(against(&format!("6-{link}")), Against::Rewritten);
    past.execute_batch("DELETE FROM entry WHERE id = 5; DELETE FROM chain WHERE position = 7;").unwrap();
    let report = checked(&studio.path());
    assert!(report.chain.is_whole, "cut off at its end, the rest holds");
    // The entries and the chain, each with one row less than their sums say.
    assert_eq!((report.is_fine, report.summaries_differ), (false, 2));
    let told = studio.ask(&["verify", "--against", &format!("7-{link}")]);
    assert_eq!(told.code(), 7);
    assert!(told.out().contains("shorter"), "{told:?}");
    for head in ["", "7", "7-abc", "seven"] {
        assert_eq!(studio.ask(&["verify", "--against", head]).code(), 6, "{head}");
    }
}

#[test]
fn a_spoiled_row_does_not_stop_the_check_or_the_next_entry() {
    let (studio, past) = studio();
    past.execute_batch("UPDATE entry SET body = CAST(x'ff' AS TEXT) WHERE id = 5").unwrap();
    past.execute_batch("UPDATE chain SET link = x'' WHERE position = 7").unwrap();
    studio.tell(entries::EntryBody::Withdrawn { entry: EntryId(1), reason: "a test".to_owned() });
    let told = studio.ask(&["verify"]);
    assert_eq!(told.code(), 7);
    assert!(told.out().contains("Entry 5") && told.out().contains("8 steps"), "{told:?}");
}

/// The file as the program wrote it before there was a chain.
const VERSION_1: &str = include_str!("../golden/version_1.sql");

#[test]
fn a_database_from_before_the_chain_opens_and_is_chained_as_the_document_says() {
    let (_folder, path) = bench_studio::program::place();
    Connection::open(&path).unwrap().execute_batch(VERSION_1).unwrap();
    let report = checked(&path);
    assert!(report.is_fine);
    // Made by hashlib of Python 3 from the rows of golden/version_1.sql, by RECORD_BOOK.md alone.
    assert_eq!(
        report.chain.head.to_string(),
        "8-86d638913b3408e3cca92829da095477a3b98bd64bda9569d59127b807448d71"
    );
    assert!(path.with_file_name("studio.db.version-1").exists(), "copied before it was changed");
    let past = past_the_guards(&path);
    past.execute_batch("UPDATE entry SET body = replace(body, 'Rosie', 'Rosa')").unwrap();
    assert_eq!(checked(&path).chain.breaks, [broken(Some(1), Covers::Entry { entry: 1 }, Why::Changed)]);
}

#[test]
fn names_can_be_put_right_and_erased_without_touching_the_chain() {
    const NAME: &str = "Quillfeather";
    let (studio, _past) = studio();
    let head = checked(&studio.path()).chain.head.to_string();
    let mut store = studio.database();
    store.set_name(PersonTag(1), Some("Quilfether")).unwrap();
    store.set_name(PersonTag(1), Some(NAME)).unwrap();
    assert_eq!(store.names().unwrap(), [(PersonTag(1), NAME.to_owned())]);
    assert_eq!(verify(&store, Some(&head)).unwrap().chain.head.to_string(), head);
    let is_in_a_file = |name: &[u8]| {
        let mut files = std::fs::read_dir(studio.path().parent().unwrap()).unwrap();
        files.any(|entry| {
            std::fs::read(entry.unwrap().path()).unwrap().windows(name.len()).any(|window| window == name)
        })
    };
    assert!(is_in_a_file(NAME.as_bytes()), "what was never there cannot be erased");
    store.set_name(PersonTag(1), None).unwrap();
    assert_eq!(store.names().unwrap(), []);
    assert!(verify(&store, Some(&head)).unwrap().is_fine);
    // Erased in the file and its journal, too.
    assert!(!is_in_a_file(NAME.as_bytes()) && !is_in_a_file(b"Quilfether"));
}

#[test]
fn a_link_is_what_sha_256_says_of_the_rows_own_text() {
    // The bytes are written down here as RECORD_BOOK.md describes them, without the program's own way of making them.
    use sha2::{Digest, Sha256};
    let (_studio, past) = studio();
    let mut previous = "0".repeat(64);
    for position in 1..=3 {
        let (link, entered_at, kind, body): (Vec<u8>, i64, String, String) = past
            .query_row(
                "SELECT link, entered_at, kind, body FROM chain JOIN entry ON entry.id = row_id WHERE position = ?1",
                (position,),
                |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?, row.get(3)?)),
            )
            .unwrap();
        assert_eq!(entered_at, MONDAY_8);
        let bytes = format!(
            "19:needlehours chain 1,64:{previous},1:{position},5:entry,1:{position},13:{entered_at},{}:{kind},{}:{body},",
            kind.len(),
            body.len()
        );
        assert_eq!(Sha256::digest(bytes.as_bytes()).as_slice(), link);
        previous = link.iter().map(|byte| format!("{byte:02x}")).collect();
    }
}
