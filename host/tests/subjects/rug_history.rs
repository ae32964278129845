//! The history of a commission, as the maker reads it: every move and confirmation of its running, those taken back too.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::panic,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a test may stop at the first surprise"
)]

use crate::bench_studio::{Studio, reading, running};
use serde_json::{Value, json};
use shared_types::{Totals, UtcMillis};

/// 2025-03-03T08:00:00Z, a Monday: 20,150 days after 1970-01-01, and eight hours.
const MONDAY_8: i64 = 20_150 * 86_400_000 + 8 * 3_600_000;
const FRIDAY_8: UtcMillis = UtcMillis(MONDAY_8 + 4 * 86_400_000);

/// The second session: ten minutes are 75 segments of eight seconds, after the clock reading with number 0.
const SECOND: &str = "76";

/// Fox on the frame on Monday; ten minutes of running at eight, twenty at one.
fn a_studio() -> Studio {
    let studio = Studio::empty();
    studio.ok(&["machine", "add", "Blue"]);
    studio.ok(&["rug", "new", "Fox"]);
    studio.ok(&["rug", "new", "Bear"]);
    studio.ok(&["rug", "start", "Fox", "--when", "2025-03-03 08:00"]);
    studio.ok(&["rug", "pause", "Fox", "--when", "2025-03-03 14:00"]);
    let records = [
        reading(1, MONDAY_8),
        running(1, 0, 600_000, 12_000, 1200),
        running(1, 300, 1_200_000, 24_000, 1200),
    ];
    studio.pulled_with_loss(FRIDAY_8, &records, Totals::default());
    studio.ok(&["machine", "fit"]);
    studio
}

fn moves(studio: &Studio, rug: &str) -> Vec<Value> {
    let history = studio.json(&["rug", "history", rug, "--json"]);
    let lines = history["entries"].as_array().unwrap().clone();
    lines.into_iter().filter(|line| line["says"]["kind"] == "bursts_assigned").collect()
}

/// What stands under a heading up to the next one, its lines joined.
fn column(text: &str, heading: &str, next: &str) -> String {
    let head = text.lines().find(|line| line.contains(heading)).unwrap();
    let (from, to) = (head.find(heading).unwrap(), head.find(next).unwrap());
    let cells = text.lines().map(|line| line.get(from..to.min(line.len())).unwrap_or_default().trim());
    cells.filter(|cell| !cell.is_empty()).collect::<Vec<_>>().join(" ")
}

#[test]
fn the_history_of_both_rugs_has_every_move_with_its_moment_its_old_and_its_new_rug() {
    let studio = a_studio();
    studio.ok(&["rug", "confirm", "--session", "1"]);
    studio.ok(&["rug", "assign", "Bear", "--session", "1"]);
    studio.ok(&["rug", "assign", "Bear", "--session", SECOND]);
    let fox = moves(&studio, "Fox");
    let told: Vec<[&Value; 4]> = fox
        .iter()
        .map(|line| {
            let moved = &line["moved"];
            [&moved["from"][0]["rug"], &moved["to_rug"], &moved["run_time_ms"], &line["standing"]]
        })
        .collect();
    let (fox_name, bear) = (json!("Fox"), json!("Bear"));
    assert_eq!(
        told,
        [
            [&fox_name, &fox_name, &json!(600_000), &json!("replaced")],
            [&fox_name, &bear, &json!(600_000), &json!("counts")],
            [&fox_name, &bear, &json!(1_200_000), &json!("counts")],
        ]
    );
    assert!(fox.iter().all(|line| line["entered_utc_ms"].as_i64().unwrap() > MONDAY_8));
    assert_eq!(fox[1]["moved"]["starts_earliest_utc_ms"], MONDAY_8);
    assert_eq!(moves(&studio, "Bear"), fox[1..]);

    let text = studio.ok(&["rug", "history", "fox"]);
    let says = column(&text, "what it says", "counts");
    for words in [
        "10 min of running, Mon 3 Mar 2025 08:00: confirmed for Fox",
        "10 min of running, Mon 3 Mar 2025 08:00: moved from Fox to Bear",
        "20 min of running, Mon 3 Mar 2025 13:00: moved from Fox (assumed) to Bear",
    ] {
        assert!(says.contains(words), "{words} is missing in {text}");
    }
    assert!(text.contains("no: moved again later"), "{text}");
}

#[test]
fn a_move_taken_back_stays_in_the_history_with_when_and_why() {
    let studio = a_studio();
    studio.ok(&["rug", "assign", "Bear", "--session", SECOND]);
    let entry = moves(&studio, "Fox")[0]["entry"].to_string();
    let told = studio.ok(&["rug", "take-back", &entry, "--because", "it was Fox after all"]);
    assert!(
        told.contains("20 min of running, Mon 3 Mar 2025 13:00: moved from Fox (assumed) to Bear"),
        "{told}"
    );
    for rug in ["Fox", "Bear"] {
        let line = moves(&studio, rug)[0].clone();
        let back = &line["standing"]["taken_back"];
        assert_eq!(back["reason"], "it was Fox after all");
        assert!(back["at_utc_ms"].as_i64() >= line["entered_utc_ms"].as_i64(), "{line}");
    }
    assert!(studio.ok(&["rug", "history", "Bear"]).contains("no: taken back"));
}

#[test]
fn running_given_back_to_nobody_or_to_care_is_in_the_history_of_the_rug_that_lost_it() {
    let studio = a_studio();
    studio.ok(&["rug", "assign", "--care", "--session", "1"]);
    studio.ok(&["rug", "assign", "--nobody", "--session", SECOND]);
    let text = studio.ok(&["rug", "history", "Fox"]);
    let says = column(&text, "what it says", "counts");
    assert!(says.contains("moved from Fox (assumed) to care"), "{text}");
    assert!(says.contains("moved from Fox (assumed) to no rug yet"), "{text}");
    assert!(moves(&studio, "Bear").is_empty());
}
