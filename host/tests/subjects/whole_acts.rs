//! What one command says is in the record book as a whole or not at all, whichever of its writes fails.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::panic,
    reason = "a test may stop at the first surprise"
)]

use crate::bench_studio::{Log, Still, Studio};
use host::app::book::verify::verify;
use host::app::care::done::DoneSaid;
use host::app::care::part_care::{CareSaid, note_all};
use host::app::parts::part::PartSaid;
use host::app::ports::book::Names;
use host_core::entries::{SpareName, TakenOff};
use rusqlite::Connection;

/// How SQLite ends a write that fails: it undoes the statement, or everything since the beginning of the transaction, as it
/// may do when the disk is full.
const FAILURES: [&str; 2] = ["ABORT", "ROLLBACK"];

/// Two hours from 8:10 on and one hour from 12:00 on, on a Monday: two sessions; Fox is on the frame.
fn studio() -> Studio {
    let studio = Studio::new();
    let mut log = Log::new();
    log.run(10, 120, 300).run(240, 60, 300);
    studio.pulled(&log);
    studio.rug("Fox", "roll 1");
    studio
}

/// Rows that a maker's command adds: entries and names.
const ROWS: &str = "(SELECT count(*) FROM entry) + (SELECT count(*) FROM person_name)";

fn rows(book: &Connection) -> i64 {
    book.query_row(&format!("SELECT {ROWS}"), (), |row| row.get(0)).unwrap()
}

/// Lets every write but the first so many fail.
fn fail_after(book: &Connection, writes: i64, failure: &str) {
    let limit = rows(book) + writes;
    for table in ["entry", "person_name"] {
        let fails = format!(
            "CREATE TRIGGER {table}_fails BEFORE INSERT ON {table} WHEN {ROWS} >= {limit}
             BEGIN SELECT RAISE({failure}, 'no more'); END"
        );
        book.execute_batch(&fails).unwrap();
    }
}

/// Runs an act that fails at its second write, at its third and so on. Until all of them are let through, the book stays as
/// it was; then it is whole. Returns how many writes that took.
#[track_caller]
fn writes_of(studio: &Studio, act: impl Fn() -> bool) -> i64 {
    let book = Connection::open(studio.path()).unwrap();
    let before = (rows(&book), studio.entries(), studio.database().names().unwrap());
    for writes in 1..100 {
        for failure in FAILURES {
            fail_after(&book, writes, failure);
            let is_done = act();
            book.execute_batch("DROP TRIGGER entry_fails; DROP TRIGGER person_name_fails").unwrap();
            assert!(verify(&studio.database(), None).unwrap().is_fine, "{writes} writes, {failure}");
            let (said, names) = (studio.entries(), studio.database().names().unwrap());
            if is_done {
                assert_eq!(rows(&book), before.0 + writes);
                assert!(said.starts_with(&before.1), "what was said before is no longer there");
                return writes;
            }
            assert!((rows(&book), said, names) == before, "half of it is there: {writes} writes, {failure}");
        }
    }
    panic!("it never succeeds");
}

#[track_caller]
fn writes(studio: &Studio, words: &[&str]) -> i64 {
    writes_of(studio, || {
        let told = studio.ask(words);
        // 5: the database, in the README's table.
        assert!(told.code() == 0 || told.code() == 5, "{told:?}");
        told.code() == 0
    })
}

#[test]
fn an_oiling_with_its_brush_out_and_what_it_used_up() {
    let studio = studio();
    studio.ok(&["stock", "in", "oil", "100"]);
    studio.ok(&["stock", "in", "yarn wipe", "10"]);
    let words =
        ["done", "oiling", "--brushed-out", "--used", "oil=2", "--used", "yarn wipe=1", "--finding", "lint"];
    assert_eq!(writes(&studio, &words), 4);
}

#[test]
fn a_correction_with_what_is_taken_back_for_it() {
    let studio = studio();
    studio.ok(&["stock", "in", "oil", "100"]);
    let noted = studio.json(&["done", "oiling", "--used", "oil=2", "--json"]);
    let entry = noted["entry"].to_string();
    let words = ["done", "--correct", &entry, "--finding", "lint", "--reason", "seen late"];
    assert_eq!(writes(&studio, &words), 3, "the oiling, the oil, and the old entry");
}

#[test]
fn a_new_part_with_the_old_one_and_both_ways_back() {
    let studio = studio();
    studio.ok(&["stock", "in", "needle", "5"]);
    studio.ok(&["part", "fit", "needle"]);
    assert_eq!(writes(&studio, &["part", "fit", "needle", "--replaces", "worn-out"]), 2);
    let entry = studio.entries().last().unwrap().id.0.to_string();
    assert_eq!(writes(&studio, &["part", "withdraw", &entry, "--reason", "wrong machine"]), 2);
}

#[test]
fn a_new_part_with_the_care_that_is_noted_besides() {
    let studio = studio();
    studio.ok(&["stock", "in", "needle", "5"]);
    studio.ok(&["part", "fit", "needle"]);
    let care = |task: &str| DoneSaid { task: task.to_owned(), ..DoneSaid::default() };
    let used = vec![(SpareName::of("needle"), 1)];
    let part = PartSaid { part: "needle".to_owned(), not_from_stock: true, ..PartSaid::default() };
    let said = [
        CareSaid::NewPart(part, Some(TakenOff::WornOut)),
        CareSaid::Done(DoneSaid { used, ..care("needle-change") }),
        CareSaid::Done(care("screws")),
    ];
    // Later than the program's own clock, which the setting up went by.
    let clock = Still(i64::from(u32::MAX) * 1_000);
    let act = || note_all(&mut studio.database(), &clock, &said).is_ok();
    assert_eq!(writes_of(&studio, act), 5, "the old needle, the new one, its care, the spare, the screws");
}

#[test]
fn a_machine_that_is_put_right() {
    assert_eq!(writes(&studio(), &["machine", "change", "--name", "Rosa"]), 2);
}

#[test]
fn a_machine_lent_to_somebody_new() {
    let studio = studio();
    assert_eq!(writes(&studio, &["machine", "lend", "--to", "Mirel"]), 3, "the person, the name, the loan");
    assert_eq!(writes(&studio, &["person", "add", "Tamsin"]), 2);
}

#[test]
fn a_commission_with_how_it_is_made() {
    let studio = studio();
    assert_eq!(writes(&studio, &["rug", "new", "Owl", "--size", "80x120cm", "--style", "cut"]), 2);
    assert_eq!(writes(&studio, &["rug", "change", "Owl", "--size", "90x120cm", "--style", "loop"]), 2);
}

#[test]
fn all_sessions_of_a_day() {
    let studio = studio();
    assert_eq!(writes(&studio, &["rug", "confirm", "--day", "2026-03-02"]), 2);
    assert_eq!(writes(&studio, &["rug", "assign", "--care", "--day", "2026-03-02"]), 2);
    assert_eq!(writes(&studio, &["rug", "assign", "--nobody", "--day", "2026-03-02"]), 2);
    assert_eq!(writes(&studio, &["rug", "assign", "Fox", "--open", "--day", "2026-03-02"]), 2);
    studio.ok(&["person", "add", "Mirel"]);
    assert_eq!(writes(&studio, &["exposure", "who", "Mirel", "--day", "2026-03-02"]), 2);
}

#[test]
fn several_limits_of_a_machine() {
    let words = ["heavy", "set", "--run-minutes", "20", "--day-hours", "5", "--duty", "S2 60 min"];
    assert_eq!(writes(&studio(), &words), 3);
}

#[test]
fn the_dates_that_a_calendar_tells() {
    let studio = studio();
    let told = writes(&studio, &["calendar", "--out", "care.ics"]);
    assert!(told > 1, "{told}");
}
