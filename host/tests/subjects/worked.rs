//! Sessions that a maker without a board types in.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::panic,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a test may stop at the first surprise"
)]

use crate::bench_studio::Studio;
use serde_json::{Value, json};

const MINUTE: u64 = 60_000;

/// A machine since 2025, with Fox on its frame since the first of March.
fn a_studio() -> Studio {
    let studio = Studio::empty();
    studio.ok(&["machine", "add", "Blue handle", "--since", "2025-01-01"]);
    studio.ok(&["rug", "new", "Fox", "--size", "80x120cm", "--when", "2025-02-01"]);
    studio.ok(&["rug", "start", "Fox", "--when", "2025-03-01"]);
    studio
}

fn hours(studio: &Studio) -> Value {
    studio.json(&["hours", "--json"])["machines"][0].clone()
}

#[test]
fn a_bare_time_is_time_at_the_frame_for_the_rug_on_it() {
    let studio = a_studio();
    let said = studio.ok(&["worked", "1h40", "--when", "2025-03-04 18:30"]);
    assert!(said.contains("1 h 40 min at the frame, about 45 min of running, for Fox (assumed)"), "{said}");
    assert!(said.contains("our assumption") && said.contains("needlehours take-back 4"), "{said}");
    let fox = &hours(&studio)["rugs"][0];
    // 27 of 60 minutes: 45 min of 100.
    let entered = json!({
        "run_time_ms": 45 * MINUTE, "frame_time_ms": 100 * MINUTE, "sessions": 1, "strokes": null, "about": true
    });
    assert_eq!(fox["entered"], entered);
    assert_eq!(fox["total"]["run_time_ms"], 45 * MINUTE);
    assert_eq!(fox["assumed"]["run_time_ms"], 0, "what was typed in is never mixed up with what was counted");
}

#[test]
fn the_share_that_the_maker_says_holds_for_what_was_typed_in_before() {
    let studio = a_studio();
    studio.ok(&["worked", "60", "--when", "2025-03-04 18:30"]);
    studio.ok(&["worked", "share", "30min"]);
    assert_eq!(hours(&studio)["entered"]["run_time_ms"], 30 * MINUTE);
    assert_eq!(studio.ask(&["worked", "share", "61min"]).code(), 6);
    studio.ok(&["worked", "60", "--motor", "20", "--when", "2025-03-05 18:30"]);
    assert_eq!(hours(&studio)["entered"]["run_time_ms"], 50 * MINUTE);
}

#[test]
fn nothing_is_counted_twice_unless_the_maker_insists() {
    let studio = a_studio();
    studio.ok(&["worked", "60", "--when", "2025-03-04 18:30"]);
    for again in ["2025-03-04 18:30", "2025-03-04 19:29"] {
        let told = studio.ask(&["worked", "60", "--when", again]);
        assert_eq!((told.code(), told.out().as_str()), (6, ""), "{told:?}");
        assert!(told.err().contains("typed in before") && told.err().contains("--anyway"), "{told:?}");
    }
    studio.ok(&["worked", "60", "--when", "2025-03-04 19:30"]);
    let early = studio.ask(&["worked", "60", "--when", "2024-03-04"]);
    assert!(early.err().contains("in the studio only since"), "{early:?}");
    let long = studio.ask(&["worked", "15h", "--when", "2025-03-04 03:00"]);
    assert!(long.err().contains("17 hours at the frame"), "{long:?}");
    studio.ok(&["worked", "60", "--when", "2025-03-04 18:30", "--anyway"]);
    assert_eq!(hours(&studio)["entered"]["sessions"], 3);
}

#[test]
fn a_session_is_moved_confirmed_corrected_and_taken_back_like_a_counted_one() {
    let studio = a_studio();
    studio.ok(&["rug", "new", "Bear", "--when", "2025-02-01"]);
    studio.ok(&["worked", "60", "--when", "2025-03-04 18:30"]);
    let sessions = || studio.json(&["rug", "sessions", "--json"])["sessions"].clone();
    let name = sessions()[0]["session"].as_str().unwrap().to_owned();
    assert_eq!((&sessions()[0]["source"], name.as_str()), (&json!("typed_in"), "e5"));
    studio.ok(&["rug", "confirm", "Fox"]);
    assert_eq!(sessions()[0]["parts"][0]["because"], "confirmed");
    studio.ok(&["rug", "assign", "Bear", "--session", &name]);
    assert_eq!(sessions()[0]["parts"][0]["rug"], "Bear");
    studio.ok(&["worked", "90", "--corrects", &name]);
    let corrected = sessions();
    assert_eq!(corrected.as_array().unwrap().len(), 1);
    assert_eq!(
        (&corrected[0]["frame_time_ms"], &corrected[0]["parts"][0]["rug"]),
        (&json!(90 * MINUTE), &json!("Bear"))
    );
    let entry = corrected[0]["session"].as_str().unwrap().trim_start_matches('e').to_owned();
    studio.ok(&["take-back", &entry]);
    assert_eq!(sessions(), json!([]));
    studio.ok(&["take-back", &entry, "--undo"]);
    assert_eq!(sessions().as_array().unwrap().len(), 1);
    assert_eq!(studio.ask(&["take-back", &entry, "--undo"]).code(), 6, "it counts already");
    let twice = studio.ask(&["take-back", &name, "--undo"]);
    assert!(twice.err_words().contains("would be counted twice"), "its correction counts: {twice:?}");
}

#[test]
fn a_notebook_is_noted_whole_once_or_not_at_all() {
    let studio = a_studio();
    let file = studio.path().with_file_name("notebook.csv");
    let name = file.to_str().unwrap();
    let table = "date;frame;motor;knob;rug;who\n\
                 2025-03-04;1,5 h;;60 %;Fox;Ada\n\
                 2025-03-05 18:30;90;40;;;\n\
                 \n\
                 2025-03-06;;25;;fox;Ada\n";
    std::fs::write(&file, table).unwrap();
    let said = studio.ok(&["worked", "--table", name]);
    assert!(said.contains("Noted 3 sessions, 3 h at the frame."), "{said}");
    // By hand: 90 min at the frame are about 40.5 of running; then 40 and 25.
    assert_eq!(hours(&studio)["entered"]["run_time_ms"], 2_430_000 + 65 * MINUTE);
    let told = said.lines().last().unwrap().rsplit(' ').next().unwrap().to_owned();
    studio.ok(&["take-back", &told]);
    assert_eq!(hours(&studio)["entered"]["sessions"], 0, "taken back as it was told");
    studio.ok(&["take-back", &told, "--undo"]);
    let again = studio.ok(&["worked", "--table", name]);
    assert!(again.contains("Noted 0 sessions") && again.contains("3 rows were noted before"), "{again}");
    let entries = studio.entries().len();
    std::fs::write(&file, format!("{table}2025-03-07;soon;;;;\n")).unwrap();
    let told = studio.ask(&["worked", "--table", name]);
    assert_eq!(told.code(), 6);
    assert!(told.err_words().contains("line 6:"), "{told:?}");
    std::fs::write(&file, "date,frame\n2025-03-08 10:00,60\n2025-03-08 10:30,60\n").unwrap();
    let told = studio.ask(&["worked", "--table", name]);
    assert!(told.err_words().contains("line 3: a row before it has the same time"), "{told:?}");
    assert_eq!(studio.entries().len(), entries, "all or nothing");
}

#[test]
fn a_timed_session_ends_when_the_maker_says_so_and_no_end_is_invented() {
    let studio = a_studio();
    assert_eq!(studio.ask(&["worked", "stop"]).code(), 6);
    studio.ok(&["worked", "begin", "--when", "2025-03-04 10:00"]);
    assert_eq!(studio.ask(&["worked", "begin"]).code(), 6, "one goes on");
    let forgotten = studio.ask(&["worked", "stop"]);
    assert_eq!(forgotten.code(), 6);
    assert!(forgotten.err_words().contains("was that all time at the frame?"), "{forgotten:?}");
    studio.ok(&["worked", "stop", "2h"]);
    let session = studio.json(&["rug", "sessions", "--json"])["sessions"][0].clone();
    assert_eq!(session["frame_time_ms"], 120 * MINUTE);
    assert_eq!(studio.ask(&["worked", "stop"]).code(), 6, "it has ended");
    studio.ok(&["worked", "90", "--corrects", session["session"].as_str().unwrap()]);
    assert_eq!(studio.ask(&["worked", "stop"]).code(), 6, "its correction has ended too");
}

#[test]
fn what_was_typed_in_is_used_where_strokes_are_not_needed() {
    let studio = a_studio();
    for day in 4..8 {
        studio.ok(&["worked", "2h", "--who", "Ada", "--when", &format!("2025-03-0{day} 10:00")]);
    }
    // 54 min a day by the share.
    let oiling = |json: &Value| {
        let tasks = json["tasks"].as_array().unwrap();
        tasks.iter().find(|task| task["task"] == "oiling").unwrap()["by_hand_run_time_ms"].clone()
    };
    assert_eq!(oiling(&studio.ask(&["due", "--json"]).json()), 4 * 54 * MINUTE);
    let year = studio.json(&["plot", "year", "--json"]);
    assert_eq!(year["run_time_ms"], 4 * 54 * MINUTE);
    let usage = studio.json(&["plot", "usage", "--json"]);
    assert_eq!(usage["bars"][0]["entered_run_time_ms"], 4 * 54 * MINUTE);
    let exposure = studio.json(&["exposure", "--json"]);
    assert_eq!(exposure["days"][0]["people"][0]["name"], "Ada");
    assert_eq!(exposure["machines"][0]["entered_run_time_ms"], 4 * 54 * MINUTE);
    let sheet = studio.json(&["rug", "sheet", "Fox", "--json"]);
    assert_eq!(sheet["clocks"]["tufting_by_hand_ms"], 8 * 60 * MINUTE);
    assert_eq!(sheet["clocks"]["labour_ms"], 8 * 60 * MINUTE);
}

#[test]
fn quotes_follow_from_rugs_that_nobody_counted() {
    let studio = Studio::empty();
    studio.ok(&["machine", "add", "Blue handle", "--since", "2025-01-01"]);
    for (number, frame) in ["4h", "5h", "4h30", "5h30"].iter().enumerate() {
        let name = format!("Rug {number}");
        let day = |hour: u32| format!("2025-03-0{} {hour}:00", number + 1);
        studio.ok(&["rug", "new", &name, "--size", "100x100cm", "--when", "2025-02-01"]);
        studio.ok(&["rug", "start", &name, "--when", &day(8)]);
        studio.ok(&["worked", frame, "--when", &day(10)]);
        studio.ok(&["rug", "finish", &name, "--when", &day(20)]);
    }
    let quote = studio.json(&["quote", "--size", "100x100cm", "--json"]);
    let tufting = quote["tufting_hours"]["estimate"].as_f64().unwrap();
    // The geometric mean of 4, 5, 4.5 and 5.5 hours for a square metre.
    assert!((tufting - (4.0_f64 * 5.0 * 4.5 * 5.5).powf(0.25)).abs() < 1e-9, "{quote}");
    assert_eq!(quote["strokes"]["estimate"], Value::Null);
}

#[test]
fn the_week_card_is_a_page_with_the_columns_in_which_it_is_typed_in() {
    let studio = a_studio();
    studio.ok(&["worked", "card", "--out", "card.html"]);
    let page = std::fs::read_to_string(studio.path().with_file_name("card.html")).unwrap();
    let mut rest = page.as_str();
    for column in ["date", "rug", "from", "to", "brush", "screws", "oil", "tears"] {
        let head = format!(">{column}</th>");
        let at = rest.find(&head).unwrap_or_else(|| panic!("{column} is missing or out of order"));
        rest = &rest[at..];
    }
    assert!(page.contains("Fox") && page.contains("Unplug"));
}
