//! A new part on the machine is care done, once, and comes out of the drawer; taking it back undoes all of it.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test may stop at the first surprise"
)]

use crate::bench_studio::{Log, Studio};
use serde_json::Value;

/// An hour of running from nine to ten (UTC) on each of thirty days from Monday, 2 March 2026.
fn thirty_hours() -> Studio {
    let studio = Studio::new();
    let mut log = Log::new();
    for day in 0..30 {
        log.run(day * 24 * 60 + 60, 60, 500);
    }
    studio.pulled(&log);
    studio
}

fn task(studio: &Studio, name: &str) -> Value {
    let told = studio.ask(&["due", "--json"]);
    let report: Value = serde_json::from_str(&told.out()).unwrap();
    report["tasks"].as_array().unwrap().iter().find(|task| task["task"] == name).unwrap().clone()
}

/// Run hours since a task was done, and what says that it was.
fn since(studio: &Studio, name: &str) -> (u64, String) {
    let task = task(studio, name);
    let hours = task["run_time_since_at_most_ms"].as_u64().unwrap() / 3_600_000;
    (hours, task["last_done_by"].as_str().unwrap().to_owned())
}

fn left(studio: &Studio, item: &str) -> u64 {
    let stock = studio.json(&["stock", "--json"]);
    let lines = stock["items"].as_array().unwrap();
    lines.iter().find(|line| line["item"] == item).unwrap()["left"].as_u64().unwrap()
}

#[test]
fn a_new_needle_sets_back_the_look_and_the_change_with_its_own_entry_as_the_ground() {
    let studio = thirty_hours();
    assert_eq!(since(&studio, "needle-change"), (30, "never".to_owned()));
    let fitted = studio.json(&["part", "fit", "needle", "--when", "2026-03-21 12:00", "--json"]);
    // Days 20 to 29 have run since: ten hours.
    for name in ["needle", "needle-change"] {
        assert_eq!(since(&studio, name), (10, "part_fitted".to_owned()), "{name}");
        assert_eq!(task(&studio, name)["last_done_entry"], fitted["fitted_entry"], "{name}");
    }
    assert_eq!(since(&studio, "belt").1, "never");
    let told: Vec<&str> =
        fitted["does_tasks"].as_array().unwrap().iter().map(|done| done["task"].as_str().unwrap()).collect();
    assert_eq!(told, ["needle", "needle-change"]);
    let record = studio.ok(&["done", "--history", "needle-change"]);
    assert!(record.contains("needle fitted, which did needle and needle-change"), "{record}");
    // Later care is later care.
    studio.ok(&["done", "needle", "--when", "2026-03-26 12:00"]);
    assert_eq!(since(&studio, "needle"), (5, "entered".to_owned()));
    assert_eq!(since(&studio, "needle-change").0, 10);
}

#[test]
fn a_belt_brushes_and_scissors_do_their_own_tasks_and_new_scissors_still_want_their_look() {
    let studio = thirty_hours();
    for part in ["belt", "carbon-brushes", "scissors"] {
        studio.ok(&["part", "fit", part, "--when", "2026-03-21 12:00"]);
    }
    for name in ["belt", "carbon-brushes", "scissors-sharpen"] {
        assert_eq!(since(&studio, name), (10, "part_fitted".to_owned()), "{name}");
    }
    assert_eq!(since(&studio, "scissors"), (30, "never".to_owned()));
}

#[test]
fn a_fitting_takes_one_out_of_stock_and_its_take_back_undoes_all_of_it() {
    let studio = thirty_hours();
    studio.ok(&["stock", "level", "needles", "--reorder-at", "2"]);
    studio.ok(&["stock", "counted", "needles", "4"]);
    studio.ok(&["part", "fit", "needle", "--when", "2026-03-07 12:00"]);
    assert_eq!(left(&studio, "needles"), 3);
    let words = studio.ok(&["part", "fit", "needle", "--replaces", "worn-out", "--when", "2026-03-21 12:00"]);
    assert!(words.contains("2 pieces left; buy more (the level is 2)"), "{words}");
    assert_eq!((left(&studio, "needles"), since(&studio, "needle-change").0), (2, 10));
    let parts = studio.json(&["part", "--all", "--json"]);
    let (old, new) = (&parts["parts"][0], &parts["parts"][1]);
    assert_eq!((&old["why"], &new["off_utc_ms"]), (&Value::from("worn_out"), &Value::Null));
    let entry = new["entry"].to_string();
    let told = studio.json(&["part", "withdraw", &entry, "--reason", "not yet", "--json"]);
    assert_eq!(told["with_it"], old["off_entry"]);
    let parts = studio.json(&["part", "--json"]);
    assert_eq!(parts["parts"].as_array().unwrap().len(), 1);
    assert_eq!(parts["parts"][0]["off_utc_ms"], Value::Null, "the old one is on again");
    // Days 6 to 29 have run since the first one.
    assert_eq!((left(&studio, "needles"), since(&studio, "needle-change").0), (3, 24));
    let again = studio.ask(&["part", "withdraw", &entry, "--reason", "again"]);
    assert_eq!(again.code(), 6);
    assert!(again.err_words().contains("was taken back already, "), "{}", again.err_words());
    let unknown = studio.ask(&["part", "withdraw", "99999", "--reason", "again"]).err_words();
    assert!(unknown.contains("there is no entry 99999 of a part"), "{unknown}");
}

#[test]
fn a_fitting_is_taken_back_by_the_care_command_too() {
    let studio = thirty_hours();
    let fitted = studio.json(&["done", "needle-change", "--fitted", "--serial", "A1", "--json"]);
    let entry = fitted["fitted_entry"].to_string();
    assert_eq!(since(&studio, "needle-change"), (0, "part_fitted".to_owned()));
    assert_eq!(studio.json(&["part", "--json"])["parts"][0]["serial"], "A1");
    studio.ok(&["done", "--withdraw", &entry, "--reason", "slip"]);
    assert_eq!(since(&studio, "needle-change").1, "never");
    assert_eq!(studio.json(&["part", "--json"])["parts"].as_array().unwrap().len(), 0);
}

#[test]
fn care_said_beside_its_fitting_is_counted_once_and_offers_the_fitting_where_there_is_none() {
    let studio = thirty_hours();
    studio.ok(&["stock", "counted", "needle", "4"]);
    let alone = studio.ok(&["done", "needle-change", "--used", "needle"]);
    assert!(alone.contains("needlehours part fit needle\n"), "{alone}");
    assert_eq!(left(&studio, "needle"), 3);
    // The needle that went out with the care is the one that is fitted.
    let fitted = studio.json(&["part", "fit", "needle", "--json"]);
    assert_eq!((left(&studio, "needle"), &fitted["stock"]), (3, &Value::Array(Vec::new())));
    let again = studio.ok(&["done", "needle-change"]);
    assert!(again.contains("did this already; it is counted once"), "{again}");
    // The next one is another one.
    studio.ok(&["part", "fit", "needle", "--replaces", "strike"]);
    assert_eq!(left(&studio, "needle"), 2);
    studio.ok(&["part", "fit", "needle", "--replaces", "strike", "--not-from-stock"]);
    assert_eq!(left(&studio, "needle"), 2);
}

#[test]
fn a_needle_that_comes_back_under_its_mark_is_neither_care_nor_a_spare() {
    let studio = thirty_hours();
    studio.ok(&["stock", "counted", "needle", "4"]);
    studio.ok(&["part", "fit", "needle", "--serial", "A1", "--when", "2026-03-07 12:00"]);
    studio.ok(&["part", "off", "needle", "--because", "still-good", "--when", "2026-03-12 12:00"]);
    let back = ["part", "fit", "needle", "--serial", "A1", "--when", "2026-03-21 12:00"];
    let words = studio.ok(&back);
    assert!(words.contains("comes back under its mark"), "{words}");
    assert_eq!((left(&studio, "needle"), since(&studio, "needle-change").0), (3, 24));
}

#[test]
fn a_task_without_a_part_has_nothing_to_fit() {
    let studio = thirty_hours();
    let told = studio.ask(&["done", "oiling", "--fitted"]);
    assert_eq!(told.code(), 6);
    assert!(told.err_words().contains("looks after no part"), "{}", told.err());
}

#[test]
fn an_oiling_notes_its_brush_out_once() {
    let studio = thirty_hours();
    let first = studio.json(&["done", "oiling", "--brushed-out", "--when", "2026-03-21 12:00", "--json"]);
    assert_eq!(
        (first["brush_out"]["was_noted"].as_bool(), first["brush_out_was_due"].as_bool()),
        (Some(false), Some(false))
    );
    assert_eq!(since(&studio, "brush-out"), (10, "entered".to_owned()));
    let noted = studio.json(&["done", "brush-out", "--when", "2026-03-26 12:00", "--json"]);
    let second = studio.json(&["done", "oiling", "--brushed-out", "--when", "2026-03-26 12:20", "--json"]);
    assert_eq!(second["brush_out"]["was_noted"], true);
    assert_eq!(second["brush_out"]["entry"], noted["entry"]);
    let record = studio.json(&["done", "--history", "brush-out", "--json"]);
    assert_eq!(record["entries"].as_array().unwrap().len(), 2);
    let told = studio.ask(&["done", "belt", "--brushed-out"]);
    assert_eq!(told.code(), 6);
    assert!(told.err_words().contains("only oiling does"), "{}", told.err());
}

#[test]
fn care_entered_late_says_from_when_the_task_counts() {
    let studio = thirty_hours();
    let now = studio.ok(&["done", "oiling", "--when", "2026-03-21 12:00"]);
    assert!(now.contains("It counts from there."), "{now}");
    let older = ["done", "oiling", "--when", "2026-03-10 12:00"];
    let words = studio.ok(&older);
    assert!(words.contains("done again later, on") && words.contains("21 Mar"), "{words}");
    assert!(!words.contains("It counts from there"), "{words}");
    let json = studio.json(&[&older[..], &["--json"]].concat());
    assert_eq!((&json["counts_from_here"], &json["is_early"]), (&Value::from(false), &Value::from(false)));
    assert_eq!(since(&studio, "oiling").0, 10);
}

#[test]
fn a_correction_is_judged_without_what_it_corrects_and_keeps_what_was_used() {
    let studio = thirty_hours();
    studio.ok(&["stock", "counted", "oil", "50"]);
    let noted = studio.json(&["done", "oiling", "--used", "oil=2", "--when", "2026-03-26 12:00", "--json"]);
    let entry = noted["entry"].to_string();
    let fixed = studio.json(&[
        "done",
        "--correct",
        &entry,
        "--when",
        "2026-03-21 12:00",
        "--reason",
        "wrong day",
        "--json",
    ]);
    assert_eq!(fixed["counts_from_here"], true);
    assert_eq!((fixed["is_early"].as_bool(), fixed["state_before"].as_str()), (Some(false), Some("overdue")));
    assert_eq!(since(&studio, "oiling").0, 10);
    assert_eq!(left(&studio, "oil"), 48, "used once, not twice");
    assert_eq!(fixed["stock"][0]["left"], 48, "and told so");
    studio.ok(&["done", "--withdraw", &fixed["entry"].to_string(), "--reason", "never was"]);
    assert_eq!(left(&studio, "oil"), 50);
    assert!(studio.ok(&["done", "--history", "oiling"]).matches("TAKEN BACK").count() == 2);
}

#[test]
fn what_was_put_off_or_fitted_is_taken_back_and_said_anew_instead_of_corrected() {
    let studio = thirty_hours();
    let put_off =
        studio.json(&["due", "snooze", "oiling", "--for-days", "3", "--reason", "rug first", "--json"]);
    let fitted = studio.json(&["part", "fit", "needle", "--json"]);
    for entry in [&put_off["entry"], &fitted["fitted_entry"]] {
        let told = studio.ask(&["done", "--correct", &entry.to_string(), "--reason", "slip"]);
        assert_eq!(told.code(), 6);
        assert!(told.err_words().contains("Take it back and say it anew"), "{}", told.err());
        studio.ok(&["done", "--withdraw", &entry.to_string(), "--reason", "slip"]);
    }
    let record = studio.ok(&["done", "--history"]);
    assert_eq!(record.matches("TAKEN BACK").count(), 2, "{record}");
}
