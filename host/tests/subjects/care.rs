//! Care, asked through the use cases and through the program itself.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test may stop at the first surprise"
)]

use crate::bench_studio::{Log, MINUTE, MONDAY_8, ONE, Still, Studio};
use host::app::care::CareError;
use host::app::care::done::{self, DoneSaid};
use host::app::care::limits;
use host::app::typed::dates::DateError;
use host::app::typed::error::RequestError;
use host_core::care::schedule::DueState;
use host_core::entries::{CareDone, CareTaskName, EntryBody, HeavyLimit, HeavyLimitSet, KnobMarks};
use serde_json::Value;
use shared_types::log::{Ceiling, PressKind};
use shared_types::{Edges, MachineTag, RawAngle, RunMillis, Totals, UtcMillis};

const HOUR: u64 = 60 * MINUTE;

/// Five hours of running on Monday from 8:10 on in one session.
fn five_hours() -> Studio {
    let studio = Studio::new();
    let mut log = Log::new();
    log.run(10, 300, 500);
    studio.pulled(&log);
    studio
}

fn oiled(at: i64) -> EntryBody {
    EntryBody::CareDone(CareDone {
        machine: ONE,
        task: CareTaskName("oiling".to_owned()),
        at: UtcMillis(at),
        finding: None,
        note: None,
    })
}

fn task<'a>(report: &'a Value, name: &str) -> &'a Value {
    report["tasks"].as_array().unwrap().iter().find(|task| task["task"] == name).unwrap()
}

#[test]
fn oiling_is_due_at_four_hours_of_running_to_the_millisecond() {
    // The burst runs from 8:10 to 13:10. Oiled at 9:10 four hours of it are left; a millisecond later a millisecond less.
    for (at, state) in [(70 * MINUTE, DueState::Due), (70 * MINUTE + 1, DueState::Soon)] {
        let studio = five_hours();
        studio.tell(oiled(MONDAY_8 + i64::try_from(at).unwrap()));
        let now = Still(MONDAY_8 + i64::try_from(6 * HOUR).unwrap());
        let report = limits::due(&studio.database(), &now, None).unwrap();
        let oiling = report.tasks.iter().find(|task| task.task == "oiling").unwrap();
        assert_eq!(oiling.state, state);
        assert_eq!(oiling.run_time_since_at_most_ms, 310 * MINUTE - at);
    }
}

#[test]
fn the_lamp_gets_totals_that_the_logger_counts_itself() {
    // Re-tension was never noted: 5 h of running are past the limit of 15 min. Oiled at 10:10: 3 h of 4 are used up, so it is
    // overdue (6 h) three hours on. The brush-out (4 h) was never noted: the lamp asks for a look at once, but not to stop.
    let studio = five_hours();
    studio.tell(oiled(MONDAY_8 + i64::try_from(130 * MINUTE).unwrap()));
    let mut status = Log::new().status();
    status.totals = Totals { run: RunMillis(1000 * HOUR), edges: Edges(0) };
    let ceiling = Some(Ceiling { from: RawAngle::new(700), to: RawAngle::new(1000) });
    status.settings.limits.ceiling = ceiling;
    let now = Still(MONDAY_8 + i64::try_from(6 * HOUR).unwrap());
    let limits = limits::lamp(&studio.database(), &now, &status, ONE).unwrap().unwrap();
    assert_eq!(limits.look_at, Some(status.totals.run));
    assert_eq!(limits.stop_at, Some(RunMillis(1003 * HOUR)));
    assert_eq!(limits.retension_at, Some(status.totals.run));
    assert_eq!(limits.retension_every, Some(RunMillis(15 * MINUTE)));
    assert_eq!(limits.ceiling, ceiling);
    assert_eq!(limits::lamp(&studio.database(), &now, &status, MachineTag(9)).unwrap(), None);
}

#[test]
fn the_lamp_gets_the_ceiling_that_the_maker_set_once_the_knob_s_ends_are_known() {
    let studio = five_hours();
    let mut status = Log::new().status();
    let stays = Some(Ceiling { from: RawAngle::new(700), to: RawAngle::new(1000) });
    status.settings.limits.ceiling = stays;
    let now = Still(MONDAY_8 + i64::try_from(6 * HOUR).unwrap());
    let sent = || limits::lamp(&studio.database(), &now, &status, ONE).unwrap().unwrap().ceiling;
    assert_eq!(sent(), stays, "nothing was set");
    let set = |thousandths| {
        let limit = HeavyLimit::KnobCeilingPercent;
        EntryBody::HeavyLimitSet(HeavyLimitSet { machine: ONE, limit, thousandths })
    };
    let marks = |slow, fast, rising| {
        let (slow, fast) = (RawAngle::new(slow), RawAngle::new(fast));
        EntryBody::KnobMarked(KnobMarks { machine: ONE, slow, fast, rising })
    };
    studio.tell(marks(1_000, 3_000, true));
    studio.tell(set(90_000));
    // By hand: 1801 of 2000 steps are the first to round to more than 900 per mille; the arc ends half way round outside.
    assert_eq!(sent(), Some(Ceiling { from: RawAngle::new(2_801), to: RawAngle::new(4_048) }));
    studio.tell(marks(3_000, 1_000, false));
    assert_eq!(sent(), Some(Ceiling { from: RawAngle::new(4_048), to: RawAngle::new(1_199) }));
    studio.tell(set(0));
    assert_eq!(sent(), None, "switched off");
}

#[test]
fn care_in_the_future_is_refused_and_nothing_is_noted() {
    let studio = five_hours();
    let before = studio.entries().len();
    let said =
        DoneSaid { task: "oiling".to_owned(), at: Some(UtcMillis(MONDAY_8 + 1)), ..DoneSaid::default() };
    let refused = done::done(&mut studio.database(), &Still(MONDAY_8), &said);
    assert!(
        matches!(refused, Err(CareError::Request(RequestError::Date(DateError::InTheFuture)))),
        "{refused:?}"
    );
    assert_eq!(studio.entries().len(), before);
}

#[test]
fn due_is_one_line_a_task_with_the_caution_once_and_ends_with_three() {
    let told = five_hours().ask(&["due"]);
    assert_eq!(told.code(), 3, "{told:?}");
    let words = told.out();
    let place = |part: &str| words.find(part).unwrap_or_else(|| panic!("{part} is missing in\n{words}"));
    assert!(place("overdue   oiling") < place("evening   screws"));
    assert!(place("evening   screws") < place("Before care: switch off, unplug"));
    assert_eq!(words.matches("unplug").count(), 1, "{words}");
    assert!(words.lines().count() <= 16 && words.lines().all(|line| line.chars().count() <= 80), "{words}");
    for jargon in ["boot", "anchor", "per mille", "dispersion", "posterior"] {
        assert!(!words.contains(jargon), "{jargon} in\n{words}");
    }
}

#[test]
fn due_ends_with_zero_once_everything_is_done() {
    let studio = five_hours();
    for name in [
        "re-tension",
        "brush-out",
        "oiling",
        "screws",
        "needle",
        "scissors",
        "belt",
        "carbon-brushes",
        "gear-grease",
    ] {
        let told = studio.ask(&["done", name]);
        assert_eq!(told.code(), 0, "{told:?}");
    }
    let told = studio.ask(&["due"]);
    assert_eq!(told.code(), 0, "{told:?}");
    assert!(told.out().starts_with("Nothing is due."), "{}", told.out());
}

#[test]
fn due_as_json_is_one_object_with_units_in_its_keys() {
    let studio = five_hours();
    studio.tell(oiled(MONDAY_8 + i64::try_from(70 * MINUTE).unwrap()));
    let report = studio.ask(&["due", "--json"]).json();
    assert_eq!(report["schema"], 1);
    assert_eq!(report["is_anything_due"], true);
    let oiling = task(&report, "oiling");
    assert_eq!(oiling["run_time_since_at_most_ms"], 4 * HOUR);
    assert_eq!(oiling["remaining_run_time_ms"], 0);
    assert_eq!(oiling["machine"], 1);
    assert_eq!(oiling["source"], "trade_practice_no_source");
    assert_eq!(oiling["last_done"]["earliest_utc_ms"], MONDAY_8 + i64::try_from(70 * MINUTE).unwrap());
    assert_eq!(task(&report, "belt")["last_done"], Value::Null);
}

#[test]
fn an_unknown_task_is_answered_with_names_like_it() {
    let told = Studio::new().ask(&["done", "oilng"]);
    assert_eq!(told.code(), 6, "{told:?}");
    assert!(told.err().contains("oiling") && told.out().is_empty(), "{told:?}");
}

#[test]
fn a_studio_without_a_machine_is_told_how_to_enter_one() {
    let told = Studio::empty().ask(&["due"]);
    assert_eq!(told.code(), 1, "{told:?}");
    assert!(told.err().contains("machine add"), "{told:?}");
}

#[test]
fn a_task_whose_every_limit_is_off_is_said_to_be_asked_for_no_more_and_how_to_go_back() {
    let studio = five_hours();
    let told = studio.ok(&["due", "set", "oiling", "--every-hours", "0", "--idle-days", "0"]);
    assert!(told.contains("no limit any more") && told.contains("never asked for"), "{told}");
    let entry = studio.entries().last().unwrap().id.0;
    assert!(told.contains(&format!("needlehours take-back {entry}")), "{told}");
    studio.ok(&["done", "--withdraw", &entry.to_string(), "--reason", "it needs its oil"]);
    assert_eq!(task(&studio.ask(&["due", "--json"]).json(), "oiling")["limits"]["run_time_ms"], 4 * HOUR);
}

#[test]
fn done_alone_offers_what_is_due() {
    let studio = five_hours();
    let told = studio.ask(&["done"]);
    assert_eq!((told.code(), told.out().as_str()), (2, ""), "{told:?}");
    assert!(told.err_words().contains("Due now:") && told.err_words().contains("oiling"), "{told:?}");
}

#[test]
fn own_limits_replace_the_start_values_within_reason() {
    let studio = five_hours();
    let set =
        studio.ask(&["due", "set", "oiling", "--every-hours", "8", "--every-days", "0", "--json"]).json();
    assert_eq!(set["limits"]["run_time_ms"], 8 * HOUR);
    assert_eq!(set["limits"]["idle_days"], Value::Null);
    let oiling = studio.ask(&["due", "--json"]).json();
    assert_eq!(task(&oiling, "oiling")["state"], "fine");
    assert_eq!(task(&oiling, "oiling")["limits_by_maker"], true);
    let absurd = studio.ask(&["due", "set", "oiling", "--every-hours", "500"]);
    assert_eq!(absurd.code(), 6, "{absurd:?}");
    assert!(absurd.err().contains("10 hours"), "{absurd:?}");
    assert_eq!(studio.ask(&["due", "set", "oiling"]).code(), 6);
}

#[test]
fn care_noted_by_mistake_can_be_taken_back_once() {
    let studio = five_hours();
    let noted = studio.ask(&["done", "oiling", "--finding", "grey-black-oil", "--json"]).json();
    assert_eq!(noted["finding"], "grey_black_oil");
    assert_eq!(noted["brush_out_was_due"], true);
    let entry = noted["entry"].to_string();
    let back = studio.ask(&["done", "--withdraw", &entry, "--reason", "other machine"]);
    assert_eq!(back.code(), 0, "{back:?}");
    assert_eq!(task(&studio.ask(&["due", "--json"]).json(), "oiling")["last_done_by"], "never");
    let again = studio.ask(&["done", "--withdraw", &entry, "--reason", "again"]);
    assert_eq!(again.code(), 6);
    let said = again.err_words();
    assert!(said.contains(&format!("entry {entry} was taken back already, ")), "{said}");
    assert!(said.contains(": other machine"), "{said}");
}

#[test]
fn a_care_press_is_asked_about_and_a_retension_press_counts() {
    let studio = Studio::new();
    let mut log = Log::new();
    log.run(0, 30, 500);
    log.press(30, PressKind::Retension, 500);
    log.press(31, PressKind::CareDone, 500);
    log.run(40, 10, 500);
    studio.pulled(&log);
    let report = studio.ask(&["due", "--json"]).json();
    assert_eq!(report["questions"].as_array().unwrap().len(), 1);
    assert_eq!(report["questions"][0]["when"]["earliest_utc_ms"], MONDAY_8 + 31 * 60_000);
    let cloth = task(&report, "re-tension");
    assert_eq!(
        (cloth["last_done_by"].as_str(), cloth["run_time_since_at_most_ms"].as_u64()),
        (Some("pressed"), Some(10 * MINUTE))
    );
    assert_eq!(task(&report, "oiling")["last_done_by"], "never");
    let answered = studio.ask(&["done", "brush-out", "--when", "2026-03-02 08:31"]);
    assert_eq!(answered.code(), 0, "{answered:?}");
    assert_eq!(studio.ask(&["due", "--json"]).json()["questions"].as_array().unwrap().len(), 0);
}

#[test]
fn the_plan_shows_where_its_start_values_come_from() {
    let told = Studio::empty().ask(&["done", "--list"]);
    assert_eq!(told.code(), 0);
    assert!(
        told.out().contains("trade practice, no source") && told.out().contains("one publisher"),
        "{told:?}"
    );
}

#[test]
fn several_tasks_are_noted_in_one_go_each_once_and_cleaning_before_oil() {
    let studio = five_hours();
    let noted = studio.json(&["done", "oil", "screw", "brush", "oiling", "--json"]);
    let tasks: Vec<&str> =
        noted["noted"].as_array().unwrap().iter().map(|one| one["task"].as_str().unwrap()).collect();
    assert_eq!(tasks, ["brush-out", "oiling", "screws"]);
    assert_eq!(noted["noted"][1]["brush_out_was_due"], false);
    let before = studio.entries().len();
    for wrong in [
        &["done", "oil", "brush", "--finding", "clean"][..],
        &["done", "oil", "brush", "--used", "oil"],
        &["done", "oil", "nonsense"],
        &["done", "oil", "scis"],
    ] {
        assert_ne!(studio.ask(wrong).code(), 0, "{wrong:?}");
    }
    assert_eq!(studio.entries().len(), before, "all of it or nothing");
}

#[test]
fn end_of_day_care_alone_is_told_and_ends_with_zero() {
    let studio = Studio::new();
    let mut log = Log::new();
    log.run(10, 30, 500);
    studio.pulled(&log);
    studio.ok(&["done", "oil", "re-tension"]);
    let told = studio.ask(&["due"]);
    assert_eq!(told.code(), 0, "{told:?}");
    assert!(told.out().starts_with("Nothing is due.\nevening   brush-out"), "{told:?}");
    let due = studio.ask(&["due", "--json"]).json();
    assert_eq!(due["is_anything_due"], false);
    // In the calendar it has no day.
    let left_out = studio.json(&["calendar", "--json"])["without_date"].clone();
    let screws = left_out.as_array().unwrap().iter().find(|task| task["task"] == "screws").cloned();
    assert_eq!(screws.map(|task| task["because"].clone()), Some("end_of_day".into()), "{left_out}");
}

#[test]
fn one_task_at_length_has_its_points_limits_and_cautions() {
    let studio = five_hours();
    let told = studio.ask(&["due", "oil"]);
    assert_eq!(told.code(), 3, "{told:?}");
    for words in ["unplug", "scissor pivot", "Limits: 4 h of running or 14 days", "No oil on the belt"] {
        assert!(told.out().contains(words), "{words} in {told:?}");
    }
    assert!(!told.out().contains("brush-out:"), "{told:?}");
    assert_ne!(studio.ask(&["due", "nonsense"]).code(), 0);
}
