//! The care plan in the maker's hands: own tasks, points, putting off, leaving out, corrections, stock; through the program.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::panic,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a test may stop at the first surprise"
)]

use crate::bench_studio;
use crate::bench_studio::{Log, MINUTE, MONDAY_8, ONE, Still, Studio};
use host::app::care::limits;
use host_core::entries::{self, CareDone, CareSnoozed, CareTaskName, Drive, EntryBody, MachineAdded};
use serde_json::Value;
use shared_types::log::PressKind;
use shared_types::{RunMillis, UtcMillis};

const HOUR: u64 = 60 * MINUTE;

/// Five hours of running on Monday from 8:10 on in one session.
fn five_hours() -> Studio {
    let studio = Studio::new();
    let mut log = Log::new();
    log.run(10, 300, 500);
    studio.pulled(&log);
    studio
}

fn after(minutes: u64) -> UtcMillis {
    UtcMillis(MONDAY_8 + i64::try_from(minutes * MINUTE).unwrap())
}

fn oiled(minutes: u64) -> EntryBody {
    let task = CareTaskName("oiling".to_owned());
    EntryBody::CareDone(CareDone { machine: ONE, task, at: after(minutes), finding: None, note: None })
}

fn task<'a>(report: &'a Value, name: &str) -> &'a Value {
    let tasks = report["tasks"].as_array().unwrap();
    tasks.iter().find(|task| task["task"] == name).unwrap_or_else(|| panic!("no {name} in {report}"))
}

fn names(plan: &Value) -> Vec<&str> {
    plan["tasks"].as_array().unwrap().iter().map(|task| task["task"].as_str().unwrap()).collect()
}

/// Runs the program, which must refuse with bad input; returns what it said.
#[track_caller]
fn refused(studio: &Studio, words: &[&str]) -> String {
    let before = studio.entries().len();
    let told = studio.ask(words);
    assert_eq!((told.code(), told.out().as_str()), (6, ""), "{told:?}");
    assert_eq!(studio.entries().len(), before, "nothing may be noted by {words:?}");
    told.err_words()
}

#[test]
fn a_machine_on_air_has_its_own_plan_and_nothing_of_a_motor() {
    let studio = Studio::empty();
    studio.ok(&["machine", "add", "Breeze", "--pile", "loop", "--drive", "pneumatic"]);
    assert_eq!(studio.json(&["machine", "list", "--json"])["machines"][0]["drive"], "pneumatic");
    let plan = studio.json(&["care", "--json"]);
    let tasks = names(&plan);
    for absent in ["belt", "carbon-brushes", "gear-grease", "scissors"] {
        assert!(!tasks.contains(&absent), "{absent}");
    }
    let water = task(&plan, "air-water");
    assert_eq!(water["source"], "trade_practice_no_source");
    assert!(water["basis"].as_str().unwrap().contains("no source"), "{water}");
    assert_eq!(plan["keep_dry"].as_array().unwrap().len(), 2);
    for command in [["care", "--json"], ["due", "--json"]] {
        let cautions = studio.ask(&command).json()["cautions"].to_string();
        assert!(cautions.contains("take the hose off") && !cautions.contains("unplug"), "{cautions}");
    }
}

#[test]
fn machines_from_before_there_was_a_choice_have_a_motor() {
    let old = r#"{"machine":1,"name":"Rosie","pile":"cut","before_logger":null,"since":0}"#;
    let added: MachineAdded = serde_json::from_str(old).unwrap();
    assert_eq!(added.drive, Drive::Electric);
    let set = r#"{"machine":1,"task":"oiling","every_run":7200000,"every_days":null}"#;
    let set: entries::CareLimitSet = serde_json::from_str(set).unwrap();
    assert_eq!((set.every_run, set.more.every_strokes), (Some(RunMillis(2 * HOUR)), None));
}

#[test]
fn a_task_of_the_makers_own_falls_due_like_any_other_and_can_be_switched_off() {
    let studio = five_hours();
    studio.ok(&["care", "add", "foot-polish", "--what", "Polish the foot.", "--every-hours", "5"]);
    let due = studio.ask(&["due", "--json"]).json();
    assert_eq!(task(&due, "foot-polish")["state"], "due");
    assert_eq!(task(&due, "foot-polish")["source"], "maker");
    studio.ok(&["care", "off", "foot-polish", "--reason", "done by the technician"]);
    let due = studio.ask(&["due", "--json"]).json();
    assert!(!names(&due).contains(&"foot-polish"));
    assert_eq!(due["switched_off"][0]["task"], "foot-polish");
    assert!(studio.ask(&["due"]).out().contains("off       foot-polish;"));
    let at_length = studio.ask(&["due", "foot-polish"]).out();
    assert!(at_length.contains("foot-polish is switched off"), "{at_length}");
    studio.ok(&["care", "on", "Foot-Polish"]);
    assert!(names(&studio.ask(&["due", "--json"]).json()).contains(&"foot-polish"));
}

#[test]
fn an_own_task_needs_a_name_of_its_own_a_sentence_and_a_limit() {
    let studio = five_hours();
    let exists = refused(&studio, &["care", "add", "Oiling", "--what", "x", "--every-hours", "5"]);
    assert!(exists.contains("due set"), "{exists}");
    let never = refused(&studio, &["care", "add", "wax", "--what", "Wax it."]);
    assert!(never.contains("--every-hours"), "{never}");
    refused(&studio, &["care", "add", "wax", "--what", " ", "--every-hours", "5"]);
    refused(&studio, &["care", "add", "wax", "--what", "Wax it.", "--every-hours=-5"]);
    refused(&studio, &["care", "add", "wax", "--what", "Wax it.", "--every-days", "9999"]);
    assert!(refused(&studio, &["care", "off", "oilinn"]).contains("oiling"));
}

#[test]
fn strokes_can_be_a_limit_too() {
    // 300 minutes at 600 strokes a minute.
    let studio = five_hours();
    studio.ok(&["due", "set", "needle", "--every-strokes", "180000"]);
    let due = studio.ask(&["due", "--json"]).json();
    let needle = task(&due, "needle");
    assert_eq!(
        (needle["strokes_since"].as_u64(), needle["decided_by"].as_str()),
        (Some(180_000), Some("strokes"))
    );
    assert_eq!(needle["state"], "due");
    studio.ok(&["due", "set", "needle", "--every-strokes", "180001"]);
    assert_eq!(task(&studio.ask(&["due", "--json"]).json(), "needle")["state"], "soon");
}

#[test]
fn every_tear_asks_for_a_look_at_the_needle_until_it_was_looked_at() {
    let studio = Studio::new();
    let mut log = Log::new();
    log.run(10, 10, 500);
    log.press(21, PressKind::Tear, 500);
    studio.pulled(&log);
    studio.tell(EntryBody::CareDone(CareDone {
        machine: ONE,
        task: CareTaskName("needle".to_owned()),
        at: after(5),
        finding: None,
        note: None,
    }));
    let due = studio.ask(&["due", "--json"]).json();
    let needle = task(&due, "needle");
    assert_eq!((needle["state"].as_str(), needle["decided_by"].as_str()), (Some("due"), Some("tear")));
    assert!(studio.ask(&["due", "needle"]).out().contains("needle: 1 tear since it was last done."));
    assert!(studio.ask(&["due"]).out().contains("after 1 tear\n"));
    studio.ok(&["done", "needle", "--when", "2026-03-02 08:30"]);
    assert_eq!(task(&studio.ask(&["due", "--json"]).json(), "needle")["state"], "fine");
    studio.ok(&["due", "set", "needle", "--after-tear", "no"]);
    let limits = &studio.ask(&["due", "--json"]).json();
    assert_eq!(task(limits, "needle")["limits"]["after_tear"], false);
}

#[test]
fn a_changed_pile_height_asks_for_a_look_at_the_scissors() {
    let studio = five_hours();
    studio.ok(&["done", "scissors"]);
    let noted = studio.json(&["machine", "pile-height", "12.5mm", "--json"]);
    assert_eq!(noted["pile_height_tenths_mm"], 125);
    assert_eq!(noted["asks_for"], serde_json::json!(["scissors"]));
    let scissors = studio.ask(&["due", "--json"]).json();
    assert_eq!(task(&scissors, "scissors")["decided_by"], "pile_height");
    refused(&studio, &["machine", "pile-height", "900mm"]);
    assert_eq!(studio.ask(&["machine", "pile-height", "high"]).code(), 6);
}

#[test]
fn points_are_added_renamed_given_another_lubricant_and_taken_away() {
    let studio = five_hours();
    studio.ok(&["care", "point", "front bush", "--add", "oil"]);
    studio.ok(&["care", "point", "eccentric", "--rename", "cam"]);
    studio.ok(&["care", "point", "cam", "--lubricant", "moly paste"]);
    studio.ok(&["care", "point", "connecting link", "--remove"]);
    let plan = studio.json(&["care", "--json"]);
    let points = plan["points"].as_array().unwrap();
    let of = |name: &str| points.iter().find(|point| point["point"] == name).map(|point| &point["lubricant"]);
    assert_eq!(of("front bush"), Some(&serde_json::json!("oil")));
    assert_eq!(of("cam"), Some(&serde_json::json!({"other": "moly paste"})));
    assert_eq!((of("eccentric"), of("connecting link")), (None, None));
    // The routine names them.
    let noted = studio.json(&["done", "oiling", "--json"]);
    let words: Vec<&str> =
        noted["routine"].as_array().unwrap().iter().map(|step| step["words"].as_str().unwrap()).collect();
    assert!(words.iter().any(|words| words.contains("One drop of moly paste on each: cam.")), "{words:?}");
    assert!(!words.iter().any(|words| words.contains("onnecting link")), "{words:?}");
    assert!(refused(&studio, &["care", "point", "camm", "--remove"]).contains("cam"));
    refused(&studio, &["care", "point", "Cam", "--add", "oil"]);
    refused(&studio, &["care", "point", "cam", "--rename", "crank pin"]);
    let nothing_said = studio.ask(&["care", "point", "cam"]);
    assert_eq!(nothing_said.code(), 2, "what is to happen to it?");
    let told = nothing_said.err_words();
    assert!(
        told.contains("--lubricant") && told.contains("--rename"),
        "not only how to take it away: {told}"
    );
}

#[test]
fn what_is_put_off_is_seen_with_its_reason_and_is_not_due() {
    let studio = five_hours();
    for name in ["brush-out", "screws", "re-tension"] {
        studio.ok(&["done", name]);
    }
    assert_eq!(studio.ask(&["due"]).code(), 3);
    studio.ok(&["due", "snooze", "oiling", "--for-hours", "2", "--reason", "the oil is on its way"]);
    let told = studio.ask(&["due"]);
    assert_eq!(told.code(), 0, "{told:?}");
    assert!(
        told.out().contains("put off   oiling") && told.out().contains("the oil is on its way"),
        "{told:?}"
    );
    let due = studio.ask(&["due", "--json"]).json();
    assert_eq!(task(&due, "oiling")["state"], "snoozed");
    assert_eq!(task(&due, "oiling")["snoozed"]["run_time_left_ms"], 2 * HOUR);
    studio.ok(&["done", "oiling"]);
    let due = studio.ask(&["due", "--json"]).json();
    assert_eq!(
        (task(&due, "oiling")["state"].as_str(), &task(&due, "oiling")["snoozed"]),
        (Some("fine"), &Value::Null)
    );
}

#[test]
fn putting_off_ends_at_the_first_of_its_ends() {
    // Put off at 9:10 for two hours of running: at 11:10 of a burst from 8:10 on they are over.
    let snoozed = |for_run: Option<u64>, until: Option<u64>| {
        EntryBody::CareSnoozed(CareSnoozed {
            machine: ONE,
            task: CareTaskName("oiling".to_owned()),
            at: after(70),
            for_run: for_run.map(RunMillis),
            until: until.map(after),
            reason: "guests".to_owned(),
        })
    };
    let state = |entry: EntryBody, minutes: u64| {
        let studio = five_hours();
        studio.tell(entry);
        let report = limits::due(&studio.database(), &Still(after(minutes).0), None).unwrap();
        serde_json::to_value(report.tasks.iter().find(|task| task.task == "oiling").unwrap().state).unwrap()
    };
    // Four hours of running after 9:10 are in the log.
    assert_eq!(state(snoozed(Some(4 * HOUR), None), 400), "due");
    assert_eq!(state(snoozed(Some(4 * HOUR + 1), None), 400), "snoozed");
    assert_eq!(state(snoozed(None, Some(401)), 400), "snoozed");
    assert_eq!(state(snoozed(None, Some(400)), 400), "due");
    assert_eq!(state(snoozed(Some(9 * HOUR), Some(400)), 400), "due");
}

#[test]
fn putting_off_needs_an_end_and_a_reason() {
    let studio = five_hours();
    let why = refused(&studio, &["due", "snooze", "oiling", "--for-days", "2"]);
    assert!(why.contains("why") && why.contains("--reason"), "{why}");
    let until = refused(&studio, &["due", "snooze", "oiling", "--reason", "later"]);
    assert!(until.contains("until when"), "{until}");
    refused(&studio, &["due", "snooze", "oiling", "--reason", "later", "--for-days", "91"]);
    refused(&studio, &["due", "snooze", "oiling", "--reason", "later", "--for-hours", "0"]);
    refused(&studio, &["due", "snooze", "oiling", "--reason", "later", "--for-hours", "NaN"]);
    studio.ok(&["care", "off", "oiling"]);
    assert!(
        refused(&studio, &["due", "snooze", "oiling", "--reason", "x", "--for-days", "1"])
            .contains("care on")
    );
}

#[test]
fn what_is_left_out_is_seen_and_counts_as_not_done() {
    let studio = five_hours();
    studio.ok(&["due", "skip", "oiling", "--reason", "no time"]);
    studio.ok(&["due", "skip", "oiling"]);
    let told = studio.ask(&["due"]);
    assert_eq!(told.code(), 3);
    assert!(told.out().contains("; left out 2 times\n"), "{}", told.out());
    let at_length = studio.ask(&["due", "oiling"]).out();
    assert!(at_length.contains("Left out 2 times since"), "{at_length}");
    let due = studio.ask(&["due", "--json"]).json();
    let oiling = task(&due, "oiling");
    assert_eq!(
        (oiling["last_done_by"].as_str(), oiling["skipped"]["times"].as_u64()),
        (Some("never"), Some(2))
    );
    studio.ok(&["done", "oiling"]);
    assert_eq!(task(&studio.ask(&["due", "--json"]).json(), "oiling")["skipped"], Value::Null);
    refused(&studio, &["due", "skip", "oiling", "--when", "2999-01-01"]);
}

#[test]
fn done_early_is_recognised_and_said() {
    // Oiled at 12:10, one of four hours ago; the screws were never noted.
    let studio = five_hours();
    studio.tell(oiled(250));
    let early = studio.json(&["done", "oiling", "--when", "2026-03-02 13:10", "--json"]);
    assert_eq!(
        (early["is_early"].as_bool(), early["used_per_mille_before"].as_u64()),
        (Some(true), Some(250))
    );
    let told = studio.ok(&["done", "oiling", "--when", "2026-03-02 13:11"]);
    assert!(told.contains("early") && told.contains("it counts"), "{told}");
    let first = studio.json(&["done", "screws", "--json"]);
    assert_eq!(first["is_early"], false, "what was never noted is not early");
}

#[test]
fn a_correction_keeps_the_old_entry_in_the_record() {
    let studio = five_hours();
    let entry = studio.json(&["done", "oiling", "--when", "2026-03-02 09:10", "--json"])["entry"].to_string();
    let told = studio.ok(&[
        "done",
        "--correct",
        &entry,
        "--when",
        "2026-03-02 10:10",
        "--finding",
        "g",
        "--reason",
        "wrong hour",
    ]);
    assert!(told.contains("Worn metal"), "{told}");
    let record = studio.json(&["done", "--history", "oiling", "--json"]);
    let lines = record["entries"].as_array().unwrap();
    assert_eq!(lines.len(), 2);
    assert_eq!(
        (lines[0]["counts"].as_bool(), lines[0]["taken_back_because"].as_str()),
        (Some(false), Some("wrong hour"))
    );
    assert_eq!(lines[1]["counts"], true);
    assert_eq!(lines[1]["said"]["finding"], "grey_black_oil");
    let due = studio.ask(&["due", "--json"]).json();
    assert_eq!(task(&due, "oiling")["run_time_since_at_most_ms"], 3 * HOUR);
    let words = studio.ok(&["done", "--history"]);
    assert!(words.contains("TAKEN BACK") && words.contains("wrong hour"), "{words}");
    refused(&studio, &["done", "--correct", "999", "--reason", "x"]);
    assert_eq!(studio.ask(&["done", "--correct", &entry]).code(), 2, "why?");
    assert!(refused(&studio, &["done", "--history", "oilng"]).contains("oiling"));
}

#[test]
fn a_new_cloth_resets_the_tension_and_not_the_oil() {
    let studio = five_hours();
    studio.rug("Fox", "lot 1");
    studio.ok(&["rug", "start", "Fox", "--when", "2026-03-02 13:30"]);
    let due = studio.ask(&["due", "--json"]).json();
    let cloth = task(&due, "re-tension");
    assert_eq!(
        (cloth["last_done_by"].as_str(), cloth["state"].as_str()),
        (Some("cloth_put_on"), Some("fine"))
    );
    assert_eq!(task(&due, "oiling")["run_time_since_at_most_ms"], 5 * HOUR);
}

#[test]
fn a_new_machine_is_run_in() {
    let studio = Studio::empty();
    studio.ok(&["machine", "add", "Rosie", "--hours-before", "0", "--since", "2026-03-02"]);
    studio.tell(EntryBody::LoggerFitted(entries::Fitting {
        machine: ONE,
        logger: bench_studio::LOG.logger,
        log: bench_studio::LOG.log,
        from: shared_types::RecordSeq(0),
    }));
    let mut log = Log::new();
    log.run(10, 120, 500);
    studio.pulled(&log);
    // At the end of the burst, so that no standing still asks for oil first.
    let due = |minutes: u64| {
        let report = limits::due(&studio.database(), &Still(after(minutes).0), None).unwrap();
        serde_json::to_value(report).unwrap()
    };
    let before = due(130);
    for (name, at) in [("oiling", 2), ("screws", 1)] {
        assert_eq!(task(&before, name)["running_in_at_run_time_ms"], at * HOUR, "{name}");
        assert_eq!(task(&before, name)["decided_by"], "running_in", "{name}");
    }
    studio.ok(&["done", "oiling", "--when", "2026-03-02 10:10"]);
    assert_eq!(task(&due(130), "oiling")["running_in_at_run_time_ms"], 4 * HOUR);
}

#[test]
fn what_is_used_up_goes_out_of_stock_and_due_says_what_to_buy() {
    let studio = five_hours();
    studio.ok(&["stock", "level", "oil", "--reorder-at", "10", "--unit", "ml"]);
    studio.ok(&["stock", "counted", "oil", "12"]);
    assert!(!studio.ask(&["due"]).out().contains("to buy"));
    let noted = studio.json(&["done", "oiling", "--used", "oil=2", "--json"]);
    assert_eq!(noted["stock"][0]["left"], 10);
    assert!(studio.ask(&["due"]).out().contains("to buy    oil: 10 ml left; buy more (the level is 10)"));
    assert_eq!(studio.ask(&["due", "--json"]).json()["to_buy"][0]["item"], "oil");
    studio.ok(&["stock", "in", "Oil", "100", "--note", "new bottle"]);
    let stock = studio.json(&["stock", "--json"]);
    assert_eq!(
        (stock["items"][0]["left"].as_u64(), stock["to_buy"].as_array().unwrap().len()),
        (Some(110), 0)
    );
    let unknown = refused(&studio, &["done", "oiling", "--used", "wax"]);
    assert!(unknown.contains("oil") && unknown.contains("stock in wax"), "{unknown}");
    refused(&studio, &["stock", "out", "needle", "1"]);
    refused(&studio, &["stock", "in", " ", "1"]);
    refused(&studio, &["stock", "in", "needle", "4000000"]);
    assert!(Studio::new().ok(&["stock"]).contains("stock counted"));
    let bare = studio.ask(&["stock", "level", "oil", "20"]);
    assert_eq!((bare.code(), bare.out().as_str()), (2, ""));
    let said = bare.err_words();
    for words in ["stock level \"oil\" --reorder-at 20", "stock counted \"oil\" 20"] {
        assert!(said.contains(words), "{said}");
    }
}

#[test]
fn templates_differ_by_pile() {
    let studio = Studio::empty();
    for (name, pile) in [("Cutter", "cut"), ("Looper", "loop"), ("Both", "both")] {
        studio.ok(&["machine", "add", name, "--pile", pile]);
    }
    let points = |number: &str| {
        let plan = studio.json(&["care", "--machine", number, "--json"]);
        plan["points"].to_string()
    };
    assert!(points("1").contains("scissor pivot") && !points("1").contains("looper pivot"));
    assert!(!points("2").contains("scissor pivot") && points("2").contains("looper pivot"));
    assert!(points("3").contains("scissor pivot") && points("3").contains("looper pivot"));
    assert_eq!(studio.ask(&["care"]).code(), 6, "which machine?");
}
