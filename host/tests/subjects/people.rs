//! People and loans as a maker runs them, and the dose of each person.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::panic,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a test may stop at the first surprise"
)]

use crate::bench_studio::{Log, MONDAY_8, Studio, reading, running};
use serde_json::Value;
use shared_types::{Edges, RunMillis, Totals, UtcMillis};

/// The first record of the second session. Two hours are 750 segments of 9.6 seconds, with numbers from 2 on.
const SECOND: &str = "752";

/// Monday: two hours from 8:10 on, one hour from 12:00 on. Two sessions, of records from 2 and from 752 on.
fn studio() -> Studio {
    let studio = Studio::new();
    let mut log = Log::new();
    log.run(10, 120, 300).run(240, 60, 300);
    studio.pulled(&log);
    studio
}

/// Points by person (zero for nobody) on the only day.
fn points(studio: &Studio) -> Vec<(u64, f64)> {
    let answer = studio.json(&["exposure", "--json"]);
    let days = answer["days"].as_array().unwrap();
    assert_eq!(days.len(), 1);
    let person =
        |day: &Value| (day["person"].as_u64().unwrap_or(0), day["exposure"]["points"].as_f64().unwrap());
    days[0]["people"].as_array().unwrap().iter().map(person).collect()
}

fn expect_points(studio: &Studio, expected: &[(u64, f64)]) {
    let found = points(studio);
    assert_eq!(found.len(), expected.len(), "{found:?}");
    for ((person, points), (right_person, right_points)) in found.iter().zip(expected) {
        assert_eq!(person, right_person);
        assert!((points - right_points).abs() < 1e-9 * right_points, "{found:?}");
    }
}

#[test]
fn points_are_told_person_by_person_and_what_nobody_was_named_for_stays_so() {
    // Ready-reckoner of the Health and Safety Executive (hse.gov.uk): 7 m/s² for one hour is 98 points; points double with
    // time and add up.
    let studio = studio();
    studio.ok(&["exposure", "set", "--vibration", "7"]);
    expect_points(&studio, &[(0, 294.0)]);
    studio.ok(&["person", "add", "Mirel"]);
    studio.ok(&["person", "add", "Tamsin"]);
    studio.ok(&["exposure", "who", "Tamsin", "--session", SECOND]);
    expect_points(&studio, &[(2, 98.0), (0, 196.0)]);
    studio.ok(&["exposure", "who", "mirel", "--from", "2026-01-01"]);
    expect_points(&studio, &[(1, 196.0), (2, 98.0)]);
    studio.ok(&["exposure", "who", "unknown", "--session", "2"]);
    expect_points(&studio, &[(2, 98.0), (0, 196.0)]);
    studio.ok(&["exposure", "who", "1", "--day", "2026-03-02"]);
    expect_points(&studio, &[(1, 294.0)]);
    let said = studio.ok(&["exposure"]);
    assert!(said.contains("Mirel") && said.contains("estimate"), "{said}");
}

#[test]
fn a_day_of_a_person_with_a_usual_name_is_one_line_of_the_table() {
    let studio = studio();
    studio.ok(&["exposure", "set", "--vibration", "7"]);
    studio.ok(&["person", "add", "Tamsin B"]);
    studio.ok(&["exposure", "who", "1", "--day", "2026-03-02"]);
    let said = studio.ok(&["exposure"]);
    let row = said.lines().find(|line| line.contains("Tamsin B")).unwrap();
    // Three hours at 7 m/s² are 294 points: above the action value of 100, below the limit value of 400.
    for cell in ["Mon 2 Mar 2026", "3 h", "294", "exceeded", "below"] {
        assert!(row.contains(cell), "{cell} is missing in: {said}");
    }
}

#[test]
fn without_a_figure_people_have_run_time_and_no_dose() {
    let studio = studio();
    studio.ok(&["person", "add", "Mirel"]);
    studio.ok(&["exposure", "who", "1", "--from", "2026-01-01"]);
    let answer = studio.json(&["exposure", "--json"]);
    let person = &answer["days"][0]["people"][0];
    assert_eq!(person["name"], "Mirel");
    assert_eq!(person["machines"][0]["run_time_ms"], 3 * 3_600_000);
    assert_eq!(person["exposure"], Value::Null);
    let said = studio.ok(&["exposure"]);
    assert!(said.contains("no vibration figure was entered") && !said.contains("points"), "{said}");
}

#[test]
fn while_a_machine_is_lent_its_running_is_the_borrowers_and_told_apart() {
    let studio = studio();
    studio.ok(&["exposure", "set", "--vibration", "7"]);
    let said = studio.ok(&[
        "machine",
        "lend",
        "1",
        "--to",
        "Ana",
        "--condition",
        "clean",
        "--when",
        "2026-03-02 11:00",
    ]);
    assert!(
        said.contains("Ana, who is person 1 from now on")
            && said.contains("Reading of Mon 2 Mar 2026 11:00: 2 h of running, 72,000 strokes."),
        "{said}"
    );
    expect_points(&studio, &[(1, 98.0), (0, 196.0)]);
    let loans = studio.json(&["machine", "loans", "--json"]);
    let loan = &loans["loans"][0]["loan"];
    assert_eq!((&loan["run_time_ms"], &loan["back_utc_ms"]), (&3_600_000.into(), &Value::Null));
    // The run of one hour began at noon, after it had left; the run from 8:10 had ended.
    assert_eq!(
        (&loan["reading_out"]["run"], &loan["reading_out"]["strokes"]),
        (&(2 * 3_600_000).into(), &72_000.into())
    );
    // Care counts it all: three hours since oiling was never done.
    let due = studio.json_of_due();
    assert_eq!(due["run_time_since_at_most_ms"], 3 * 3_600_000);
}

/// `due` ends with a code of its own when something is due.
trait Due {
    fn json_of_due(&self) -> Value;
}

impl Due for Studio {
    fn json_of_due(&self) -> Value {
        let report = self.ask(&["due", "--json"]).json();
        report["tasks"].as_array().unwrap().iter().find(|task| task["task"] == "oiling").unwrap().clone()
    }
}

#[test]
fn loans_that_cannot_be_are_refused_and_nothing_is_entered() {
    let studio = studio();
    let entries = || studio.entries().len();
    let before = entries();
    for words in [
        &["machine", "back", "1"][..],
        &["machine", "lend", "9", "--to", "Ana"],
        &["machine", "lend", "1", "--to", ""],
        &["machine", "lend", "1", "--to", "unknown"],
        &["machine", "lend", "1", "--to", "Ana", "--when", "2999-01-01"],
        &["machine", "lend", "1", "--to", "Ana", "--condition", &"x".repeat(501)],
        &["exposure", "who", "Ana"],
        &["exposure", "who", "unknown", "--session", "77"],
        &["person", "rename", "5", "Ana"],
        &["person", "erase", "5"],
        &["person", "add", " \n "],
    ] {
        let told = studio.ask(words);
        assert_eq!(told.code(), 6, "{words:?}: {told:?}");
        assert_eq!(entries(), before, "{words:?}");
    }
    studio.ok(&["machine", "lend", "1", "--to", "Ana", "--when", "2026-03-03"]);
    let before = entries();
    for words in
        [&["machine", "lend", "1", "--to", "Ben"][..], &["machine", "back", "1", "--when", "2026-03-01"]]
    {
        assert_eq!(studio.ask(words).code(), 6, "{words:?}");
        assert_eq!(entries(), before, "{words:?}");
    }
    studio.ok(&["machine", "back", "1", "--when", "2026-03-05"]);
    assert_eq!(studio.ask(&["machine", "lend", "1", "--to", "Ana", "--when", "2026-03-04"]).code(), 6);
    studio.ok(&["machine", "lend", "1", "--to", "ANA", "--when", "2026-03-06"]);
    assert_eq!(studio.json(&["person", "list", "--json"])["people"].as_array().unwrap().len(), 1);
}

#[test]
fn a_number_is_never_given_to_somebody_else() {
    let studio = studio();
    for name in ["Mirel", "Tamsin"] {
        studio.ok(&["person", "add", name]);
    }
    studio.ok(&["person", "erase", "2"]);
    assert!(studio.ok(&["person", "add", "Tamsin"]).contains("person 3"));
    studio.ok(&["person", "rename", "1", "Mirela"]);
    let people = studio.json(&["person", "--json"]);
    let names: Vec<_> = people["people"].as_array().unwrap().iter().map(|one| one["name"].clone()).collect();
    assert_eq!(names, [Value::from("Mirela"), Value::Null, Value::from("Tamsin")]);
    assert_eq!(studio.ask(&["person", "add", "MIRELA"]).code(), 6);
}

#[test]
fn running_is_spread_over_machines_for_the_same_pile() {
    let studio = studio();
    studio.ok(&["machine", "add", "Nelly", "--pile", "cut"]);
    studio.ok(&["machine", "add", "Lou", "--pile", "loop"]);
    studio.ok(&["hours", "add", "--machine", "2", "--run-minutes", "60", "--when", "2026-03-02 10:00"]);
    let spread =
        studio.json(&["machine", "spread", "--since", "2026-03-02", "--until", "2026-03-02", "--json"]);
    let group = &spread["groups"][0];
    let shares: Vec<_> =
        group["machines"].as_array().unwrap().iter().map(|line| line["share"].as_f64().unwrap()).collect();
    assert_eq!((shares, &group["take_next"]), (vec![0.75, 0.25], &2.into()));
    studio.ok(&["machine", "lend", "2", "--to", "Ana"]);
    assert!(studio.ok(&["machine", "list"]).contains("Lent out: Nelly."));
    assert_eq!(studio.json(&["machine", "--json"])["machines"][1]["lent_to"], 1);
    let said = studio.ok(&["machine", "spread"]);
    assert!(said.contains("Take Rosie (machine 1) next"), "{said}");
    assert!(said.contains("There is no other machine for this pile"), "{said}");
    let none = studio.json(&["machine", "spread", "--since", "2026-03-03", "--json"]);
    assert_eq!(none["groups"][0]["machines"][0]["share"], Value::Null);
    assert_eq!(
        studio.ask(&["machine", "spread", "--since", "2026-03-03", "--until", "2026-03-01"]).code(),
        6
    );
}

#[test]
fn two_machines_that_claim_one_logger_are_both_named_and_the_later_word_counts() {
    let studio = studio();
    studio.ok(&["machine", "add", "Nelly"]);
    let said = studio.ok(&["machine", "fit", "--machine", "2", "--from-record", "0", "--yes"]);
    assert!(said.contains("Machine 1 claimed the same records; from now on they are machine 2's"), "{said}");
    let hours = studio.json(&["hours", "--json"]);
    assert_eq!(hours["fitting_conflicts"].as_array().unwrap().len(), 1);
    let run: Vec<_> =
        hours["machines"].as_array().unwrap().iter().map(|one| one["total"]["run_time_ms"].clone()).collect();
    assert_eq!(run, [Value::from(0), Value::from(3 * 3_600_000)], "no running is counted twice");
}

#[test]
fn two_machines_cannot_have_one_name() {
    let studio = studio();
    for name in ["Rosie", " rosie ", "ROSIE"] {
        let told = studio.ask(&["machine", "add", name]);
        assert_eq!(told.code(), 6, "{name}");
        assert!(told.err().contains("machine 1 is called Rosie already"), "{told:?}");
    }
    studio.ok(&["machine", "add", "Rosie the second"]);
}

#[test]
fn running_is_not_taken_from_a_machine_unasked_and_the_move_stays_on_record() {
    let studio = studio();
    studio.ok(&["machine", "add", "Nelly"]);
    let before = studio.entries().len();
    // The second run is one hour, of 36,000 strokes; 375 segments, so that 1,126 is the last record.
    let asked = studio.ask(&["machine", "fit", "--machine", "2", "--from-record", SECOND]);
    assert_eq!(asked.code(), 6, "{asked:?}");
    assert!(
        asked.out().contains("1 h and 36,000 strokes go from machine 1, Rosie to machine 2, Nelly."),
        "{asked:?}"
    );
    assert!(asked.err().contains("--yes"), "{asked:?}");
    assert_eq!(studio.ask(&["machine", "fit", "--machine", "0", "--from-record", "0"]).code(), 6);
    assert_eq!(
        studio.ask(&["machine", "fit", "--machine", "2", "--from-record", "1128", "--yes"]).code(),
        6,
        "not written yet"
    );
    assert_eq!(studio.entries().len(), before);
    let runs = || -> Vec<Value> {
        let hours = studio.json(&["hours", "--json"]);
        let machines = hours["machines"].as_array().unwrap().iter();
        machines.map(|one| one["total"]["run_time_ms"].clone()).collect()
    };
    let fit = |machine: &str| {
        studio.json(&["machine", "fit", "--machine", machine, "--from-record", SECOND, "--yes", "--json"])
    };
    let moved = fit("2");
    assert_eq!(moved["changes"][0]["before"]["strokes"], 108_000);
    assert_eq!(moved["changes"][0]["after"]["run_time_ms"], 7_200_000);
    assert_eq!(moved["changes"][1]["after"]["strokes"], 36_000);
    assert_eq!(runs(), [Value::from(7_200_000), Value::from(3_600_000)]);
    for machine in ["1", "2"] {
        let book = studio.json(&["book", "--machine", machine, "--json"]);
        let late = book["late_fittings"].as_array().unwrap();
        assert_eq!(
            (late.len(), &late[0]["machine"], &late[0]["from_record"]),
            (1, &2.into(), &SECOND.parse::<u32>().unwrap().into()),
            "{machine}"
        );
    }
    fit("1");
    assert_eq!(runs(), [Value::from(10_800_000), Value::from(0)], "and back");
    // What is still to come takes nothing from anybody.
    studio.ok(&["machine", "fit", "--machine", "2"]);
}

#[test]
fn heavy_use_counts_typed_in_hours_in_the_long_days_alone_and_says_so() {
    let studio = studio();
    studio.ok(&["hours", "add", "--run-minutes", "45", "--when", "2026-03-03"]);
    assert_eq!(studio.json(&["heavy", "--json"])["machines"][0]["by_hand_run_time_ms"], 45 * 60_000);
    let said = studio.ok(&["heavy"]);
    assert!(said.contains("45 min of it typed in: in the long days, and in nothing else"), "{said}");
    let later = studio.json(&["heavy", "--since", "2026-03-04", "--json"]);
    assert_eq!(later["machines"][0]["by_hand_run_time_ms"], 0);
}

#[test]
fn a_reading_is_of_the_moment_that_is_named_or_what_the_maker_types_and_otherwise_not_known() {
    let studio = studio();
    let lend = |more: &[&str]| {
        studio.json(&[&["machine", "lend", "--to", "Ana", "--json"], more].concat())["reading"].clone()
    };
    let back =
        |more: &[&str]| studio.json(&[&["machine", "back", "--json"], more].concat())["reading"].clone();
    // Two hours from 8:10 on, of 72,000 strokes, in segments of 9.6 s and 96 strokes: 9:00 lies 50 minutes into them, in the middle
    // of the 313th, which may have been on either side.
    let within = lend(&["--when", "2026-03-02 09:00"]);
    assert_eq!((&within["run"], &within["run_at_most"]), (&2_995_200.into(), &3_004_800.into()));
    assert_eq!((&within["strokes"], &within["strokes_at_most"]), (&29_952.into(), &30_048.into()));
    let whole = back(&["--when", "2026-03-02 11:00"]);
    assert_eq!((&whole["run"], &whole["source"]), (&7_200_000.into(), &"log".into()));
    let typed = lend(&["--when", "2026-03-02 11:30", "--reading-hours", "120.5", "--reading-strokes", "77"]);
    assert_eq!(
        (&typed["run"], &typed["strokes"], &typed["source"]),
        (&433_800_000.into(), &77.into(), &"typed".into())
    );
    let before = studio.entries().len();
    let fell = studio.ask(&["machine", "back", "--when", "2026-03-02 13:30", "--reading-hours", "120.4"]);
    assert_eq!(fell.code(), 6, "{fell:?}");
    for hours in ["", "-1", "ten", "1.2345", "NaN", "1e3", "9999999999", "99999999999999999999"] {
        let words = ["machine", "back", "--when", "2026-03-02 13:30", &format!("--reading-hours={hours}")];
        let told = studio.ask(&words);
        assert_eq!(told.code(), 6, "{hours}");
        assert!(told.err_words().contains(&format!("not \"{hours}\"")), "{}", told.err_words());
    }
    assert_eq!(studio.entries().len(), before);
    back(&["--when", "2026-03-02 13:30", "--reading-hours", "121.5"]);
    let said = studio.ok(&["machine", "loans"]);
    assert!(
        said.contains("Reading out: 50 min of running, 29,952 to 30,048 strokes; back: 2 h of running"),
        "{said}"
    );
    assert!(
        said.contains(
            "120 h 30 min of running, 77 strokes, as typed; back: 121 h 30 min of running, as typed"
        ),
        "{said}"
    );
    studio.ok(&["machine", "add", "Nelly"]);
    let said = studio.ok(&["machine", "lend", "2", "--to", "Ana"]);
    assert!(said.contains("Reading: not known.") && said.contains("--reading-hours"), "{said}");
}

#[test]
fn what_a_pull_brings_later_corrects_the_reading_of_a_loan_that_was_entered_before() {
    let studio = Studio::new();
    studio.ok(&["machine", "lend", "--to", "Ana", "--when", "2026-03-02 11:00"]);
    let mut log = Log::new();
    log.run(10, 120, 300).run(240, 60, 300);
    studio.pulled(&log);
    let loans = studio.json(&["machine", "loans", "--json"]);
    let loan = &loans["loans"][0]["loan"];
    assert_eq!(loan["reading_out"]["source"], "not_known", "nothing had been read then");
    assert_eq!(
        (&loan["counted_out"]["run"], &loan["counted_out"]["source"]),
        (&7_200_000.into(), &"log".into())
    );
    assert!(studio.ok(&["machine", "loans"]).contains("Reading out: 2 h of running, 72,000 strokes."));
}

#[test]
fn running_while_a_machine_is_lent_is_a_line_of_its_own_in_the_hours_and_no_rugs() {
    let studio = studio();
    studio.rug("Fox", "roll 1");
    studio.ok(&["machine", "lend", "--to", "Ana", "--when", "2026-03-02 11:00"]);
    let hours = studio.json(&["hours", "--json"]);
    let machine = &hours["machines"][0];
    assert_eq!(machine["rugs"][0]["total"]["run_time_ms"], 7_200_000);
    assert_eq!(machine["unassigned_while_lent"]["run_time_ms"], 3_600_000);
    assert_eq!(machine["unassigned"]["run_time_ms"], 3_600_000);
    assert_eq!(machine["total"]["run_time_ms"], 10_800_000);
    assert_eq!(hours["open_sessions"].as_array().unwrap().len(), 0, "it is no open question whose it is");
    let said = studio.ok(&["hours"]);
    assert!(said.lines().any(|line| line.starts_with("lent out") && line.contains("1 h")), "{said}");
    studio.ok(&["rug", "assign", "Fox", "--session", SECOND]);
    let hours = studio.json(&["hours", "--json"]);
    assert_eq!(hours["machines"][0]["rugs"][0]["total"]["run_time_ms"], 10_800_000);
}

/// Three sessions of one person and another, with noise between them and two seconds that no record tells of; and two sessions
/// that were typed in.
fn rented() -> Studio {
    let studio = Studio::new();
    let records = [
        reading(1, MONDAY_8),
        running(1, 10, 9_001, 109, 300),
        running(1, 20, 9_000, 5_000, 300),
        running(1, 30, 9_003, 109, 300),
        running(1, 240, 9_007, 109, 300),
    ];
    let lost = Totals { run: RunMillis(2_000), edges: Edges(24) };
    studio.pulled_with_loss(UtcMillis(MONDAY_8 + 8 * 3_600_000), &records, lost);
    studio.ok(&["person", "add", "Mirel"]);
    studio.ok(&["person", "add", "Tamsin"]);
    studio.ok(&["exposure", "who", "Mirel", "--from", "2026-01-01"]);
    studio.ok(&["exposure", "who", "Tamsin", "--session", "4"]);
    let day = ["--when", "2026-03-03 09:00"];
    studio.ok(&[["worked", "1h", "--motor", "20min", "--who", "Tamsin"].as_slice(), &day].concat());
    studio.ok(&["worked", "30min", "--motor", "11min", "--when", "2026-03-04 09:00"]);
    studio
}

#[test]
fn hours_by_person_add_up_to_the_hours_of_the_machine_to_the_millisecond() {
    const MINUTE: u64 = 60_000;
    let studio = rented();
    // Person, counted running and sessions, typed in running, time at the frame and sessions.
    let people = |studio: &Studio| -> Vec<[u64; 6]> {
        let answer = studio.json(&["hours", "--by-person", "--json"]);
        let machine = studio.json(&["hours", "--json"])["machines"][0].clone();
        let run = |value: &Value| value["run_time_ms"].as_u64().unwrap();
        let people = answer["people"].as_array().unwrap().clone();
        let left_out = run(&machine["doubtful"]) + run(&machine["not_recorded"]);
        assert_eq!(answer["left_out_run_time_ms"], left_out);
        assert_eq!(left_out, 9_000 + 2_000);
        let sum: u64 = people.iter().map(|one| run(&one["counted"]) + run(&one["entered"])).sum();
        assert_eq!((&answer["run_time_ms"], sum), (&sum.into(), run(&machine["total"]) - left_out));
        let entered: u64 = people.iter().map(|one| run(&one["entered"])).sum();
        assert_eq!(entered, run(&machine["entered"]));
        let row = |one: &Value| {
            let (counted, entered) = (&one["counted"], &one["entered"]);
            let number = |value: &Value| value.as_u64().unwrap();
            [
                one["person"].as_u64().unwrap_or(0),
                run(counted),
                number(&counted["sessions"]),
                run(entered),
                number(&entered["frame_time_ms"]),
                number(&entered["sessions"]),
            ]
        };
        people.iter().map(row).collect()
    };
    let mirel = [1, 9_001 + 9_003, 2, 11 * MINUTE, 30 * MINUTE, 1];
    assert_eq!(people(&studio), [mirel, [2, 9_007, 1, 20 * MINUTE, 60 * MINUTE, 1]]);
    // What was set aside is in nobody's hours, as before it was answered.
    studio.ok(&["hours", "check", "2", "--not-real"]);
    studio.ok(&["exposure", "who", "unknown", "--session", "4"]);
    let tamsin = [2, 0, 0, 20 * MINUTE, 60 * MINUTE, 1];
    assert_eq!(people(&studio), [mirel, tamsin, [0, 9_007, 1, 0, 0, 0]]);
    let said = studio.ok(&["hours", "--by-person"]);
    assert!(said.contains("nobody named") && said.contains("In nobody's hours: 11 s"), "{said}");
}

#[test]
fn an_erased_name_keeps_its_hours_and_a_rug_is_not_asked_for_by_person() {
    let studio = rented();
    studio.ok(&["person", "erase", "Tamsin"]);
    let answer = studio.json(&["hours", "--by-person", "--json"]);
    assert_eq!((&answer["people"][1]["person"], &answer["people"][1]["name"]), (&2.into(), &Value::Null));
    assert!(studio.ok(&["hours", "--by-person"]).contains("person 2"));
    assert_eq!(studio.ask(&["hours", "--by-person", "--rug", "Fox"]).code(), 2);
    assert_eq!(studio.ask(&["hours", "--by-person", "--machine", "7"]).code(), 6);
    let empty = Studio::empty();
    assert!(empty.ok(&["hours", "--by-person"]).contains("No running has been counted"));
}
