//! The oiling routine, its findings and its dry run, through the program.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::panic,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a test may stop at the first surprise"
)]

use crate::bench_studio::{LOG, Log, MINUTE, MONDAY_8, ONE, Still, Studio, reading, running};
use host::app::care::press;
use host::app::logger::pull_report::PullReport;
use host::app::ports::Store;
use host_core::entries::{self, CareDone, CareTaskName, EntryBody};
use serde_json::Value;
use shared_types::log::PressKind;
use shared_types::{RecordSeq, Totals, UtcMillis};

fn oiled(minutes: u64) -> EntryBody {
    let at = UtcMillis(MONDAY_8 + i64::try_from(minutes * MINUTE).unwrap());
    let task = CareTaskName("oiling".to_owned());
    EntryBody::CareDone(CareDone { machine: ONE, task, at, finding: None, note: None })
}

/// A rug on the frame from 8:00 on; runs as (minute, seconds) at eight strokes a second, pulled at 12:00.
fn studio(runs: &[(u64, u64)]) -> Studio {
    let studio = Studio::new();
    studio.rug("Fox", "lot 1");
    let bursts = runs.iter().map(|(minute, seconds)| {
        running(1, *minute, seconds * 1_000, u32::try_from(seconds * 8).unwrap(), 300)
    });
    let records: Vec<_> = [reading(1, MONDAY_8)].into_iter().chain(bursts).collect();
    let noon = UtcMillis(MONDAY_8 + i64::try_from(240 * MINUTE).unwrap());
    studio.pulled_with_loss(noon, &records, Totals::default());
    studio
}

fn oiling(studio: &Studio) -> Value {
    let due = studio.ask(&["due", "--json"]).json();
    due["tasks"].as_array().unwrap().iter().find(|task| task["task"] == "oiling").unwrap().clone()
}

/// Run time of the commission and of care, in seconds.
fn hours(studio: &Studio) -> (u64, u64) {
    let report = studio.json(&["hours", "--json"]);
    let machine = &report["machines"][0];
    let text = machine.to_string();
    let care = machine["care"]["run_time_ms"].as_u64().unwrap_or_else(|| panic!("{text}"));
    let rugs = machine["rugs"][0]["total"]["run_time_ms"].as_u64().unwrap_or_else(|| panic!("{text}"));
    (rugs / 1_000, care / 1_000)
}

#[test]
fn the_dry_run_is_found_measured_and_charged_to_care() {
    // Work until 8:12, oiled at 8:30, half a minute alone at 8:35, work from 9:00 on.
    let studio = studio(&[(10, 60), (11, 60), (35, 30), (60, 60), (61, 60)]);
    let before = hours(&studio);
    studio.tell(oiled(30));
    let seen = &oiling(&studio)["dry_run"];
    assert_eq!(seen["seen"], "found");
    assert_eq!((seen["run_time_ms"].as_u64(), seen["strokes"].as_u64()), (Some(30_000), Some(240)));
    // 240 edges are 239 periods in 30 s.
    let rate = seen["strokes_per_second"].as_f64().unwrap();
    assert!((rate - 239.0 / 30.0).abs() < 0.04, "{rate}");
    let after = hours(&studio);
    assert_eq!((before, after), ((270, 0), (240, 30)));
    let words = studio.ask(&["due", "--all"]).out();
    assert!(
        words.contains("Dry run in the log: 30 s, 240 strokes, 8.0 a second; counted to care."),
        "{words}"
    );
}

#[test]
fn an_oiling_without_a_dry_run_is_told_so() {
    // The last line of tufting came two minutes after the one before: no time to oil.
    let studio = studio(&[(7, 60), (10, 60), (60, 60), (61, 60)]);
    studio.tell(oiled(12));
    assert_eq!(oiling(&studio)["dry_run"]["seen"], "not_found");
    assert!(studio.ask(&["due", "oiling"]).out().contains("no dry run around the last oiling"));
    assert!(studio.ok(&["done", "--history"]).contains("no dry run"));
}

#[test]
fn before_the_next_pull_nothing_is_said_against_the_maker() {
    let studio = studio(&[(10, 60)]);
    studio.tell(oiled(230));
    assert_eq!(oiling(&studio)["dry_run"]["seen"], "not_known");
    assert!(!studio.ask(&["due", "oiling"]).out().contains("no dry run"));
}

#[test]
fn a_dry_run_that_the_maker_gives_to_a_rug_is_the_rugs() {
    let studio = studio(&[(10, 60), (35, 30), (60, 60)]);
    studio.tell(oiled(30));
    assert_eq!(hours(&studio), (120, 30));
    studio.tell(EntryBody::BurstsAssigned(entries::BurstsAssigned {
        logger: LOG.logger,
        log: LOG.log,
        // After the clock reading, number 0, the first minute is eight segments of 7.5 seconds.
        from: RecordSeq(9),
        to: RecordSeq(9),
        owner: entries::Owner::Rug(entries::RugName("Fox".to_owned())),
        certainty: entries::Certainty::Explicit,
    }));
    assert_eq!(hours(&studio), (150, 0));
    assert_eq!(oiling(&studio)["dry_run"]["seen"], "not_found");
}

#[test]
fn the_routine_is_told_three_times_and_then_only_when_asked_for() {
    let studio = studio(&[(10, 60)]);
    for time in 0..3 {
        let told = studio.ok(&["done", "oiling"]);
        assert!(told.contains("Brush or vacuum") && told.contains("The trade disagrees"), "{time}: {told}");
        assert!(told.contains("About 30 seconds is common practice, no source"), "{time}: {told}");
        let place = |part: &str| told.find(part).unwrap_or_else(|| panic!("{part} in {told}"));
        assert!(place("unplug") < place("One drop of light clear"), "{told}");
        assert!(place("scissor pivot") < place("grey-black oil"), "{told}");
    }
    let fourth = studio.ok(&["done", "oiling"]);
    assert!(!fourth.contains("Brush or vacuum") && fourth.contains("short dry run"), "{fourth}");
    assert!(studio.ok(&["done", "oiling", "--walk"]).contains("Brush or vacuum"));
    assert_eq!(studio.json(&["done", "oiling", "--json"])["routine"], Value::Null);
    assert_eq!(studio.json(&["done", "screws", "--json"])["routine"], Value::Null);
}

#[test]
fn each_finding_is_one_letter_and_says_what_it_means() {
    let studio = studio(&[(10, 60)]);
    for (letter, name, meaning) in [
        ("c", "clean", "Nothing to see"),
        ("l", "lint", "brush out more often"),
        ("g", "grey_black_oil", "Once after oiling it is normal"),
        ("b", "black_mark_on_yarn", "Too little oil, or wear"),
        ("o", "clear_oil_spot", "Too much oil"),
    ] {
        let noted = studio.json(&["done", "oiling", "--finding", letter, "--json"]);
        assert_eq!(noted["finding"], name);
        assert!(noted["finding_means"].as_str().unwrap().contains(meaning), "{noted}");
    }
}

#[test]
fn nothing_waits_for_an_answer_where_nobody_is() {
    // The program is run with its input closed, as every test does; it must end, and note.
    let studio = studio(&[(10, 60)]);
    let before = studio.database().entries().unwrap().with_withdrawn().len();
    let told = studio.ask(&["done", "oiling", "--walk"]);
    assert_eq!((told.code(), studio.database().entries().unwrap().with_withdrawn().len()), (0, before + 1));
}

#[test]
fn a_care_press_is_asked_about_by_the_pull_that_brought_it_with_what_is_due_first() {
    let studio = Studio::new();
    let mut log = Log::new();
    log.run(10, 300, 500);
    let pressed = log.press(320, PressKind::CareDone, 500);
    studio.pulled(&log);
    studio.ok(&["done", "brush-out", "--when", "2026-03-02 08:05"]);
    studio.ok(&["done", "screws", "--when", "2026-03-02 08:05"]);
    let brought = |from: u32, to: u32| PullReport {
        logger: format!("{:016x}", LOG.logger.0),
        log: format!("{:08x}", LOG.log.0),
        new_from: Some(RecordSeq(from)),
        new_to: Some(RecordSeq(to)),
        ..PullReport::default()
    };
    let now = Still(MONDAY_8 + i64::try_from(330 * MINUTE).unwrap());
    let asked = |report: &PullReport| press::presses_of_pull(&studio.database(), &now, report).unwrap();
    let presses = asked(&brought(0, pressed.0));
    assert_eq!(presses.len(), 1);
    let press = &presses[0];
    assert_eq!(press.at, Some(UtcMillis(MONDAY_8 + i64::try_from(320 * MINUTE).unwrap())));
    let due: Vec<bool> = press.tasks.iter().map(|task| task.is_due).collect();
    assert!(due[0] && due.is_sorted_by(|one, next| one >= next), "{press:?}");
    let of_machine = press.tasks.iter().filter(|task| task.is_due && task.task != "re-tension").count();
    assert!(of_machine > 0, "{press:?}");
    assert_eq!(press.tasks[of_machine].task, "re-tension", "{press:?}");
    assert!(press.tasks[..of_machine].iter().all(|task| task.task != "re-tension"), "{press:?}");
    assert_eq!(asked(&brought(0, pressed.0 - 1)).len(), 0, "it was not in that pull");
    let other = PullReport { log: "0000000c".to_owned(), ..brought(0, pressed.0) };
    assert_eq!(asked(&other).len(), 0, "it was in another log");
    press::withdraw_press(&mut studio.database(), &now, &press.press).unwrap();
    assert_eq!(asked(&brought(0, pressed.0)).len(), 0, "nothing was done, and it is not asked again");
}
