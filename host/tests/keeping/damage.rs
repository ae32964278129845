//! Damage to the file is an error with a way out, never another answer; and nothing of the maker's is lost by the way out.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::panic,
    reason = "a test may stop at the first surprise"
)]

use crate::bench_studio;
use std::path::{Path, PathBuf};

use crate::bench_studio::program::run;
use crate::bench_studio::{Log, Studio};
use host::app::book::verify::verify;
use host::store::Database;
use rusqlite::Connection;
use rusqlite::config::DbConfig;

/// The example of the catalogue of CRC algorithms for CRC-64/XZ: the sum over the text "123456789".
const CHECK: u64 = 0x995D_C9BB_DF19_39FA;

/// Two bursts of an hour and ten minutes on Fox, a person, and care.
fn studio() -> Studio {
    let studio = Studio::new();
    let mut log = Log::new();
    log.run(10, 60, 300).run(120, 10, 700);
    studio.pulled(&log);
    studio.rug("Fox", "roll 1");
    studio.ok(&["person", "add", "Quillfeather"]);
    studio
}

fn past_the_guards(path: &Path) -> Connection {
    let past = Connection::open(path).unwrap();
    past.set_db_config(DbConfig::SQLITE_DBCONFIG_ENABLE_TRIGGER, false).unwrap();
    past
}

/// A studio whose file somebody or something changed.
fn spoiled(sql: &str) -> Studio {
    let studio = studio();
    past_the_guards(&studio.path()).execute_batch(sql).unwrap();
    studio
}

#[test]
fn the_row_sum_is_the_one_that_the_document_names() {
    assert_eq!(crc::Crc::<u64>::new(&crc::CRC_64_XZ).checksum(b"123456789"), CHECK);
    // One row of `log` by RECORD_BOOK.md: for each number a 1 and eight bytes, the lowest first.
    let studio = studio();
    let bytes: Vec<u8> =
        [1_i64, 0xA1, 0xB2].iter().flat_map(|number| [&[1][..], &number.to_le_bytes()].concat()).collect();
    let expected = crc::Crc::<u64>::new(&crc::CRC_64_XZ).checksum(&bytes).cast_signed();
    let stored: (i64, i64) = Connection::open(studio.path())
        .unwrap()
        .query_row("SELECT row_count, row_sum FROM content_sum WHERE content = 'log'", (), |row| {
            Ok((row.get(0)?, row.get(1)?))
        })
        .unwrap();
    assert_eq!(stored, (1, expected));
}

#[test]
fn what_was_changed_or_taken_out_past_the_program_is_an_error_of_every_answer() {
    for sql in [
        "UPDATE entry SET body = replace(body, 'Rosie', 'Rosa')",
        "DELETE FROM entry WHERE id = 5",
        "UPDATE entry SET entered_at = entered_at + 1 WHERE id = 3",
        "UPDATE hello SET total_run_ms = total_run_ms + 60000",
        "DELETE FROM hello",
        "UPDATE log SET logger = 162",
        "UPDATE segment SET run_ms = run_ms + 1 WHERE seq = 2",
        "DELETE FROM segment WHERE seq = 3",
        "UPDATE raw_record SET body = CAST(body || x'00' AS BLOB) WHERE seq = 1",
        "DELETE FROM event WHERE seq = 1",
        "INSERT INTO conflict SELECT log_id, seq FROM segment",
        "DELETE FROM content_sum WHERE content = 'segment'",
    ] {
        let studio = spoiled(sql);
        for command in ["hours", "due", "speed", "book"] {
            let told = studio.ask(&[command]);
            assert_eq!((told.code(), told.out().as_str()), (5, ""), "{command} after {sql}: {told:?}");
            let words = told.err_words();
            assert!(words.contains("the database is damaged"), "{words}");
            assert!(words.contains("rescue NEW.db") || words.contains("verify --renew"), "{words}");
        }
    }
}

#[test]
fn a_damaged_name_is_an_error_where_names_are_shown() {
    let studio = spoiled("UPDATE person_name SET name = 'Quillfeathes'");
    assert_eq!(studio.ask(&["person", "list"]).code(), 5);
    assert_eq!(studio.ask(&["book"]).code(), 5);
}

#[test]
fn sums_are_made_anew_only_from_records_that_read_as_they_were_kept() {
    let studio = spoiled("UPDATE segment SET run_ms = 1 WHERE seq = 2");
    assert_eq!(studio.ask(&["hours"]).code(), 5);
    studio.ok(&["verify", "--renew"]);
    assert!(studio.ok(&["hours"]).contains("1 h 10 min"));
    // A changed record is not taken for what was counted, also not by a newer program that derives anew.
    for sql in [
        "UPDATE raw_record SET body = CAST(body || x'00' AS BLOB) WHERE seq = 2",
        "UPDATE raw_record SET body = CAST(body || x'00' AS BLOB) WHERE seq = 2; UPDATE derived SET made_by = 'older'",
    ] {
        let studio = spoiled(sql);
        let told = studio.ask(&["verify", "--renew"]);
        assert_eq!(told.code(), 5, "{told:?}");
        assert!(told.err_words().contains("the loggers' records cannot be read"), "{told:?}");
    }
}

#[test]
fn damage_from_before_there_were_sums_is_not_sealed() {
    let studio = spoiled(
        "UPDATE entry SET body = replace(body, 'Rosie', 'Rosa'); DROP TABLE content_sum; PRAGMA user_version = 3",
    );
    let told = studio.ask(&["hours"]);
    assert_eq!(told.code(), 5, "{told:?}");
    assert!(told.err_words().contains("what was kept before this version"), "{told:?}");
    let version: i64 = Connection::open(studio.path())
        .unwrap()
        .pragma_query_value(None, "user_version", |row| row.get(0))
        .unwrap();
    assert_eq!(version, 3, "it was left as it is");
}

fn rescued(studio: &Studio) -> (PathBuf, serde_json::Value, i32) {
    let path = studio.path();
    // The last one that closes it takes its journal in; nothing is open here.
    let before = std::fs::read(&path).unwrap();
    let told = studio.ask(&["rescue", "new.db", "--json"]);
    assert_eq!(told.err(), "");
    assert_eq!(std::fs::read(&path).unwrap(), before, "the damaged file is not touched");
    let new = path.with_file_name("new.db");
    assert!(verify(&Database::open(&new).unwrap(), None).unwrap().is_fine);
    (new, told.json(), told.code())
}

fn records_in(studio: &Studio) -> i64 {
    Connection::open(studio.path())
        .unwrap()
        .query_row("SELECT count(*) FROM raw_record", (), |row| row.get(0))
        .unwrap()
}

#[test]
fn a_damaged_entry_is_listed_and_everything_else_is_rescued() {
    let studio = spoiled("UPDATE entry SET body = replace(body, 'roll 1', 'rolm 1')");
    let records = records_in(&studio);
    let (new, report, code) = rescued(&studio);
    assert_eq!(
        (code, &report["entries"], &report["records"], &report["names"]),
        (7, &5.into(), &records.into(), &1.into())
    );
    let missing = report["missing"].as_array().unwrap();
    assert_eq!((missing.len(), &missing[0]["what"], &missing[0]["entry"]), (1, &"entry".into(), &4.into()));
    assert!(missing[0]["reads"].as_str().unwrap().contains("rolm 1"));
    let told = run(&new, &["hours"]);
    assert!(told.ok().contains("1 h 10 min"), "{told:?}");
    let later = run(&new, &["verify"]).ok();
    assert!(later.contains("made later than what they cover was kept"), "{later}");
    let again = studio.ask(&["rescue", "new.db"]);
    assert_eq!(again.code(), 5);
    assert!(again.err_words().contains("there is already a file"), "{again:?}");
}

#[test]
fn a_damaged_record_is_listed_and_the_others_of_its_group_are_rescued() {
    let studio = spoiled("UPDATE raw_record SET body = CAST(x'00' || body AS BLOB) WHERE seq = 3");
    let records = records_in(&studio);
    let (new, report, code) = rescued(&studio);
    assert_eq!((code, &report["entries"], &report["records"]), (7, &6.into(), &(records - 1).into()));
    assert_eq!(
        report["missing"],
        serde_json::json!([{"what": "records", "log": "00000000000000a1/000000b2", "numbers": "0:3-3"}])
    );
    let told = run(&new, &["hours"]);
    assert!(told.ok().contains("1 h"), "{told:?}");
}

#[test]
fn a_spoiled_page_of_every_kind_leaves_a_database_that_answers() {
    let studio = studio();
    let whole = std::fs::read(studio.path()).unwrap();
    let pages = whole.len() / 4096;
    assert!(pages > 12, "{pages}");
    let mut saved = 0;
    // The first page is the list of the tables.
    for page in 0..pages {
        let mut spoiled = whole.clone();
        spoiled[page * 4096..(page + 1) * 4096].fill(0);
        std::fs::write(studio.path(), &spoiled).unwrap();
        drop(std::fs::remove_file(studio.path().with_file_name("new.db")));
        let (_, report, _) = rescued(&studio);
        saved += report["entries"].as_i64().unwrap();
    }
    // Six entries each time, but for the page on which the entries themselves are.
    assert_eq!(saved, 6 * (i64::try_from(pages).unwrap() - 1));
}

#[test]
fn a_file_without_damage_is_rescued_whole() {
    let studio = studio();
    let (new, report, code) = rescued(&studio);
    assert_eq!((code, &report["is_whole"], &report["missing"]), (0, &true.into(), &serde_json::json!([])));
    assert_eq!(run(&new, &["hours"]).ok(), studio.ok(&["hours"]));
    assert_eq!(run(&new, &["person", "list"]).ok(), studio.ok(&["person", "list"]));
}

#[test]
fn verify_tells_guards_that_are_gone_changed_or_foreign() {
    let cases = [
        (
            "DROP TRIGGER entry_is_never_changed",
            "missing",
            "guard entry_is_never_changed of the table entry is gone",
        ),
        (
            "DROP TRIGGER chain_is_never_deleted;
             CREATE TRIGGER chain_is_never_deleted BEFORE DELETE ON chain BEGIN SELECT 1; END",
            "changed",
            "guard chain_is_never_deleted of the table chain was changed",
        ),
        (
            "CREATE TRIGGER more AFTER INSERT ON entry BEGIN SELECT 1; END",
            "foreign",
            "trigger more on entry is not the program's",
        ),
        ("CREATE VIEW hours AS SELECT 1", "foreign", "view hours on hours is not the program's"),
        ("CREATE TABLE recipe (name TEXT)", "foreign", "table recipe on recipe is not the program's"),
        ("DROP INDEX hello_by_log", "missing", "index hello_by_log is gone"),
    ];
    for (sql, why, words) in cases {
        let studio = spoiled(sql);
        let told = studio.ask(&["verify"]);
        assert_eq!(told.code(), 7, "{sql}");
        assert!(told.out().contains(words), "{told:?}");
        let report = studio.ask(&["verify", "--json"]).json();
        assert_eq!((&report["is_whole"], &report["is_fine"]), (&true.into(), &false.into()));
        assert_eq!(
            (report["guards"].as_array().unwrap().len(), &report["guards"][0]["why"]),
            (1, &why.into()),
            "{sql}"
        );
    }
}

#[test]
fn verify_tells_which_steps_were_made_later() {
    let (_folder, path) = bench_studio::program::place();
    Connection::open(&path).unwrap().execute_batch(include_str!("../golden/version_1.sql")).unwrap();
    let first = run(&path, &["verify"]);
    assert_eq!(first.code(), 0);
    assert!(first.out().contains("Steps 1 to 8 were made later than what they cover was kept"), "{first:?}");
    assert!(first.err_words().contains("as it was before, it lies in"), "{first:?}");
    run(&path, &["person", "add", "Ana"]).ok();
    let report = run(&path, &["verify", "--json"]).json();
    assert_eq!(
        (&report["steps"], &report["chained_later"]),
        (&9.into(), &serde_json::json!([{"first_step": 1, "last_step": 8, "at_utc_ms": null}]))
    );
    // A chain that was made as things arrived says nothing of the kind.
    assert_eq!(studio().json(&["verify", "--json"])["chained_later"], serde_json::json!([]));
}

#[test]
fn a_damaged_journal_takes_nothing_back_in_silence() {
    let studio = studio();
    // Somebody who has it open keeps what two commands write in the journal, as a killed program would.
    let reader = Connection::open(studio.path()).unwrap();
    reader.execute_batch("PRAGMA journal_mode = WAL; BEGIN; SELECT count(*) FROM entry").unwrap();
    studio.ok(&["person", "add", "Ana"]);
    let journal = studio.path().with_file_name("studio.db-wal");
    let first_act = std::fs::metadata(&journal).unwrap().len();
    studio.ok(&["person", "add", "Ben"]);
    let (main, whole) = (std::fs::read(studio.path()).unwrap(), std::fs::read(&journal).unwrap());
    drop(reader);
    let left = studio.path().with_file_name("left.db");
    let put = |journal: &[u8]| {
        std::fs::write(&left, &main).unwrap();
        std::fs::write(left.with_file_name("left.db-wal"), journal).unwrap();
        drop(std::fs::remove_file(left.with_file_name("left.db-shm")));
    };
    put(&whole);
    let right = run(&left, &["person", "list"]).ok();
    assert!(right.contains("Ana") && right.contains("Ben"), "{right}");
    let mut told = 0;
    for at in (0..usize::try_from(first_act).unwrap()).step_by(331) {
        let mut damaged = whole.clone();
        damaged[at] ^= 0x10;
        put(&damaged);
        let got = run(&left, &["person", "list"]);
        assert!(got.code() == 5 || got.out() == right, "byte {at}: {got:?}");
        told += i32::from(got.code() == 5);
    }
    assert!(told > 20, "{told}");
    // What a power cut leaves of an act that was never said to be kept is no damage.
    put(&whole[..whole.len() - 3000]);
    assert_eq!(run(&left, &["person", "list"]).ok().matches("Ana").count(), 1);
}

fn stands_in_a_file(studio: &Studio, name: &str) -> bool {
    std::fs::read_dir(studio.path().parent().unwrap()).unwrap().any(|file| {
        let content = std::fs::read(file.unwrap().path()).unwrap();
        content.windows(name.len()).any(|window| window == name.as_bytes())
    })
}

#[test]
fn an_erased_name_is_gone_once_nobody_reads_any_more_and_until_then_it_is_said() {
    let studio = studio();
    let reader = Connection::open(studio.path()).unwrap();
    reader.execute_batch("BEGIN; SELECT count(*) FROM entry").unwrap();
    let begun = std::time::Instant::now();
    let told = studio.ok(&["person", "erase", "Quillfeather"]);
    assert!(begun.elapsed().as_secs() < 15, "{:?}", begun.elapsed());
    assert!(told.contains("Not finished yet: another program is reading"), "{told}");
    assert!(stands_in_a_file(&studio, "Quillfeather"), "it could not be taken out");
    // Whoever opens it meanwhile is not held up by it, and does not see the name.
    assert!(!studio.ok(&["person", "list"]).contains("Quill"));
    drop(reader);
    assert!(!studio.ok(&["person", "list"]).contains("Quill"));
    assert!(!stands_in_a_file(&studio, "Quillfeather"));
    assert_eq!(studio.ask(&["verify"]).code(), 0);
}

#[test]
fn an_erased_name_is_gone_from_pages_that_were_put_in_order_meanwhile() {
    let studio = studio();
    // Names of many lengths, put right many times: SQLite moves them about on their page.
    for round in 0..40 {
        let (name, other) = (format!("Marlowe {}", "x".repeat(50 - round)), format!("Person {round}"));
        studio.ok(&["person", "add", &name]);
        studio.ok(&["person", "rename", &name, &other]);
        studio.ok(&["person", "add", &format!("Wend {round}{}", "y".repeat(round))]);
    }
    assert!(!stands_in_a_file(&studio, "Marlowe"));
    let told = studio.ok(&["person", "erase", "Quillfeather"]);
    assert!(told.contains("is erased") && !stands_in_a_file(&studio, "Quillfeather"), "{told}");
}
