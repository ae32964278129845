//! Worn parts, intervals, faults and slowing down on the log's own findings, through the program itself.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a test may stop at the first surprise"
)]

use crate::bench_studio::{LOG, Log, MONDAY_8, Studio, reading, running, segments};
use host_core::entries::{BurstsAssigned, Certainty, EntryBody, Owner};
use serde_json::Value;
use shared_types::log::Record;
use shared_types::{RecordSeq, Totals, UtcMillis};

/// Sixty hours of running: on each of sixty days from Monday, 2 March 2026, the hour from nine to ten (UTC).
fn sixty_hours() -> Studio {
    let studio = Studio::new();
    let mut log = Log::new();
    for day in 0..60 {
        log.run(day * 24 * 60 + 60, 60, 500);
    }
    studio.pulled(&log);
    studio
}

/// Noon of a day counted from Monday, 2 March 2026; by then that day's hour has run.
fn noon(day: i64) -> String {
    let date = jiff::civil::date(2026, 3, 2).checked_add(jiff::Span::new().days(day)).unwrap();
    format!("{date} 12:00")
}

#[track_caller]
fn assert_near(found: &Value, expected: f64) {
    let found = found.as_f64().expect("a number");
    assert!((found - expected).abs() < 1e-6, "found {found}, expected {expected}");
}

#[test]
fn three_clean_oilings_at_the_interval_propose_the_command_for_a_longer_one() {
    let studio = sixty_hours();
    for (day, seen) in [(3, "grey-black-oil"), (7, "clean"), (11, "clear-oil-spot"), (15, "clean")] {
        studio.ok(&["done", "oiling", "--finding", seen, "--when", &noon(day)]);
    }
    let entries = studio.entries().len();
    let json = studio.json(&["interval", "--task", "oiling", "--json"]);
    let task = &json["tasks"][0];
    assert_near(&task["every_hours"], 4.0);
    assert_near(&task["proposed_hours"], 5.0);
    assert_near(&task["findings"][1]["hours_at_least"], 4.0);
    assert_eq!(task["findings"][0]["counts"], "first_time");
    assert_near(&task["long_run_dirty_share"], 0.174_190_2);
    let told = studio.ok(&["interval"]);
    assert!(told.contains("needlehours due set oiling --machine 1 --every-hours 5"), "{told}");
    assert!(told.contains("3 findings, 0 of them dirty") && told.contains("17 in 100"), "{told}");
    assert_eq!(studio.entries().len(), entries, "a proposal changes nothing");
    // What it printed is a command that works; then the steps begin anew.
    studio.ok(&["due", "set", "oiling", "--machine", "1", "--every-hours", "5"]);
    let json = studio.json(&["interval", "--json"]);
    assert_near(&json["tasks"][0]["every_hours"], 5.0);
    assert_eq!(
        (&json["tasks"][0]["proposed_hours"], &json["tasks"][0]["findings_since_set"]),
        (&Value::Null, &Value::from(0))
    );
}

#[test]
fn one_dirty_brush_out_proposes_a_shorter_interval() {
    let studio = sixty_hours();
    for (day, seen) in [(1, "clean"), (3, "lint")] {
        studio.ok(&["done", "brush-out", "--finding", seen, "--when", &noon(day)]);
    }
    let told = studio.ok(&["interval", "--task", "Brush-out"]);
    assert!(told.contains("3 h instead of 4 h (the last one was dirty)"), "{told}");
}

#[test]
fn a_log_without_findings_says_how_to_note_one_and_an_unknown_task_is_named() {
    let studio = sixty_hours();
    assert!(studio.ok(&["interval"]).contains("needlehours done oiling --finding clean"));
    let told = studio.ask(&["interval", "--task", "oilng"]);
    assert_eq!(told.code(), 6);
    assert!(told.err_words().contains("Did you mean oiling?"), "{}", told.err());
    assert_eq!(studio.ask(&["interval", "--table", "x.csv", "--task", "oiling"]).code(), 2);
}

#[test]
fn the_limit_by_sessions_is_told_and_kept_by_the_command_that_is_proposed() {
    let studio = sixty_hours();
    for (day, seen) in [(1, "clean"), (3, "lint")] {
        studio.ok(&["done", "brush-out", "--finding", seen, "--when", &noon(day)]);
    }
    let told = studio.ok(&["interval", "--task", "brush-out"]);
    assert!(told.contains("due after 4 h of running or every session by now"), "{told}");
    let command = "needlehours due set brush-out --machine 1 --every-hours 3 --every-sessions 1";
    assert!(told.contains(command), "{told}");
    let words: Vec<&str> = command.split(' ').skip(1).collect();
    studio.ok(&words);
    let now = studio.ok(&["interval", "--task", "brush-out"]);
    assert!(now.contains("due after 3 h of running or every session by now"), "{now}");
}

#[test]
fn a_task_that_no_finding_judges_is_told_so_and_own_tasks_are_known() {
    let studio = sixty_hours();
    studio.ok(&["care", "add", "hose", "--what", "Wipe it.", "--every-days", "30"]);
    for task in ["hose", "belt"] {
        let told = studio.ok(&["interval", "--task", task]);
        assert!(told.contains(&format!("No finding tells whether {task} comes too late")), "{told}");
    }
}

#[test]
fn wear_alone_says_what_it_wants() {
    let told = sixty_hours().ask(&["wear"]);
    assert_eq!(told.code(), 2);
    assert!(
        told.err_words().contains("wear --part needle") && told.err_words().contains("wear --table"),
        "{}",
        told.err()
    );
    for option in ["--scale-hours", "--planned-cost", "--failure-cost"] {
        assert!(told.err().contains(option), "{option} is broken at its hyphen: {}", told.err());
    }
}

#[test]
fn heavy_quotes_slowing_of_a_fallen_stroke_rate() {
    let studio = Studio::new();
    let mut log = Log::new();
    for day in 0..6 {
        log.run_at(day * 24 * 60 + 60, 60, 500, if day < 4 { 20 } else { 12 });
    }
    studio.pulled(&log);
    let json = studio.json(&["heavy", "--json"]);
    let findings = json["machines"][0]["findings"].as_array().unwrap();
    let sag = findings.iter().find(|finding| finding["looked_at"] == "stroke_rate_sag").unwrap();
    assert_eq!(
        (sag["judgement"].as_str(), sag["slowing"].as_str()),
        (Some("cannot_tell_yet"), Some("cannot_tell"))
    );
    assert_eq!((&sag["found"], &sag["limit"]), (&Value::Null, &Value::Null));
    assert!(
        findings
            .iter()
            .all(|finding| finding["looked_at"] == "stroke_rate_sag" || finding["slowing"] == Value::Null)
    );
    let words = studio.ok(&["heavy"]);
    assert!(words.contains("Slowing: cannot tell yet"), "{words}");
    assert!(words.contains("See `needlehours slowing`"), "{words}");
    assert_eq!(studio.ask(&["heavy", "set", "--sag-percent", "10"]).code(), 2, "it has no limit of its own");
}

#[test]
fn parts_of_the_log_give_the_very_figures_of_their_table() {
    let studio = sixty_hours();
    // Lives of 5, 7, 8, 9, 9, 10 hours, all worn out but the fourth, and the last one still on for 11.
    let mut day = 0;
    studio.ok(&["part", "fit", "needle", "--when", &noon(day)]);
    let ends =
        [(5, "worn-out"), (7, "worn-out"), (8, "worn-out"), (9, "strike"), (9, "worn-out"), (10, "worn-out")];
    for (hours, why) in ends {
        day += hours;
        studio.ok(&["part", "fit", "needle", "--replaces", why, "--when", &noon(day)]);
    }
    let costs = ["--planned-cost", "5", "--failure-cost", "60", "--json"];
    let own = studio.json(&[&["wear", "--part", "needle"][..], &costs].concat());
    let table = "hours,replaced\n5,1\n7,1\n8,1\n9,0\n9,1\n10,1\n11,0\n";
    let path = studio.path().with_file_name("lives.csv");
    std::fs::write(&path, table).unwrap();
    let by_table = studio.json(&[&["wear", "--table", path.to_str().unwrap()][..], &costs].concat());
    assert_eq!(own["lives"].as_array().unwrap().len(), 7);
    for (key, value) in by_table.as_object().unwrap() {
        assert_eq!(&own[key], value, "{key}");
    }
    assert_eq!(own["proposal"]["worn_out"], 5);
    let told = studio.ok(&["wear", "--part", "needle"]);
    assert!(told.contains("replace on wear") && told.contains("struck something"), "{told}");
}

#[test]
fn the_list_of_parts_shows_what_is_on_and_how_long_it_ran() {
    let studio = sixty_hours();
    studio.ok(&["part", "fit", "Carbon brushes", "--serial", "left", "--when", &noon(9)]);
    studio.ok(&["part", "fit", "carbon-brushes", "--serial", "right", "--when", &noon(9)]);
    let off = ["part", "off", "carbon-brushes", "--because", "worn-out", "--when", &noon(29)];
    let told = studio.ask(&off);
    assert_eq!(told.code(), 6);
    assert!(told.err_words().contains("left or right"), "{}", told.err());
    let changed = studio.json(&[&off[..], &["--serial", "left", "--json"]].concat());
    assert_near(&changed["taken_off"]["hours_at_least"], 20.0);
    assert_near(&changed["taken_off"]["machine_hours_at_fitting"], 10.0);
    assert_near(&changed["taken_off"]["machine_hours_at_end"], 30.0);
    let on = studio.ok(&["part"]);
    assert!(on.contains("right") && !on.contains("left"), "{on}");
    assert!(studio.ok(&["part", "--all"]).contains("worn out"));
    // Taken back, the left one is on again.
    let entry = changed["off_entry"].to_string();
    studio.ok(&["part", "withdraw", &entry, "--reason", "it was the other one"]);
    assert!(studio.ok(&["part"]).contains("left"));
    assert_eq!(studio.ask(&["part", "withdraw", &entry, "--reason", "again"]).code(), 6);
}

#[test]
fn a_part_cannot_be_fitted_twice_nor_taken_off_before_it_was_on() {
    let studio = sixty_hours();
    studio.ok(&["part", "fit", "belt", "--when", &noon(5)]);
    let entries = studio.entries().len();
    let told = studio.ask(&["part", "fit", "belt"]);
    assert!(told.err_words().contains("--replaces worn-out"), "{}", told.err());
    for wrong in [
        &["part", "fit", "belt"][..],
        &["part", "fit", " "],
        &["part", "fit", "needle", "--replaces", "worn-out"],
        &["part", "off", "needle", "--because", "lost"],
        &["part", "off", "belt", "--because", "lost", "--when", &noon(1)],
        &["part", "fit", "needle", "--when", "2999-01-01"],
        &["part", "fit", "needle", "--machine", "7"],
        &["wear", "--part", "needle"],
    ] {
        let told = studio.ask(wrong);
        assert_eq!(told.code(), 6, "{wrong:?} {}", told.err());
    }
    assert_eq!(studio.entries().len(), entries, "a refused request notes nothing");
}

#[test]
fn faults_of_the_log_give_the_very_figures_of_their_table() {
    let studio = sixty_hours();
    for day in [9, 39, 49, 54, 57, 58] {
        studio.ok(&["trend", "add", "belt slipped", "--mended", "tightened", "--when", &noon(day)]);
    }
    let own = studio.json(&["trend", "--json"]);
    let path = studio.path().with_file_name("faults.csv");
    // Run hours at those noons, and the sixty of the whole log at the end.
    std::fs::write(&path, "hours\n10\n40\n50\n55\n58\n59\n60\n").unwrap();
    let by_table = studio.json(&["trend", "--table", path.to_str().unwrap(), "--json"]);
    for key in ["degrees_of_freedom", "mtbf_hours", "power_law"] {
        assert_eq!(own[key], by_table[key], "{key}");
    }
    assert_near(&own["mil_hdbk_chi2"], by_table["mil_hdbk_chi2"].as_f64().unwrap());
    assert_near(&own["observed_hours"], 60.0);
    let told = studio.ok(&["trend"]);
    assert!(told.contains("belt slipped; tightened") && told.contains("6 faults in 60 h"), "{told}");
    let entry = own["faults"][0]["entry"].to_string();
    studio.ok(&["trend", "withdraw", &entry, "--reason", "it was the lead"]);
    assert!(studio.ok(&["trend"]).contains("5 faults in 60 h"));
    assert_eq!(studio.ask(&["trend", "add", ""]).code(), 6);
    assert_eq!(studio.ask(&["trend", "--ends", "failure"]).code(), 2);
}

/// Sessions of twelve one-minute bursts on consecutive days, each day a little faster or slower, then at a share of that from
/// a session on. Every fourth day begins with a dry run of half a minute at a fifth of the knob's way.
fn sessions(many: u64, slow_from: u64, share: f64) -> Studio {
    let studio = Studio::new();
    studio.rug("Fox", "lot 1");
    let mut records: Vec<Record> = vec![reading(1, MONDAY_8)];
    let mut dry = Vec::new();
    for day in 0..many {
        let minute = day * 24 * 60 + 60;
        let well = if day >= slow_from { share } else { 1.0 };
        // By hand, without chance: 2 % up and down in turn, which scatters by 2 %.
        let rate = 10.0 * well * if day % 2 == 0 { 1.02 } else { 0.98 };
        if day % 4 == 0 {
            dry.push(RecordSeq(u32::try_from(records.len()).unwrap()));
            records.extend(segments(&running(1, minute - 20, 30_000, (rate * 12.0).round() as u32, 200)));
        }
        for burst in 0..12_u32 {
            // The rate grows with the knob, which stands at 400 to 620.
            let knob = 400 + 20 * burst;
            let edges = (rate * f64::from(knob) / 500.0 * 60.0).round() as u32 + 1;
            let knob = u16::try_from(knob).unwrap();
            records.extend(segments(&running(1, minute + u64::from(burst) * 3, 60_000, edges, knob)));
        }
    }
    studio.pulled_with_loss(
        UtcMillis(MONDAY_8 + i64::try_from(many).unwrap() * 86_400_000),
        &records,
        Totals::default(),
    );
    for seq in dry {
        studio.tell(EntryBody::BurstsAssigned(BurstsAssigned {
            logger: LOG.logger,
            log: LOG.log,
            from: seq,
            to: seq,
            owner: Owner::Care,
            certainty: Certainty::Explicit,
        }));
    }
    studio
}

#[test]
fn a_machine_that_becomes_slow_is_told_by_both_charts_and_asked_about_oil_and_lint() {
    let studio = sessions(34, 27, 0.85);
    let json = studio.json(&["slowing", "--json"]);
    assert_eq!(json["verdict"], "slower");
    let alarm = &json["sessions"]["chart"]["last_alarm"];
    // Session 27 begins 27 days after Monday at nine.
    let began = MONDAY_8 + 27 * 86_400_000 + 3_600_000;
    assert_eq!(alarm["since"]["earliest_utc_ms"], began);
    assert!((0.82..0.88).contains(&alarm["rate_share"].as_f64().unwrap()), "{alarm}");
    // Dry runs on days 0, 4, ... 32; the one on day 28 is the first slow one.
    let slow: Vec<bool> =
        json["dry"]["runs"].as_array().unwrap().iter().map(|run| run["is_slow"] == true).collect();
    assert_eq!(slow, [false, false, false, false, false, false, false, true, true]);
    assert_near(&json["dry"]["place_per_mille"], 200.0);
    let told = studio.ok(&["slowing"]);
    for words in ["Dry or choked?", "worn carbon brushes", "only dry runs can tell it", "unplug"] {
        assert!(told.contains(words), "{words}: {told}");
    }
    // A dry run has no cloth in it, so neither cloth nor scissors can be why it is slow.
    assert!(!told.contains("denser cloth on the same rug"), "{told}");
    studio.ok(&["plot", "slowing", "--out", studio.path().with_file_name("s.svg").to_str().unwrap()]);
    let picture = std::fs::read_to_string(studio.path().with_file_name("s.svg")).unwrap();
    assert!(picture.starts_with("<svg") && picture.contains("Is it slowing down? Rosie"));
}

#[test]
fn a_healthy_machine_is_as_fast_as_before_and_a_young_log_cannot_tell() {
    assert_eq!(sessions(34, 99, 1.0).json(&["slowing", "--json"])["verdict"], "fine");
    let young = sessions(12, 99, 1.0);
    let json = young.json(&["slowing", "--json"]);
    assert_eq!((&json["verdict"], &json["sessions"]["chart"]), (&Value::from("cannot_tell"), &Value::Null));
    let told = young.ok(&["slowing"]);
    assert!(
        told.contains("12 on rugs so far; 8 more") && told.contains("3 more before one can be judged"),
        "{told}"
    );
    assert!(Studio::new().ok(&["plot", "slowing"]).contains("nothing to draw yet"));
}

#[test]
fn after_care_the_next_runs_decide_and_a_new_baseline_can_be_begun() {
    // Slow from the last four sessions on; the last dry run was on day 28, before that.
    let studio = sessions(32, 29, 0.85);
    assert_eq!(studio.json(&["slowing", "--json"])["verdict"], "slower");
    studio.ok(&["done", "oiling", "--finding", "grey-black-oil"]);
    assert_eq!(studio.json(&["slowing", "--json"])["verdict"], "cared_for_since");
    let anew = studio.json(&["slowing", "--since", "2026-03-20", "--json"]);
    assert_eq!(anew["verdict"], "cannot_tell");
    assert_eq!(anew["sessions"]["sessions"], 14);
}
