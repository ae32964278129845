//! What speed costs, and the ceiling that the maker accepts, asked through the program itself.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a test may stop at the first surprise"
)]

use crate::bench_studio::{Log, MONDAY_8, ONE, Still, Studio};
use host::app::care::limits;
use rstest::rstest;
use serde_json::Value;
use shared_types::RawAngle;
use shared_types::log::{Ceiling, PressKind};

/// Twelve hours at 30 % with 8 strokes a second, twelve at 80 % with 16, and so many tears at 80 %, all on one rug.
fn torn_while_fast(tears: u64) -> (Studio, Log) {
    let studio = Studio::new();
    studio.rug("Fox", "lot 7");
    let mut log = Log::new();
    log.run_at(0, 720, 300, 8).run_at(725, 720, 800, 16);
    for tear in 0..tears {
        log.press(1446 + tear, PressKind::Tear, 800);
    }
    studio.pulled(&log);
    (studio, log)
}

fn with_costs(tears: u64) -> (Studio, Log) {
    let (studio, log) = torn_while_fast(tears);
    studio.ok(&["speed", "cost", "set", "--tear-cost", "200", "--hour-value", "25"]);
    (studio, log)
}

#[test]
fn without_costs_it_says_how_to_enter_them() {
    let (studio, _) = torn_while_fast(14);
    for words in [studio.ok(&["speed", "--more"]), studio.ok(&["speed", "cost"])] {
        assert!(words.contains("speed cost set --tear-cost"), "{words}");
    }
    assert_eq!(studio.json(&["speed", "--json"])["decision"], Value::Null);
    assert_eq!(studio.json(&["speed", "cost", "--json"])["because"], "no_costs");
    let one = studio.ok(&["speed", "cost", "set", "--tear-cost", "40"]);
    assert!(one.contains("still missing"), "{one}");
    let both = studio.json(&["speed", "cost", "set", "--hour-value", "25", "--json"]);
    assert_eq!((both["costs"]["tear"].as_f64(), both["costs"]["hour"].as_f64()), (Some(40.0), Some(25.0)));
}

#[test]
fn a_ceiling_that_pays_is_proposed() {
    let (studio, _) = with_costs(21);
    let report = studio.json(&["speed", "cost", "--json"]);
    assert_eq!(
        (report["because"].as_str(), report["proposal"]["knob_per_mille"].as_u64()),
        (Some("it_pays"), Some(300))
    );
    assert!(report["proposal"]["probability_saves"].as_f64().unwrap() >= 0.9, "{report}");
    assert_eq!(report["from_the_prior_alone"]["proposal"], Value::Null);
    // 12 h at 8 and 12 h at 16 strokes a second.
    assert_eq!(report["strokes_per_rug"].as_f64(), Some(1_036_800.0));
    // All of it at 8 a second takes 36 h, at 16 half of that, 25 an hour. The 12 h are 4,608 segments of 9.375 s. The first stroke of
    // a run ends no period, so its first segment holds 74 periods (at 16 a second 149), not 75 (150): 7.893 (15.893) a second. Rates
    // are told in tenths, so that is 7.9 (15.9): for one part in 4,608 of the time the needle seems slower by 0.1.
    let time = |at: usize| report["speeds"][at]["time_cost_per_rug"].as_f64().unwrap();
    let seems = |cost: f64, rate: f64| cost * rate / (rate - 0.1 / 4_608.0);
    let (slow, fast) = (seems(36.0 * 25.0, 8.0), seems(18.0 * 25.0, 16.0));
    assert!((time(0) - slow).abs() < 1e-6 && (time(1) - fast).abs() < 1e-6, "{slow}, {fast}: {report}");
    assert_eq!(studio.json(&["speed", "--json"])["decision"]["proposal"], report["proposal"]);
    let words = studio.ok(&["speed", "cost"]);
    for said in ["The knob at 30 % at most", "speed ceiling accept", "without looking at any tear: none"] {
        assert!(words.contains(said), "{said} in\n{words}");
    }
    for jargon in ["per mille", "posterior", "prior", "probability", "p-value"] {
        assert!(!words.contains(jargon), "{jargon} in\n{words}");
    }
}

#[test]
fn where_speed_is_not_shown_to_matter_there_is_no_ceiling_to_accept() {
    let (studio, _) = with_costs(5);
    let report = studio.json(&["speed", "cost", "--json"]);
    assert_eq!(
        (report["because"].as_str(), &report["proposal"]),
        (Some("speed_not_shown_to_matter"), &Value::Null)
    );
    let told = studio.ask(&["speed", "ceiling", "accept"]);
    assert_eq!(told.code(), 6, "{told:?}");
    assert!(told.err().contains("no ceiling is proposed"), "{told:?}");
    assert_eq!(studio.json(&["speed", "ceiling", "--json"])["knob_per_mille"], Value::Null);
}

#[test]
fn an_accepted_ceiling_is_what_the_lamp_and_heavy_use_mind() {
    let (studio, log) = with_costs(21);
    let lamp = || {
        let now = Still(MONDAY_8);
        limits::lamp(&studio.database(), &now, &log.status(), ONE).unwrap().unwrap().ceiling
    };
    assert_eq!(lamp(), None);
    let accepted = studio.ok(&["speed", "ceiling", "accept"]);
    assert!(accepted.contains("knob at 30 %") && accepted.contains("next pull"), "{accepted}");
    // Angles 0 to 1000 are the per mille here, and half of the way round beyond them is still the fast end: 1000 + 3096 / 2.
    assert_eq!(lamp(), Some(Ceiling { from: RawAngle::new(301), to: RawAngle::new(2548) }));
    let heavy = studio.json(&["heavy", "--json"]);
    let finding = |heavy: &Value| {
        let findings = heavy["machines"][0]["findings"].as_array().unwrap();
        findings.iter().find(|found| found["looked_at"] == "knob_above_ceiling").unwrap().clone()
    };
    // The twelve fast hours are above it.
    assert_eq!(finding(&heavy)["run_time_above_ms"].as_u64(), Some(12 * 3_600_000));
    assert_eq!(finding(&heavy)["limit"].as_f64(), Some(30.0));
    // Whoever speaks last, here or there, has the last word.
    studio.ok(&["heavy", "set", "--knob-ceiling-percent", "85"]);
    assert_eq!(studio.json(&["speed", "ceiling", "--json"])["knob_per_mille"], 850);
    studio.ok(&["speed", "ceiling", "set", "none"]);
    assert_eq!(lamp(), None);
    assert_eq!(finding(&studio.json(&["heavy", "--json"]))["run_time_above_ms"], Value::Null);
    studio.ok(&["speed", "ceiling", "set", "60%"]);
    assert_eq!(studio.json(&["speed", "ceiling", "--json"])["knob_per_mille"], 600);
}

/// The words of a picture, as they are read over the ends of its lines.
fn words_of(picture: &str) -> String {
    let shown = picture.split('>').filter_map(|part| part.split('<').next());
    shown.flat_map(str::split_whitespace).collect::<Vec<_>>().join(" ")
}

#[test]
fn the_picture_of_costs_shows_what_the_report_says() {
    let (studio, _) = with_costs(21);
    let path = studio.path().with_file_name("cost.svg");
    studio.ok(&["plot", "cost", "--out", path.to_str().unwrap()]);
    let picture = words_of(&std::fs::read_to_string(path).unwrap());
    for words in [
        "What a rug costs by speed: Rosie",
        "proposed ceiling",
        "16 a second",
        "about 21 tears on each rug",
        "cost of a rug",
    ] {
        assert!(picture.contains(words), "{words} in {picture}");
    }
    assert_eq!(studio.json(&["plot", "cost", "--json"])["speeds"].as_array().unwrap().len(), 2);
    let (poor, _) = torn_while_fast(14);
    let told = poor.ok(&["plot", "cost"]);
    assert!(told.contains("nothing to draw yet") && told.contains("--tear-cost"), "{told}");
}

#[rstest]
#[case::no_amount(&["speed", "cost", "set"], 6, "no cost was given")]
#[case::text(&["speed", "cost", "set", "--tear-cost", "much"], 6, "not an amount")]
#[case::negative(&["speed", "cost", "set", "--hour-value", "-5"], 6, "below zero")]
#[case::over_the_end(&["speed", "ceiling", "set", "120%"], 6, "from 1% to 99%")]
#[case::no_such_machine(&["speed", "ceiling", "set", "60%", "--machine", "7"], 6, "no machine 7")]
fn what_cannot_be_gets_a_clear_answer_and_changes_nothing(
    #[case] words: &[&str],
    #[case] code: u8,
    #[case] says: &str,
) {
    let (studio, _) = torn_while_fast(1);
    let before = studio.entries().len();
    let told = studio.ask(words);
    assert_eq!(told.code(), i32::from(code), "{told:?}");
    assert!(told.err_words().contains(says), "{told:?}");
    assert_eq!(studio.entries().len(), before);
}
