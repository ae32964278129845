//! Putting right what was said of a machine, and what is told where one is away, as a maker runs it.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::panic,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a test may stop at the first surprise"
)]

use crate::bench_studio::{Log, Studio};
use serde_json::json;

fn studio() -> Studio {
    let studio = Studio::empty();
    studio.ok(&["machine", "add", "Bleu handle", "--hours-before", "1200", "--since", "2026-02-01"]);
    studio
}

#[test]
fn what_is_said_anew_holds_and_what_is_left_out_stays() {
    let studio = studio();
    let said = studio.ok(&["machine", "change", "--name", "Blue handle", "--hours-before", "120"]);
    assert!(said.contains("Blue handle") && said.contains("about 120 h before"), "{said}");
    let list = studio.json(&["machine", "list", "--json"]);
    let machines = list["machines"].as_array().unwrap();
    assert_eq!(machines.len(), 1);
    assert_eq!(machines[0]["name"], "Blue handle");
    assert_eq!(machines[0]["pile"], "cut");
    assert_eq!(machines[0]["drive"], "electric");
    // 120 hours by 3,600,000 milliseconds; 1 February 2026 begins at 1,769,904,000 s (`date -u -d 2026-02-01 +%s`).
    assert_eq!(machines[0]["before_logger_run_time_ms"], 432_000_000);
    assert_eq!(machines[0]["since_utc_ms"], 1_769_904_000_000_i64);
    studio.ok(&["machine", "change", "1", "--pile", "cut-and-loop", "--drive", "pneumatic"]);
    let list = studio.json(&["machine", "list", "--json"]);
    assert_eq!(list["machines"][0]["pile"], "cut_and_loop");
    assert_eq!(list["machines"][0]["drive"], "pneumatic");
    assert_eq!(list["machines"][0]["before_logger_run_time_ms"], 432_000_000);
}

#[test]
fn the_record_book_keeps_what_was_said_before_as_taken_back() {
    let studio = studio();
    studio.ok(&["machine", "change", "--hours-before", "120"]);
    studio.ok(&["book", "--out", "book.html"]);
    let page = std::fs::read_to_string(studio.path().with_file_name("book.html")).unwrap();
    assert!(page.contains("ran about 1,200 h before") && page.contains("ran about 120 h before"), "{page}");
    assert!(page.contains("put right"));
    assert!(studio.ok(&["verify"]).contains("whole"));
}

#[test]
fn a_logger_still_finds_the_only_machine_after_it_was_put_right() {
    let studio = Studio::new();
    studio.ok(&["machine", "change", "--name", "Other handle"]);
    let mut log = Log::new();
    log.run(10, 120, 300);
    studio.pulled(&log);
    let hours = studio.ok(&["hours"]);
    assert!(hours.contains("Machine 1, Other handle: 2 h of running"), "{hours}");
}

#[test]
fn a_taken_name_an_impossible_estimate_and_nothing_new_are_refused_and_change_nothing() {
    let studio = studio();
    studio.ok(&["machine", "add", "Red loop", "--pile", "loop"]);
    let before = studio.entries().len();
    let cases: [(&[&str], &str); 6] = [
        (&["machine", "change", "1", "--name", "red LOOP"], "called Red loop already"),
        (&["machine", "change", "1", "--name", " "], "1 to 60 letters"),
        (&["machine", "change", "1", "--hours-before", "50001"], "0 to 50000"),
        (&["machine", "change", "1", "--name", "Bleu handle"], "does not hold already"),
        (&["machine", "change", "1"], "does not hold already"),
        (&["machine", "change", "--name", "x"], "there are 2 machines"),
    ];
    for (words, why) in cases {
        let told = studio.ask(words);
        assert!(told.err().contains(why), "{words:?}: {}", told.err());
    }
    assert_eq!(studio.entries().len(), before);
    studio.ok(&["machine", "change", "1", "--name", "BLEU HANDLE"]);
    assert_eq!(studio.json(&["machine", "--json"])["machines"][0]["name"], json!("BLEU HANDLE"));
}

#[test]
fn a_logger_that_there_is_not_is_answered_with_where_loggers_are_listed() {
    let studio = Studio::new();
    let told = studio.ask(&["machine", "fit", "--machine", "1", "--logger", "zzz"]);
    assert!(told.err().contains("machine list") && !told.err().contains("whole number"), "{}", told.err());
}

#[test]
fn a_rug_started_on_a_machine_that_is_away_is_told_that_nothing_will_be_counted_to_it() {
    let studio = studio();
    studio.ok(&["machine", "add", "Second"]);
    studio.ok(&["rug", "new", "Fox", "--size", "80x120cm"]);
    studio.ok(&["machine", "lend", "2", "--to", "Mirel"]);
    let said = studio.ok(&["rug", "start", "Fox", "--machine", "2"]);
    assert!(said.contains("Second is lent out") && said.contains("counted to no rug"), "{said}");
    studio.ok(&["machine", "back", "2"]);
    assert!(!studio.ok(&["rug", "start", "Fox", "--machine", "2"]).contains("lent out"));
    // Started on all, of which one is here: its running is counted.
    studio.ok(&["machine", "lend", "2", "--to", "Mirel"]);
    assert!(!studio.ok(&["rug", "start", "Fox"]).contains("lent out"));
}

#[test]
fn the_machine_to_take_next_is_not_said_to_have_run_least_where_the_others_are_away() {
    let studio = studio();
    studio.ok(&["machine", "add", "Second"]);
    studio.ok(&["hours", "add", "--run-minutes", "40", "--machine", "1"]);
    studio.ok(&["machine", "lend", "2", "--to", "Mirel"]);
    let said = studio.ok(&["machine", "spread"]);
    assert!(
        said.contains("Take Bleu handle (machine 1) next: it is the only one that is not lent out."),
        "{said}"
    );
    studio.ok(&["machine", "add", "Third"]);
    let said = studio.ok(&["machine", "spread"]);
    assert!(said.contains("Take Third (machine 3) next: of those not lent out it ran least, 0 s"), "{said}");
}
