//! Tears by speed, asked through the program itself.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test may stop at the first surprise"
)]

use crate::bench_studio;
use crate::bench_studio::{Log, MINUTE, Studio};
use host_core::entries;
use rstest::rstest;
use serde_json::Value;
use shared_types::log::PressKind;

/// Machine 1 runs 100 minutes each at 200, 400, 600 and 800 per mille; two tears and a near-miss, each with the knob turned down
/// in the last second before the press.
fn tufted() -> (Studio, String) {
    let studio = Studio::new();
    studio.rug("Fox", "lot 7");
    let mut log = Log::new();
    log.run(0, 100, 200).run(120, 100, 400);
    let tear = log.press(221, PressKind::Tear, 400);
    log.run(240, 100, 600).run(360, 100, 800);
    log.press(461, PressKind::Tear, 800);
    log.press(462, PressKind::NearMiss, 800);
    studio.pulled(&log);
    (studio, format!("p{}", tear.0))
}

fn bands(report: &Value, key: &str) -> Vec<u64> {
    report["bands"].as_array().unwrap().iter().map(|band| band[key].as_u64().unwrap()).collect()
}

#[test]
fn tears_count_where_the_knob_stood_before_the_hand_turned_it_down() {
    let (studio, _) = tufted();
    let report = studio.ask(&["speed", "--json"]).json();
    assert_eq!(bands(&report, "knob_high_per_mille"), vec![200, 400, 600, 1000]);
    assert_eq!(bands(&report, "tears"), vec![0, 1, 0, 1]);
    assert_eq!(bands(&report, "near_misses"), vec![0, 0, 0, 1]);
    // Ten strokes a second for 100 minutes.
    assert_eq!(bands(&report, "strokes"), vec![60_000; 4]);
    assert_eq!(bands(&report, "run_time_ms"), vec![100 * MINUTE; 4]);
    assert_eq!(report["totals"]["tears"], 2);
    assert_eq!(report["unknown_knob"]["strokes"], 0);
    // Garwood: one event has the limits 0.025318 and 5.571643; 60,000 strokes are 0.6 of 100,000.
    let rate = &report["bands"][1]["tears_per_100000_strokes"];
    assert!((rate["low"].as_f64().unwrap() - 0.025_318 / 0.6).abs() < 1e-6);
    assert!((rate["high"].as_f64().unwrap() - 5.571_643 / 0.6).abs() < 1e-5);
    assert_eq!(report["verdict"], "cannot_tell_yet");
    assert_eq!(report["missing"]["tears"], 4);
}

#[test]
fn by_rug_and_by_cloth_lot_the_same_bands_hold_the_same_strokes_and_tears() {
    let (studio, tear) = tufted();
    studio.rug("Owl", "lot 8");
    studio.ok(&["tear", "answer", &tear, "--rug", "Owl"]);
    let report = studio.json(&["speed", "--json"]);
    let of = |list: &str, name: &str| {
        let named = report[list].as_array().unwrap().iter().find(|one| one["name"] == name).unwrap();
        let tears: Vec<u64> =
            named["bands"].as_array().unwrap().iter().map(|band| band["tears"].as_u64().unwrap()).collect();
        (named["together"]["strokes"].as_u64().unwrap(), tears)
    };
    // Both rugs are on the frame from the same moment on, so nobody has the running; the tears go where they were said to be.
    assert_eq!(of("by_rug", "Owl"), (0, vec![0, 1, 0, 0]));
    assert_eq!(of("by_cloth_lot", "lot 8"), (0, vec![0, 1, 0, 0]));
    let (alone, _) = tufted();
    let report = alone.json(&["speed", "--json"]);
    for list in ["by_rug", "by_cloth_lot"] {
        assert_eq!(report[list].as_array().unwrap().len(), 1, "{list}");
        assert_eq!(report[list][0]["together"], report["totals"], "{list}");
        assert_eq!(report[list][0]["bands"][1]["tears"], 1, "{list}");
    }
}

#[test]
fn by_rate_the_same_tears_and_strokes_are_sorted_anew() {
    let (studio, _) = tufted();
    let report = studio.ask(&["speed", "--by", "rate", "--json"]).json();
    assert_eq!(report["totals"]["tears"], 2);
    assert_eq!(report["totals"]["strokes"], 240_000);
    assert_eq!(report["bands"][0]["knob_low_per_mille"], Value::Null);
}

#[test]
fn a_press_by_mistake_is_taken_back_and_stays_visible() {
    let (studio, tear) = tufted();
    let back = studio.ask(&["tear", "withdraw", &tear, "--reason", "leaned on it"]);
    assert_eq!(back.code(), 0, "{back:?}");
    let list = studio.ask(&["tear", "list", "--json"]).json();
    assert_eq!(
        (list["tears"].as_u64(), list["near_misses"].as_u64(), list["withdrawn"].as_u64()),
        (Some(1), Some(1), Some(1))
    );
    assert_eq!(list["harms"].as_array().unwrap().len(), 3);
    assert_eq!(bands(&studio.ask(&["speed", "--json"]).json(), "tears"), vec![0, 0, 0, 1]);
    let again = studio.ask(&["tear", "withdraw", &tear, "--reason", "again"]);
    assert_eq!(again.code(), 6);
    assert!(again.err().contains("leaned on it"), "{again:?}");
    let told = studio.ok(&["take-back", &tear, "--undo"]);
    assert!(told.contains(&tear) && told.contains("counts again"), "{told}");
    assert_eq!(studio.json(&["tear", "list", "--json"])["tears"], 2);
    assert_eq!(studio.ask(&["take-back", &tear, "--undo"]).code(), 6);
    studio.ok(&["take-back", &tear, "--because", "leaned on it"]);
    assert_eq!(studio.json(&["tear", "list", "--json"])["tears"], 1);
    assert_eq!(studio.ask(&["take-back", "p9999999"]).code(), 6);
}

#[test]
fn the_rug_of_a_press_is_assumed_until_it_is_said() {
    let (studio, tear) = tufted();
    let harm = |told: &Value| {
        let harms = told["harms"].as_array().unwrap();
        harms.iter().find(|harm| harm["id"].as_str().unwrap().starts_with(&tear)).unwrap().clone()
    };
    let before = harm(&studio.ask(&["tear", "list", "--json"]).json());
    assert_eq!((before["rug"].as_str(), before["rug_is_assumed"].as_bool()), (Some("Fox"), Some(true)));
    assert_eq!(
        (before["cloth_lot"].as_str(), before["knob_before_per_mille"].as_u64()),
        (Some("lot 7"), Some(400))
    );
    studio.rug("Owl", "lot 8");
    let answer = studio.ask(&["tear", "answer", &tear, "--rug", "owl", "--note", "near the edge"]);
    assert_eq!(answer.code(), 0, "{answer:?}");
    let after = harm(&studio.ask(&["tear", "list", "--json"]).json());
    assert_eq!((after["rug"].as_str(), after["rug_is_assumed"].as_bool()), (Some("Owl"), Some(false)));
    assert_eq!(after["note"], "near the edge");
}

#[test]
fn a_tear_noted_by_hand_counts_and_its_answer_is_one_entry_more() {
    let (studio, _) = tufted();
    let noted = studio.ask(&["tear", "--knob", "55", "--when", "2026-03-02 12:30", "--json"]).json();
    let id = noted["id"].as_str().unwrap().to_owned();
    assert_eq!(bands(&studio.ask(&["speed", "--json"]).json(), "tears"), vec![0, 1, 1, 1]);
    let entries = studio.entries().len();
    let said = ["tear", "answer", &id, "--rug", "Fox", "--travel", "sideways", "--strands", "2", "--json"];
    let answered = studio.ask(&said).json();
    assert_eq!(answered["id"].as_str().unwrap(), id);
    assert_eq!(studio.entries().len(), entries + 1);
    let now = &answered["now"];
    assert_eq!((now["rug"].as_str(), now["knob_before_per_mille"].as_u64()), (Some("Fox"), Some(550)));
    assert_eq!(
        (now["answers"]["travel"].as_str(), now["answers"]["strands"].as_u64()),
        (Some("sideways"), Some(2))
    );
    let words = studio.ok(&["tear", "list"]);
    assert!(words.contains("led sideways, 2 strands"), "{words}");
    assert!(!words.contains("if you know"), "{words}");
    // What the list calls it is what is answered.
    let number = words.lines().find(|line| line.starts_with('p')).unwrap().split(' ').next().unwrap();
    studio.ok(&["tear", "answer", number, "--stage", "fill"]);
    let list = studio.ask(&["tear", "list", "--json"]).json();
    assert_eq!((list["tears"].as_u64(), list["withdrawn"].as_u64()), (Some(3), Some(0)));
    let unknown = studio.ask(&["tear", "--rug", "Foks"]);
    assert_eq!(unknown.code(), 6);
    assert!(unknown.err().contains("Fox"), "{unknown:?}");
}

#[test]
fn a_tear_noted_by_hand_is_assumed_to_be_of_the_rug_that_was_worked_on_then() {
    // Runs from 8:00 to 9:40 and from 10:00 to 11:40; the Fox is on the frame from eight on.
    let (studio, _) = tufted();
    let noted = |more: &[&str]| studio.ask(&[&["tear", "--json"], more].concat()).json()["now"].clone();
    let assumed = noted(&["--when", "2026-03-02 10:30"]);
    assert_eq!((assumed["rug"].as_str(), assumed["rug_is_assumed"].as_bool()), (Some("Fox"), Some(true)));
    assert_eq!(assumed["cloth_lot"], "lot 7");
    let said = noted(&["--when", "2026-03-02 10:30", "--rug", "Fox"]);
    assert_eq!((said["rug"].as_str(), said["rug_is_assumed"].as_bool()), (Some("Fox"), Some(false)));
    assert_eq!(noted(&["--when", "2026-03-02 07:00"])["rug"], Value::Null, "nothing was on the frame then");
    // The maker's yes is an answer like any other.
    let words = studio.ok(&["tear", "--when", "2026-03-02 10:31"]);
    assert!(words.starts_with("Before you mend: switch off and unplug"), "{words}");
    let id = words.lines().nth(1).unwrap().split(':').next().unwrap();
    assert!(words.contains(&format!("Right? needlehours tear answer {id} --rug \"Fox\"")), "{words}");
    studio.ok(&["tear", "answer", id, "--rug", "Fox"]);
    let list = studio.ask(&["tear", "list", "--json"]).json();
    let harms = list["harms"].as_array().unwrap();
    let confirmed = harms.iter().find(|harm| harm["id"] == id).unwrap();
    assert_eq!(confirmed["rug_is_assumed"], false);
    // Two on the frame at once: nobody can tell.
    studio.rug("Owl", "lot 8");
    assert_eq!(noted(&["--when", "2026-03-02 10:32"])["rug"], Value::Null);
    // ... unless the running around it was given to one of them.
    let log = bench_studio::LOG;
    studio.tell(entries::EntryBody::BurstsAssigned(entries::BurstsAssigned {
        logger: log.logger,
        log: log.log,
        from: shared_types::RecordSeq(0),
        to: shared_types::RecordSeq(10_000),
        owner: entries::Owner::Rug(entries::RugName("Owl".to_owned())),
        certainty: entries::Certainty::Confirmed,
    }));
    assert_eq!(noted(&["--when", "2026-03-02 10:32"])["rug"], "Owl");
}

#[test]
fn where_the_knob_stood_can_be_said_afterwards() {
    let (studio, pressed) = tufted();
    let noted = studio.ask(&["tear", "--when", "2026-03-02 10:30", "--json"]).json();
    let id = noted["id"].as_str().unwrap();
    assert_eq!(noted["now"]["knob_before_per_mille"], Value::Null);
    let answered = studio.ask(&["tear", "answer", id, "--knob", "55", "--json"]).json();
    assert_eq!(answered["now"]["knob_before_per_mille"], 550);
    // What the logger measured stays.
    let measured = studio.ask(&["tear", "answer", &pressed, "--knob", "99", "--json"]).json();
    assert_eq!(measured["now"]["knob_before_per_mille"], 400);
}

#[test]
fn rates_of_a_table_are_plain_numbers_in_their_unit() {
    let studio = Studio::new();
    let path = studio.path().with_file_name("sessions.csv");
    std::fs::write(&path, "knob,hours,tears\n100,10,0\n200,12,1\n500,20,2\n800,9,4\n").unwrap();
    let words = studio.ok(&["speed", "--table", path.to_str().unwrap()]);
    // One event in twelve hours: 1 / 12, and Garwood's 0.025318 / 12.
    assert!(words.contains("1 tear in 12 h; 0.083 an hour (between 0.0021 and 0.46)"), "{words}");
    assert!(words.contains("0 tears in 10 h; 0 an hour"), "{words}");
    std::fs::write(&path, "knob,hours,strokes,tears\n100,10,300000,1\n800,9,200000,4\n").unwrap();
    let words = studio.ok(&["speed", "--table", path.to_str().unwrap()]);
    assert!(words.contains("in 300,000 strokes; 0.33 in 100,000 strokes"), "{words}");
}

#[test]
fn what_is_said_is_plain_and_claims_nothing() {
    let (studio, _) = tufted();
    let (short, words) = (studio.ok(&["speed"]), studio.ok(&["speed", "--more"]));
    assert!(short.starts_with("Speed: cannot tell yet (2 tears).\n"), "{short}");
    assert!(short.lines().count() <= 25, "{short}");
    assert!(short.lines().chain(words.lines()).all(|line| line.chars().count() <= 80), "{words}");
    assert!(!short.contains("not established") && short.contains("speed --more"), "{short}");
    assert!(words.contains("Cannot tell yet") && words.contains("not established"), "{words}");
    assert!(words.contains("one tear in about 60,000 strokes"), "{words}");
    for jargon in ["per mille", "dispersion", "posterior", "p-value", "boot"] {
        assert!(!words.contains(jargon), "{jargon} in\n{words}");
    }
}

#[test]
fn the_words_of_statistics_are_said_only_to_whoever_asks_for_them() {
    let studio = torn_while_fast(9);
    let (plain, explained) = (studio.ok(&["speed"]), studio.ok(&["speed", "--explain"]));
    for term in ["conditional maximum likelihood", "Mantel-Haenszel", "pictures only"] {
        assert!(explained.contains(term) && !plain.contains(term), "{term} in\n{explained}");
    }
    assert!(explained.starts_with(plain.trim_end()), "{explained}");
    // Nine of nine tears at half of the strokes: 2 / 2^9 = 0.0039.
    assert!(explained.contains("p 0.0039"), "{explained}");
}

/// Twelve hours at 300 per mille, twelve at 700, and so many tears at 700, all on one rug.
fn torn_while_fast(tears: u64) -> Studio {
    let studio = Studio::new();
    studio.rug("Fox", "lot 7");
    let mut log = Log::new();
    log.run(0, 720, 300).run(725, 720, 700);
    for tear in 0..tears {
        log.press(1446 + tear, PressKind::Tear, 700);
    }
    studio.pulled(&log);
    studio
}

#[test]
fn the_answer_changes_at_a_look_only_and_says_what_the_next_one_takes() {
    let eight = torn_while_fast(8).ask(&["speed", "--json"]).json();
    assert_eq!(
        (eight["verdict"].as_str(), eight["primary"]["look_at_tears"].as_u64()),
        (Some("cannot_tell_yet"), Some(6))
    );
    assert_eq!(
        (eight["missing"]["tears"].as_u64(), eight["primary"]["next_look_at_tears"].as_u64()),
        (Some(1), Some(9))
    );
    let studio = torn_while_fast(9);
    let nine = studio.ask(&["speed", "--json"]).json();
    // Half of the strokes fast, nine of nine tears fast: 2 / 2^9.
    assert_eq!(nine["verdict"], "faster_tears_more");
    assert!((nine["primary"]["ratio"]["p_value"].as_f64().unwrap() - 2.0 / 512.0).abs() < 1e-9);
    assert_eq!(
        (nine["primary"]["cut_knob_per_mille"].as_u64(), nine["primary"]["informative_rugs"].as_u64()),
        (Some(300), Some(1))
    );
    assert_eq!(nine["missing"], Value::Null);
    let words = studio.ok(&["speed"]);
    assert!(
        words.starts_with("Speed: faster tears more (9 tears); fast is the knob above 30 %.\n"),
        "{words}"
    );
    // Sorted by rate the bands differ, the answer does not.
    assert_eq!(studio.ask(&["speed", "--by", "rate", "--json"]).json()["primary"], nine["primary"]);
}

#[test]
fn of_many_tears_the_latest_ten_are_listed_with_what_is_known_of_each() {
    let studio = torn_while_fast(14);
    studio.ok(&["tear", "--near-miss", "--when", "2026-03-02 10:30"]);
    let words = studio.ok(&["speed"]);
    assert!(words.contains("4 more, 1 near-miss: needlehours tear list"), "{words}");
    assert_eq!(
        words.lines().filter(|line| line.contains("Fox *") && line.contains("70 %")).count(),
        10,
        "{words}"
    );
    let whole = studio.ok(&["tear", "list"]);
    assert!(whole.contains("14 tears and 1 near-miss"), "{whole}");
    assert_eq!(whole.lines().filter(|line| line.contains("Fox *")).count(), 15, "{whole}");
    let harms = studio.json(&["speed", "--json"])["harms"].clone();
    // The rug came on as the first of two runs of twelve hours began, which the next record follows; after a tear nobody knows.
    let tight = |at: usize| harms[at]["run_since_tensioning_ms"].as_u64();
    let first = harms.as_array().unwrap().iter().position(|harm| harm["harm"] == "tear").unwrap();
    assert!(tight(first).is_some_and(|ms| ms >= 12 * 3_600_000), "{}", harms[first]);
    assert_eq!(tight(first + 1), None);
}

#[test]
fn hints_carry_limits_and_no_probability() {
    let report = torn_while_fast(9).ask(&["speed", "--json"]).json();
    for part in ["hints", "since_tensioning"] {
        assert!(report[part].is_object(), "{part}");
        assert!(!report[part].to_string().contains("p_value"), "{part}: {}", report[part]);
    }
    // The rug came on the frame before the first run: a day of running since then, and the count ends at the first tear.
    assert_eq!(report["since_tensioning"]["bands"][2]["tears"], 1);
    assert_eq!(report["since_tensioning"]["unknown"]["tears"], 8);
}

#[test]
fn what_the_maker_knows_of_a_tear_is_kept_and_the_rest_stays_unknown() {
    let (studio, tear) = tufted();
    let told = studio.ask(&["tear", "answer", &tear, "--tension", "slack", "--second-pass", "yes"]);
    assert_eq!(told.code(), 0, "{told:?}");
    assert!(told.out().contains("cloth felt slack") && told.out().contains("second pass"), "{told:?}");
    assert_eq!(studio.ask(&["tear", "answer", &tear, "--stage", "rework"]).code(), 0);
    let list = studio.ask(&["tear", "list", "--json"]).json();
    let harm = list["harms"]
        .as_array()
        .unwrap()
        .iter()
        .find(|harm| harm["id"].as_str().unwrap().starts_with(&tear))
        .unwrap();
    let answers = &harm["answers"];
    assert_eq!(
        (answers["tension"].as_str(), answers["second_pass"].as_bool(), answers["stage"].as_str()),
        (Some("slack"), Some(true), Some("rework"))
    );
    assert_eq!((&answers["needle"], &answers["place"]), (&Value::Null, &Value::Null));
    assert_eq!(harm["open_questions"], serde_json::json!(["needle", "travel"]));
    assert_eq!(studio.ask(&["tear", "answer", &tear, "--tension", "perhaps"]).code(), 2);
}

#[test]
fn the_pictures_show_what_the_report_says() {
    let (studio, _) = tufted();
    let draw = |what: &str| {
        let path = studio.path().with_file_name(format!("{what}.svg"));
        let told = studio.ask(&["plot", what, "--out", path.to_str().unwrap()]);
        assert_eq!(told.code(), 0, "{told:?}");
        std::fs::read_to_string(path).unwrap()
    };
    // Two tears make no rate: the rug's strokes from slow to fast, a quarter at each place of the knob.
    let tears = draw("tears");
    for words in ["Tears among the strokes", "240,000 strokes", "near-miss", "20 %", "80 %"] {
        assert!(tears.contains(words), "{words}");
    }
    assert!(!tears.contains("per 100,000"), "{tears}");
    let series = studio.ask(&["plot", "tears", "--json"]).json();
    let fox = &series["sorted_strokes"]["rugs"][0];
    let places: Vec<&Value> =
        fox["harms"].as_array().unwrap().iter().map(|harm| &harm["slower_share"]).collect();
    // By hand: at 400 per mille a quarter was slower, at 800 three; half of those alike are counted.
    assert_eq!(places, [0.375, 0.875, 0.875]);
    let traces = draw("traces");
    assert!(traces.contains("2 tears and 0 random moments"), "{traces}");
    let series = studio.ask(&["plot", "traces", "--json"]).json();
    assert_eq!(series["tears"].as_array().unwrap().len(), 2);
    assert_eq!(series["tears"][0]["before"]["points"][0]["knob_per_mille"], 400);
}

#[test]
fn rates_are_drawn_from_ten_tears_on() {
    for (tears, has_rates) in [(9, false), (10, true)] {
        let studio = Studio::new();
        studio.rug("Fox", "lot 7");
        let mut log = Log::new();
        log.run(0, 100, 200).run(120, 100, 600);
        for place in 0..tears {
            log.press(221 + place, PressKind::Tear, 600);
        }
        studio.pulled(&log);
        let path = studio.path().with_file_name("tears.svg");
        studio.ask(&["plot", "tears", "--out", path.to_str().unwrap()]);
        let picture = std::fs::read_to_string(path).unwrap();
        assert_eq!(picture.contains("tears per 100,000 strokes"), has_rates, "{tears}: {picture}");
        assert_eq!(picture.contains("Tears among the strokes"), !has_rates, "{tears}");
    }
}

/// Tippett's warp breaks (1950) written as a maker's table: tension as the knob, wool as the stratum, an hour a loom.
fn warp_breaks(studio: &Studio) -> String {
    let mut table = String::from("knob,hours,tears,stratum\n");
    for row in include_str!("../reference/warpbreaks.csv").lines().skip(1) {
        let cells: Vec<&str> = row.split(',').collect();
        let knob = 1 + ["L", "M", "H"].iter().position(|tension| *tension == cells[2]).unwrap();
        table.push_str(&format!("{knob},1,{},{}\n", cells[0], cells[1]));
    }
    let path = studio.path().with_file_name("table.csv");
    std::fs::write(&path, table).unwrap();
    path.to_str().unwrap().to_owned()
}

#[test]
fn a_table_is_answered_with_exactly_the_promised_keys() {
    let studio = Studio::empty();
    let report = studio.ask(&["speed", "--table", &warp_breaks(&studio), "--json"]).json();
    let keys = |value: &Value| value.as_object().unwrap().keys().cloned().collect::<Vec<_>>().join(" ");
    assert_eq!(
        keys(&report),
        "bands dropped_rows mantel_haenszel ratio schema stratified_exact trend verdict"
    );
    assert_eq!(keys(&report["bands"][0]), "exposure high knob_high knob_low low rate tears");
    assert_eq!(keys(&report["ratio"]), "estimate high low p_value");
    assert_eq!(keys(&report["stratified_exact"]), "estimate high informative_strata low p_value");
    assert_eq!(keys(&report["mantel_haenszel"]), "estimate high low p_strata_differ");
    assert_eq!(
        keys(&report["trend"]),
        "dispersion p_adjusted p_poisson residual_degrees_of_freedom slope standard_error t_adjusted z_poisson"
    );
    // Published totals 655, 475, 390; slope and widened test as in R and statsmodels.
    assert_eq!(bands(&report, "tears"), vec![655, 475, 390]);
    assert!((report["trend"]["slope"].as_f64().unwrap() + 0.264_553).abs() < 5.1e-7);
    assert!((report["trend"]["t_adjusted"].as_f64().unwrap() + 4.0379).abs() < 5.1e-5);
}

#[test]
fn a_table_needs_no_database_and_leaves_none_behind() {
    let studio = Studio::empty();
    assert_eq!(studio.ask(&["speed", "--table", &warp_breaks(&studio)]).code(), 0);
    assert!(!studio.path().exists());
}

#[test]
fn another_level_widens_the_limits() {
    let studio = Studio::empty();
    let path = studio.path().with_file_name("one.csv");
    std::fs::write(&path, "knob,hours,tears\n5,10,0\n").unwrap();
    let high = |level: &str| {
        let report =
            studio.ask(&["speed", "--table", path.to_str().unwrap(), "--level", level, "--json"]).json();
        report["bands"][0]["high"].as_f64().unwrap()
    };
    // No event: -ln of half the rest, over ten hours.
    assert!((high("0.9") - 0.299_573_227).abs() < 1e-8);
    assert!((high("0.99") - 0.529_831_737).abs() < 1e-8);
    assert_eq!(studio.ask(&["speed", "--table", path.to_str().unwrap(), "--level", "95"]).code(), 6);
}

#[rstest]
#[case::text("knob,hours,tears\nfast,1,1\n", "line 2")]
#[case::negative("knob,hours,tears\n1,1,1\n2,-1,0\n", "line 3")]
#[case::missing_column("knob,tears\n1,1\n", "hours")]
#[case::all_zero("knob,hours,tears\n1,0,0\n2,0,0\n", "no row")]
#[case::tears_in_no_time("knob,hours,tears\n1,5,0\n2,0,1\n", "line 3")]
#[case::huge("knob,hours,tears\n1,5,18446744073709551615\n2,5,1\n", "more than")]
#[case::empty("", "column")]
fn a_bad_table_gets_a_clear_answer(#[case] table: &str, #[case] names: &str) {
    let studio = Studio::empty();
    let path = studio.path().with_file_name("bad.csv");
    std::fs::write(&path, table).unwrap();
    let told = studio.ask(&["speed", "--table", path.to_str().unwrap(), "--json"]);
    assert_eq!(told.code(), 6, "{told:?}");
    assert!(told.err().contains(names), "{told:?}");
    assert!(told.out().is_empty(), "{told:?}");
}

#[test]
fn a_table_with_one_knob_value_is_answered_with_nulls() {
    let studio = Studio::empty();
    let path = studio.path().with_file_name("one.csv");
    std::fs::write(&path, "knob,hours,tears\n5,10,1\n5,10,3\n0,0,0\n").unwrap();
    let report = studio.ask(&["speed", "--table", path.to_str().unwrap(), "--json"]).json();
    assert_eq!(report["dropped_rows"], 1);
    assert_eq!(report["ratio"]["estimate"], Value::Null);
    assert_eq!(report["trend"]["slope"], Value::Null);
    // Fitted 2 and 2: (1/2 + 1/2) over one degree of freedom.
    assert_eq!(report["trend"]["dispersion"], 1.0);
    assert_eq!(report["verdict"], "cannot_tell_yet");
}

#[test]
fn a_table_that_is_not_there_is_said_so() {
    let told = Studio::empty().ask(&["speed", "--table", "/no/such/table.csv"]);
    assert_eq!(told.code(), 6, "{told:?}");
    assert!(told.err().contains("/no/such/table.csv"), "{told:?}");
}
