//! `machine`, `rug`, `hours` and `plot` as the maker types them.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a test may stop at the first surprise"
)]

use crate::bench_studio::{Studio, reading, running};
use rstest::rstest;
use shared_types::{Edges, RunMillis, Totals, UtcMillis};

/// 2025-03-03T08:00:00Z, a Monday: 20,150 days after 1970-01-01, and eight hours.
const MONDAY_8: i64 = 20_150 * 86_400_000 + 8 * 3_600_000;
const TUESDAY_8: UtcMillis = UtcMillis(MONDAY_8 + 86_400_000);

/// UTC offset of two hours.
fn empty() -> Studio {
    Studio::empty_in("<+02>-2")
}

/// One machine with knob marks 1000 to 3000, Fox on the frame on Monday from 10:00 to 12:00 local (08:00 to 10:00
/// UTC), and three sessions: 60 s for Fox at 10:05, 30 s for Fox at 10:40, 45 s for nobody at 13:00. Nine seconds and
/// 100 edges are lost.
fn a_studio() -> Studio {
    let studio = empty();
    studio.ok(&["machine", "add", "Blue"]);
    studio.ok(&["machine", "calibrate", "--slow", "1000", "--fast", "3000"]);
    studio.ok(&["rug", "new", "Fox", "--size", "80x120cm", "--cloth", "roll 3"]);
    studio.ok(&["rug", "start", "fox", "--when", "2025-03-03 10:00"]);
    studio.ok(&["rug", "pause", "Fox", "--when", "2025-03-03 12:00"]);
    let records = [
        reading(1, MONDAY_8),
        running(1, 5, 60_000, 721, 1200),
        running(1, 40, 30_000, 361, 2900),
        running(1, 180, 45_000, 541, 2100),
    ];
    studio.pulled_with_loss(TUESDAY_8, &records, Totals { run: RunMillis(9_000), edges: Edges(100) });
    studio.ok(&["machine", "fit"]);
    studio
}

#[test]
fn an_empty_database_is_answered_with_the_next_step_and_its_json_is_still_an_object() {
    let studio = empty();
    assert!(studio.ok(&["hours"]).contains("needlehours machine add"));
    assert!(studio.ok(&["machine"]).contains("needlehours machine add"));
    assert!(studio.ok(&["rug", "list"]).contains("needlehours rug new"));
    assert!(studio.ok(&["plot", "usage"]).contains("needlehours pull"));
    let hours = studio.json(&["hours", "--json"]);
    assert_eq!(hours["schema"], 1);
    assert_eq!(hours["machines"], serde_json::json!([]));
    assert!(hours["no_machine"].is_null());
}

#[test]
fn hours_per_rug_add_up_on_screen_and_in_json() {
    let studio = a_studio();
    let text = studio.ok(&["hours"]);
    let line =
        |start: &str| text.lines().find(|line| line.trim_start().starts_with(start)).unwrap_or_default();
    assert!(line("Machine 1, Blue").ends_with("2 min of running, 1,723 strokes"), "{text}");
    let fox: Vec<&str> = line("Fox").split_whitespace().collect();
    // A minute and a half, to the nearest minute.
    assert_eq!(fox, ["Fox", "2", "min", "1,082", "2", "all", "3", "Mar", "2025"], "{text}");
    assert!(line("no rug yet").contains("45 s"), "{text}");
    assert!(line("not recorded").contains("9 s"), "{text}");
    assert!(text.contains("needlehours rug assign NAME --session 12"), "{text}");
    for word in ["boot", "anchor", "mille", "burst", "segment"] {
        assert!(!text.to_lowercase().contains(word), "{word} is no word for the maker: {text}");
    }

    let hours = studio.json(&["hours", "--json"]);
    let machine = &hours["machines"][0];
    assert_eq!(machine["rugs"][0]["assumed"]["run_time_ms"], 90_000);
    assert_eq!(machine["rugs"][0]["assumed"]["edges"], 1_082);
    assert_eq!(machine["rugs"][0]["total"]["sessions"], 2);
    assert_eq!(machine["unassigned"]["run_time_ms"], 45_000);
    assert_eq!(machine["not_recorded"]["run_time_ms"], 9_000);
    assert_eq!(machine["total"]["run_time_ms"], 144_000);
    assert_eq!(machine["total"]["edges"], 1_723);
    // Runs of 60 and 30 s are seven and four segments: records 1 to 7 and 8 to 11.
    assert_eq!(hours["open_sessions"][0]["session"], "12");
    assert_eq!(hours["open_sessions"][0]["day"], "2025-03-03");
}

#[test]
fn one_rug_is_shown_without_the_rest_of_the_machine() {
    let studio = a_studio();
    studio.ok(&["rug", "new", "Bear"]);
    let text = studio.ok(&["hours", "--rug", "fox"]);
    assert!(text.starts_with("Fox:\n") && text.contains("1,082") && !text.contains("not recorded"), "{text}");
    assert_eq!(studio.ok(&["hours", "--rug", "Bear"]), "No machine hours have been counted to Bear yet.\n");
    let hours = studio.json(&["hours", "--rug", "Bear", "--json"]);
    assert_eq!(hours["only_rug"], "Bear");
    assert_eq!(hours["machines"][0]["total"]["run_time_ms"], 144_000, "the machine's own sum stays whole");
}

#[test]
fn a_session_can_be_given_away_taken_back_and_confirmed() {
    let studio = a_studio();
    studio.ok(&["rug", "assign", "Fox", "--session", "12"]);
    let of_fox = |part: &str| {
        studio.json(&["hours", "--json"])["machines"][0]["rugs"][0][part]["run_time_ms"].as_u64().unwrap()
    };
    assert_eq!((of_fox("assumed"), of_fox("confirmed")), (90_000, 45_000));
    studio.ok(&["rug", "confirm", "Fox"]);
    assert_eq!((of_fox("assumed"), of_fox("confirmed")), (0, 135_000));
    studio.ok(&["rug", "assign", "--care", "--session", "1"]);
    studio.ok(&["rug", "assign", "--nobody", "--session", "8"]);
    let machine = &studio.json(&["hours", "--json"])["machines"][0];
    assert_eq!(machine["rugs"][0]["total"]["run_time_ms"], 45_000);
    assert_eq!(machine["care"]["run_time_ms"], 60_000);
    assert_eq!(machine["unassigned"]["run_time_ms"], 30_000);
    assert_eq!(machine["total"]["run_time_ms"], 144_000);
    let again = studio.ask(&["rug", "confirm", "--all"]);
    assert_eq!(again.code(), 6);
    assert!(again.err().contains("nothing in them is waiting for a yes"), "{}", again.err());
}

#[test]
fn what_is_open_on_a_day_can_be_given_away_at_once() {
    let studio = a_studio();
    studio.ok(&["rug", "new", "Bear"]);
    studio.ok(&["rug", "assign", "Bear", "--open", "--day", "2025-03-03"]);
    let rugs = &studio.json(&["hours", "--json"])["machines"][0]["rugs"];
    assert_eq!(rugs[0]["total"]["run_time_ms"], 90_000, "Fox keeps its own");
    assert_eq!((&rugs[1]["rug"], &rugs[1]["confirmed"]["run_time_ms"]), (&"Bear".into(), &45_000.into()));
    let nothing_left = studio.ask(&["rug", "assign", "Bear", "--open"]);
    assert_eq!(nothing_left.code(), 6, "{nothing_left:?}");
}

#[rstest]
#[case::neither(&[], "given, not left out")]
#[case::zero(&["--run-minutes", "0"], "must be 1 to 1440, not 0")]
#[case::negative(&["--tufting-minutes", "-5"], "must be 1 to 1440, not -5")]
#[case::huge(&["--run-minutes", "1441"], "must be 1 to 1440, not 1441")]
#[case::beyond_any_number(&["--run-minutes", "9223372036854775807"], "must be 1 to 1440")]
#[case::running_longer_than_standing(&["--run-minutes", "61", "--tufting-minutes", "60"], "61 of 60 minutes")]
#[case::knob(&["--run-minutes", "5", "--knob", "101"], "0 to 100 percent, not 101")]
#[case::negative_knob(&["--run-minutes", "5", "--knob", "-1"], "0 to 100 percent, not -1")]
#[case::no_time(&["--run-minutes", "1h:40"], "1 to 1440, or a time like 1h40 or 1:40, not \"1h:40\"")]
#[case::too_long(&["--run-minutes", "25h"], "1 to 1440, or a time like 1h40 or 1:40, not \"25h\"")]
#[case::thousands(&["--run-minutes", "1,200"], "1,200 may mean 1200 or 1.2")]
#[case::knob_with_its_sign(&["--run-minutes", "5", "--knob", "101 %"], "0 to 100 percent, not \"101 %\"")]
#[case::open_day(&["--run-minutes", "5", "--when", "3/4/2024"], "3 April 2024 or 4 March 2024")]
#[case::time_or_day(&["--run-minutes", "5", "--when", "12.05"], "may mean 12:05 today or 12 May")]
#[case::future(&["--run-minutes", "5", "--when", "9999-01-01"], "9999-01-01 has not come yet")]
#[case::no_date(&["--run-minutes", "5", "--when", "soon"], "\"soon\" is not a date")]
#[case::no_such_day(&["--run-minutes", "5", "--when", "2025-02-29"], "\"2025-02-29\" is not a date")]
#[case::unknown_rug(&["--run-minutes", "5", "--rug", "Fxo"], "no rug called Fxo")]
#[case::unknown_machine(&["--run-minutes", "5", "--machine", "9"], "no machine 9")]
fn hours_that_cannot_be_are_refused_and_nothing_is_written(#[case] more: &[&str], #[case] why: &str) {
    let studio = empty();
    studio.ok(&["machine", "add", "Blue"]);
    studio.ok(&["rug", "new", "Fox"]);
    let before = studio.entries().len();
    let said = studio.ask(&[&["hours", "add"], more].concat());
    assert_eq!(said.code(), 6, "{said:?}");
    assert_eq!(said.out(), "");
    let one_line = said.err_words();
    assert!(one_line.contains(why), "{}", said.err());
    assert_eq!(studio.entries().len(), before);
}

#[test]
fn an_unknown_rug_is_answered_with_the_nearest_name() {
    let studio = empty();
    studio.ok(&["rug", "new", "Fox"]);
    let said = studio.ask(&["rug", "start", "Fxo"]);
    assert_eq!(said.code(), 6);
    assert!(said.err().contains("Did you mean Fox?"), "{}", said.err());
}

#[test]
fn hours_written_by_hand_are_sessions_that_were_typed_in() {
    let studio = a_studio();
    let said =
        studio.ok(&["hours", "add", "--run-minutes", "20", "--rug", "fox", "--when", "2025-03-04 18:30"]);
    assert!(
        said.starts_with("Written down: 20 min of running for Fox, machine 1, Tue 4 Mar 2025 18:30.\n"),
        "{said}"
    );
    let said = studio.ok(&["hours", "add", "--tufting-minutes", "90", "--when", "2025-03-04"]);
    assert!(said.contains("needlehours worked share"), "{said}");
    let machine = &studio.json(&["hours", "--json"])["machines"][0];
    // 144 s were counted; typed in 20 min, and of 90 min at the frame the motor ran about 27 of 60.
    assert_eq!(machine["total"]["run_time_ms"], 144_000 + 1_200_000 + 2_430_000);
    assert_eq!(machine["entered"]["run_time_ms"], 1_200_000 + 2_430_000);
    assert_eq!(machine["entered"]["about"], true);
    assert_eq!(machine["rugs"][0]["entered"]["run_time_ms"], 1_200_000);
    assert_eq!(machine["entered_unassigned"]["run_time_ms"], 2_430_000, "no rug was on the frame then");
}

#[test]
fn hours_are_written_down_as_a_maker_types_them() {
    let studio = empty();
    studio.ok(&["machine", "add", "Blue"]);
    for (time, knob, when) in [
        ("1h40", "60", "2025-03-04 18:30"),
        ("1:40", "60%", "4.3.2025 18.30"),
        ("1 hour 40 minutes", "60 %", "4 March 2025 6:30 pm"),
        ("100 min", "60,0", "Mar 4, 2025 18h30"),
    ] {
        let said = studio.said(&["hours", "add", "--run-minutes", time, "--knob", knob, "--when", when]);
        let told = "Written down: 1 h 40 min of running, machine 1, Tue 4 Mar 2025 18:30.\n";
        assert!(said.starts_with(told), "{time}: {said}");
    }
    let by_hand = studio.json(&["hours", "--json"])["machines"][0]["by_hand"].clone();
    assert_eq!(by_hand[0]["run_time_ms"], 24_000_000, "four times a hundred minutes: {by_hand}");
}

#[test]
fn with_two_machines_the_one_that_is_meant_must_be_named() {
    let studio = empty();
    studio.ok(&["machine", "add", "Blue", "--hours-before", "200"]);
    studio.ok(&["machine", "add", "Old Green", "--pile", "loop", "--since", "2024-05-01"]);
    let said = studio.ask(&["hours", "add", "--run-minutes", "5"]);
    assert_eq!(said.code(), 6);
    assert!(said.err().contains("1 (Blue), 2 (Old Green)"), "{}", said.err());
    studio.ok(&["hours", "add", "--run-minutes", "5", "--machine", "2"]);
    let list = studio.json(&["machine", "list", "--json"]);
    assert_eq!(list["machines"][0]["before_logger_run_time_ms"], 720_000_000);
    assert_eq!(list["machines"][1]["pile"], "loop");
    let only = studio.json(&["hours", "--machine", "2", "--json"]);
    assert_eq!(only["machines"].as_array().unwrap().len(), 1);
}

#[test]
fn a_wrong_gear_ratio_can_be_set_right_for_everything_recorded_before() {
    let studio = a_studio();
    studio.ok(&["machine", "ratio", "--edges", "2"]);
    let machine = &studio.json(&["hours", "--json"])["machines"][0];
    assert_eq!((&machine["total"]["edges"], &machine["total"]["strokes"]), (&1_723.into(), &861.into()));
    assert_eq!(studio.ask(&["machine", "ratio", "--edges", "0"]).code(), 6);
    assert_eq!(studio.ask(&["machine", "calibrate", "--slow", "4096", "--fast", "0"]).code(), 6);
    assert_eq!(studio.ask(&["machine", "calibrate", "--slow", "5", "--fast", "9"]).code(), 6);
}

#[test]
fn the_same_rug_is_not_entered_twice_and_two_on_the_frame_are_warned_about() {
    let studio = empty();
    studio.ok(&["rug", "new", "Fox"]);
    assert_eq!(studio.ask(&["rug", "new", " fox "]).code(), 6);
    assert_eq!(studio.ask(&["rug", "new", "  "]).code(), 6);
    studio.ok(&["rug", "new", "Bear"]);
    studio.ok(&["rug", "start", "Fox", "--when", "2025-03-03"]);
    let said = studio.ok(&["rug", "start", "Bear", "--when", "2025-03-04 09:00"]);
    assert!(said.contains("Bear is on the frame since Tue 4 Mar 2025 09:00."), "{said}");
    assert!(said.contains("Fox is on the frame too."), "{said}");
    assert!(said.contains("needlehours rug pause \"Fox\""), "{said}");
}

#[test]
fn hours_of_a_logger_that_sits_nowhere_are_shown_and_can_be_fitted_afterwards() {
    let studio = empty();
    studio.ok(&["machine", "add", "Blue"]);
    studio.pulled_with_loss(
        TUESDAY_8,
        &[reading(1, MONDAY_8), running(1, 5, 60_000, 721, 1200)],
        Totals::default(),
    );
    let text = studio.ok(&["hours"]);
    assert!(text.contains("Loggers that sit on no machine"), "{text}");
    assert_eq!(studio.json(&["hours", "--json"])["no_machine"]["total"]["run_time_ms"], 60_000);
    assert!(studio.ok(&["machine", "list"]).contains("On no machine: logger 00000000000000a1"));
    studio.ok(&["machine", "fit"]);
    let hours = studio.json(&["hours", "--json"]);
    assert!(hours["no_machine"].is_null());
    assert_eq!(hours["machines"][0]["total"]["run_time_ms"], 60_000);
}

#[test]
fn the_picture_of_usage_is_written_and_its_numbers_can_be_had() {
    let studio = a_studio();
    assert_eq!(studio.ok(&["plot", "usage", "--out", "hours.svg"]), "Drawn: hours.svg\n");
    let picture = std::fs::read_to_string(studio.path().parent().unwrap().join("hours.svg")).unwrap();
    assert!(picture.starts_with("<svg ") && picture.trim_end().ends_with("</svg>"));
    assert!(picture.contains("Fox"));
    let numbers = studio.json(&["plot", "usage", "--json"]);
    let bands: Vec<_> = numbers["bars"][0]["bands"]
        .as_array()
        .unwrap()
        .iter()
        .map(|band| band["run_time_ms"].clone())
        .collect();
    // Angle 1200 of 1000 to 3000 is a tenth of the way, 2900 nineteen twentieths.
    assert_eq!(bands, [60_000, 0, 0, 30_000, 0]);
    assert_eq!(numbers["bars"][1]["counted_to"], "nobody");
    assert_eq!(numbers["bars"][1]["bands"][2]["run_time_ms"], 45_000, "2100 is just over the middle");
    let nowhere = studio.ask(&["plot", "usage", "--out", "no/such/folder/x.svg"]);
    assert_eq!(nowhere.code(), 6, "{nowhere:?}");
}

#[test]
fn sessions_are_listed_with_numbers_that_name_them() {
    let studio = a_studio();
    let text = studio.ok(&["rug", "sessions"]);
    assert!(text.contains("Mon 3 Mar 2025 10:05"), "{text}");
    assert!(text.contains("Fox (assumed)"), "{text}");
    assert!(text.contains("no rug yet: no rug was on"), "{text}");
    let named: Vec<_> = studio.json(&["rug", "sessions", "--json"])["sessions"]
        .as_array()
        .unwrap()
        .iter()
        .map(|session| session["session"].as_str().unwrap().to_owned())
        .collect();
    assert_eq!(named, ["1", "8", "12"]);
    assert_eq!(studio.ask(&["rug", "assign", "Fox", "--session", "99"]).code(), 6);
    assert_eq!(studio.ask(&["rug", "assign", "Fox"]).code(), 2, "which sessions?");
}
