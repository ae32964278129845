//! Doubtful running as a maker meets it: shown apart, answered with one command, taken back, left out of what is confirmed and
//! delivered.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::cast_possible_truncation,
    reason = "a test may stop at the first surprise"
)]

use crate::bench_studio::{MONDAY_8, Studio, reading, running};
use serde_json::Value;
use shared_types::{Totals, UtcMillis};

/// Fox on the frame all day: nine seconds of work at 8:10 and at 8:30, and between them, at 8:20, nine seconds of noise with 5,000
/// edges, which no machine makes; the same noise again at 12:00.
fn studio() -> Studio {
    let studio = Studio::new();
    studio.rug("Fox", "roll 1");
    let records = [
        reading(1, MONDAY_8),
        running(1, 10, 9_000, 109, 300),
        running(1, 20, 9_000, 5_000, 300),
        running(1, 30, 9_000, 109, 300),
        running(1, 240, 9_000, 5_000, 300),
    ];
    studio.pulled_with_loss(UtcMillis(MONDAY_8 + 8 * 3_600_000), &records, Totals::default());
    studio
}

/// Run time of Fox, doubtful, set aside, questioned, of all together.
fn sums(studio: &Studio) -> [u64; 5] {
    let hours = studio.json(&["hours", "--json"]);
    let machine = &hours["machines"][0];
    let run = |value: &Value| value["run_time_ms"].as_u64().unwrap();
    let fox = machine["rugs"].as_array().unwrap().iter().map(|rug| run(&rug["total"])).sum();
    let doubtful = &machine["doubtful"];
    let all = run(&machine["total"]);
    assert_eq!(all, 36_000, "nothing is lost and nothing is made");
    let unassigned = run(&machine["unassigned"]) + run(&machine["care"]) + run(&machine["undated"]);
    assert_eq!(fox + unassigned + run(doubtful), all);
    [fox, run(doubtful), run(&doubtful["set_aside"]), run(&doubtful["questioned"]), all]
}

#[test]
fn doubtful_running_stands_apart_and_the_maker_is_asked_with_when_and_how_long() {
    let studio = studio();
    assert_eq!(sums(&studio), [18_000, 18_000, 0, 0, 36_000]);
    let hours = studio.json(&["hours", "--json"]);
    let doubtful = &hours["machines"][0]["doubtful"];
    assert_eq!((&doubtful["strokes"], &doubtful["bursts"]), (&10_000.into(), &2.into()));
    let asked = hours["to_check"].as_array().unwrap();
    assert_eq!((asked.len(), &asked[0]["run"], &asked[1]["run"]), (2, &"2".into(), &"4".into()));
    assert_eq!(asked[0]["starts_earliest_utc_ms"], MONDAY_8 + 20 * 60_000);
    assert_eq!(asked[0]["because"], serde_json::json!(["too_many_edges"]));
    assert_eq!((&asked[0]["standing"], &asked[0]["rug"]), (&"open".into(), &"Fox".into()));
    let said = studio.ok(&["hours"]);
    for words in [
        "To check: real work, or not?",
        "Mon 2 Mar 2026",
        "nowhere",
        "needlehours hours check 4 --real   (or --not-real",
    ] {
        assert!(said.contains(words), "{words}: {said}");
    }
    assert!(said.lines().any(|line| line.starts_with("to check") && line.contains("18 s")), "{said}");
    for word in ["boot", "anchor", "burst", "segment", "edge"] {
        assert!(!said.to_lowercase().contains(word), "{word} is no word for the maker: {said}");
    }
    let due = studio.ask(&["due"]).out();
    assert!(
        due.contains("unsure    Rosie: 18 s of running may be no work: needlehours hours check"),
        "{due}"
    );
}

#[test]
fn one_command_answers_and_the_answer_can_be_taken_back() {
    let studio = studio();
    let said = studio.ok(&["hours", "check", "2", "--not-real"]);
    assert!(said.contains("no work; it is set aside, and nothing is deleted"), "{said}");
    assert_eq!(sums(&studio), [18_000, 18_000, 9_000, 0, 36_000]);
    let said = studio.ok(&["hours", "check", "2", "4", "--real"]);
    assert!(said.contains("2 stretches, 18 s of running: real work"), "{said}");
    assert!(said.contains("Counted to: Fox."), "{said}");
    assert_eq!(sums(&studio), [36_000, 0, 0, 0, 36_000]);
    let list = studio.json(&["hours", "check", "--json"]);
    let runs = list["runs"].as_array().unwrap();
    assert!(runs.iter().all(|run| run["standing"] == "real"), "{list}");
    for run in runs {
        studio.ok(&["rug", "take-back", &run["entry"].to_string()]);
    }
    // The first answer about the one holds again, the other is open.
    assert_eq!(sums(&studio), [18_000, 18_000, 9_000, 0, 36_000]);
    studio.ok(&["hours", "check", "--all", "--not-real"]);
    assert_eq!(sums(&studio), [18_000, 18_000, 18_000, 0, 36_000]);
    let due = studio.ask(&["due"]).out();
    assert!(!due.contains("may be no work"), "{due}");
    let list = studio.ok(&["hours", "check"]);
    assert!(list.contains("There is nothing to check.") && list.contains("take-back ENTRY"), "{list}");
}

#[test]
fn what_is_confirmed_assigned_or_delivered_takes_nothing_doubtful_with_it() {
    let confirmed = studio();
    confirmed.ok(&["rug", "confirm", "Fox"]);
    assert_eq!(sums(&confirmed), [18_000, 18_000, 0, 0, 36_000]);
    let assigned = studio();
    assigned.ok(&["rug", "new", "Bear"]);
    assigned.ok(&["rug", "assign", "Bear", "--day", "2026-03-02"]);
    assert_eq!(sums(&assigned), [18_000, 18_000, 0, 0, 36_000]);
    let delivered = studio();
    delivered.ok(&["rug", "finish", "Fox", "--when", "2026-03-03"]);
    delivered.ok(&["rug", "deliver", "Fox", "--when", "2026-03-04"]);
    assert_eq!(sums(&delivered), [18_000, 18_000, 0, 0, 36_000]);
    delivered.ok(&["hours", "check", "--all", "--real"]);
    assert_eq!(sums(&delivered), [36_000, 0, 0, 0, 36_000]);
}

#[test]
fn what_was_delivered_before_anybody_doubted_stays_counted_and_is_listed() {
    let studio = Studio::new();
    studio.rug("Fox", "roll 1");
    studio.ok(&["rug", "finish", "Fox", "--when", "2026-03-03"]);
    studio.ok(&["rug", "deliver", "Fox", "--when", "2026-03-04"]);
    let records = [
        reading(1, MONDAY_8),
        running(1, 10, 9_000, 109, 300),
        running(1, 20, 9_000, 5_000, 300),
        running(1, 30, 18_000, 218, 300),
    ];
    studio.pulled_with_loss(UtcMillis(MONDAY_8 + 8 * 3_600_000), &records, Totals::default());
    assert_eq!(sums(&studio), [36_000, 0, 0, 9_000, 36_000]);
    let said = studio.ok(&["hours", "check"]);
    assert!(said.contains("Fox") && !said.contains("nowhere"), "{said}");
    // Everything at once leaves what was delivered alone; by its number it is answered.
    assert_eq!(studio.ask(&["hours", "check", "--all", "--not-real"]).code(), 6);
    studio.ok(&["hours", "check", "2", "--not-real"]);
    assert_eq!(sums(&studio), [27_000, 9_000, 9_000, 0, 36_000]);
}

#[test]
fn numbers_that_are_of_nothing_doubtful_change_nothing() {
    let studio = studio();
    let before = studio.entries().len();
    for (words, code) in [
        (&["hours", "check", "1", "--real"][..], 6),
        (&["hours", "check", "2", "99", "--not-real"], 6),
        (&["hours", "check", "2"], 2),
        (&["hours", "check", "--real"], 2),
        (&["hours", "check", "2", "--real", "--not-real"], 2),
        (&["hours", "check", "2", "--all", "--real"], 2),
        (&["hours", "check", "two", "--real"], 6),
    ] {
        let told = studio.ask(words);
        assert_eq!(told.code(), code, "{words:?} {told:?}");
    }
    assert_eq!(studio.entries().len(), before);
    let told = studio.ask(&["hours", "check", "1", "--real"]);
    assert!(told.err().contains("needlehours hours check"), "{}", told.err());
}

#[test]
fn the_record_book_has_the_doubtful_running_and_the_answer() {
    let studio = studio();
    studio.ok(&["hours", "check", "2", "--not-real"]);
    let book = studio.json(&["book", "--json"]);
    assert_eq!(book["hours"]["doubtful"]["run_time_ms"], 18_000);
    let page = studio.path().with_file_name("book.html");
    studio.ok(&["book", "--out", page.to_str().unwrap()]);
    let html = std::fs::read_to_string(page).unwrap();
    assert!(html.contains("Doubtful running of record 2 was no work; set aside"), "{html}");
    assert!(html.contains("were said to be no work"), "{html}");
}
