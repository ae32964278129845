//! Whoever changes any one value in the database past the program is found out by `verify`, whichever table it is in.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::panic,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a test may stop at the first surprise"
)]

use std::path::Path;

use crate::bench_studio::{LOG, Log, MONDAY_8, Studio};
use host::app::book::verify::verify;
use host::app::ports::{RawRecord, Store};
use host::store::Database;
use rusqlite::Connection;
use shared_types::{RecordSeq, UtcMillis};

/// Tables that are outside: people's names by design, and by whom the sums were made, which only makes them be made anew.
/// The mark of an erasure under way only makes the program clean the file again.
const OUTSIDE: [&str; 3] = ["person_name", "derived", "erasure"];

/// A studio with a row of every kind: entries, a hearing, records, one number with two contents, one record that cannot be
/// read, numbers that are gone, a name, steps chained later; and a way past its guards.
fn studio() -> (Studio, Connection) {
    let studio = Studio::new();
    let mut log = Log::new();
    log.run_seconds(10, 9, 300, 10).run_seconds(20, 9, 700, 10);
    studio.pulled(&log);
    let mut store = studio.database();
    let raw = |seq, body: &[u8]| RawRecord { seq: RecordSeq(seq), body: body.to_vec() };
    let now = UtcMillis(MONDAY_8);
    store.keep_records(now, LOG, &[raw(2, b"other bytes"), raw(9, b"\xff\xff\xff")]).unwrap();
    store.note_gone(LOG, RecordSeq(4), RecordSeq(9)).unwrap();
    drop(store);
    // Chained anew, as a database from before the chain is, so that steps are noted as chained later.
    Connection::open(studio.path())
        .unwrap()
        .execute_batch("DROP TABLE chain; DROP TABLE person_name; PRAGMA user_version = 1")
        .unwrap();
    drop(studio.database());
    studio.ok(&["person", "add", "Ana"]);
    let past = past_the_guards(&studio.path());
    let triggers: Vec<String> = past
        .prepare("SELECT name FROM sqlite_schema WHERE type = 'trigger'")
        .unwrap()
        .query_map((), |row| row.get(0))
        .unwrap()
        .map(Result::unwrap)
        .collect();
    assert_eq!(triggers.len(), 8, "entries, records, links and gaps are guarded against slips");
    (studio, past)
}

/// A way past the triggers that leaves no trace of itself.
fn past_the_guards(path: &Path) -> Connection {
    let past = Connection::open(path).unwrap();
    past.set_db_config(rusqlite::config::DbConfig::SQLITE_DBCONFIG_ENABLE_TRIGGER, false).unwrap();
    past
}

fn texts(past: &Connection, sql: &str) -> Vec<String> {
    let mut rows = past.prepare(sql).unwrap();
    rows.query_map((), |row| row.get(0)).unwrap().map(Result::unwrap).collect()
}

/// What makes each column another one: a number more by one or by far, a text or bytes with more in them, nothing at all.
fn changes(of_type: &str, may_be_null: bool, column: &str) -> Vec<String> {
    let mut changes = match of_type {
        "INTEGER" => vec![format!("ifnull({column}, 6) + 1"), format!("ifnull({column}, 6) + 1000")],
        "TEXT" => vec![format!("{column} || 'x'"), "''".to_owned()],
        _ => vec![format!("CAST(x'00' || {column} AS BLOB)")],
    };
    if may_be_null {
        changes.push("NULL".to_owned());
    }
    changes
}

/// Whether `verify` finds something after a change to a copy of the database; none when the change changes nothing or
/// the database does not take it.
fn is_found(base: &Path, sql: &str) -> Option<bool> {
    let copy = base.with_file_name("copy.db");
    for old in ["copy.db", "copy.db-wal", "copy.db-shm"] {
        drop(std::fs::remove_file(base.with_file_name(old)));
    }
    std::fs::copy(base, &copy).unwrap();
    let past = past_the_guards(&copy);
    past.execute_batch("PRAGMA foreign_keys = OFF").unwrap();
    let changed = past.execute(sql, ());
    drop(past);
    (changed.ok()? > 0).then(|| !verify(&Database::open(&copy).unwrap(), None).unwrap().is_fine)
}

#[test]
fn every_value_of_every_row_of_every_table_is_guarded() {
    let (studio, past) = studio();
    let base = studio.path().with_file_name("base.db");
    past.execute("VACUUM INTO ?1", (base.to_str().unwrap(),)).unwrap();
    assert!(verify(&Database::open(&base).unwrap(), None).unwrap().is_fine);
    let tables =
        texts(&past, "SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite%'");
    let (mut tried, mut not_found) = (0, Vec::new());
    for table in tables.iter().filter(|table| !OUTSIDE.contains(&table.as_str())) {
        let columns: Vec<(String, String, bool)> = past
            .prepare(&format!(
                "SELECT name, type, \"notnull\" = 0 AND pk = 0 FROM pragma_table_info('{table}')"
            ))
            .unwrap()
            .query_map((), |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?)))
            .unwrap()
            .map(Result::unwrap)
            .collect();
        let all =
            columns.iter().map(|(name, ..)| format!("'{name} IS ' || quote({name})")).collect::<Vec<_>>();
        let rows = texts(&past, &format!("SELECT {} FROM {table}", all.join(" || ' AND ' || ")));
        assert!(!rows.is_empty(), "{table}");
        for row in &rows {
            let deleted = format!("DELETE FROM {table} WHERE {row}");
            tried += 1;
            if is_found(&base, &deleted) != Some(true) {
                not_found.push(deleted);
            }
            for (column, of_type, may_be_null) in &columns {
                let mut found = Vec::new();
                for value in changes(of_type, *may_be_null, column) {
                    let sql = format!(
                        "UPDATE {table} SET {column} = {value} WHERE ({row}) AND {column} IS NOT {value}"
                    );
                    found.extend(is_found(&base, &sql).map(|found| (found, sql)));
                }
                assert!(!found.is_empty(), "{table}.{column} could not be changed at all");
                tried += found.len();
                not_found.extend(found.into_iter().filter(|(found, _)| !found).map(|(_, sql)| sql));
            }
        }
    }
    assert_eq!(not_found, Vec::<String>::new());
    assert!(tried > 200, "{tried}");
}

#[test]
fn rows_put_in_past_the_program_are_named() {
    let (studio, past) = studio();
    past.execute_batch(
        "INSERT INTO gone SELECT id, 100, 200 FROM log; INSERT INTO log (logger, log) VALUES (5, 6)",
    )
    .unwrap();
    let told = studio.ask(&["verify"]);
    assert_eq!(told.code(), 7);
    assert!(
        told.out().contains("The note that logger 00000000000000a1/000000b2 no longer has records 100-200"),
        "{told:?}"
    );
    assert!(told.out().contains("The log of logger 0000000000000005/00000006"), "{told:?}");
}

#[test]
fn a_mark_that_hides_records_from_the_next_pull_is_told_and_put_right() {
    let (studio, past) = studio();
    let mark = || texts(&past, "SELECT CAST(settled AS TEXT) FROM log");
    assert_eq!(mark(), ["10"], "four records, five numbers that are gone, one record");
    past.execute_batch("UPDATE log SET settled = 5000").unwrap();
    assert_eq!(studio.ask(&["verify"]).code(), 7);
    studio.ok(&["verify", "--renew"]);
    assert_eq!(mark(), ["10"]);
    studio.ok(&["verify"]);
}

#[test]
fn gaps_of_a_database_from_before_they_were_chained_are_chained_and_older_heads_hold() {
    let (studio, past) = studio();
    // As version 2 left it: the chain without the step over the gap, here the last one but the person's entry.
    past.execute_batch("DELETE FROM entry WHERE kind = 'person_added'; DELETE FROM chain WHERE position > (SELECT min(position) - 1 FROM chain WHERE covers = 'gone'); PRAGMA user_version = 2").unwrap();
    let head = texts(&past, "SELECT max(position) || '-' || lower(hex(link)) FROM chain").remove(0);
    drop(studio.database());
    let told = studio.json(&["verify", "--against", &head, "--json"]);
    assert_eq!(
        (&told["is_fine"], &told["against_result"], &told["gone"]),
        (&true.into(), &"holds".into(), &1.into())
    );
    let last = texts(&past, "SELECT covers || ' ' || numbers FROM chain ORDER BY position DESC LIMIT 1");
    assert_eq!(last, ["gone 4-9"]);
}
