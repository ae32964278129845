//! `rate`, `exposure`, `heavy` and `quote` as the maker runs them.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a test may stop at the first surprise"
)]

use crate::bench_studio::{Studio, reading, running};
use host::app::ports::Store;
use host_core::entries::amount::Money;
use host_core::entries::{
    CostBasis, DutyRated, DutyRating, EntryBody, FigureSource, HeavyLimit, HeavyLimitSet, Hours,
    MachineCosts, SampleSquare, Style, VibrationFigure,
};
use rstest::rstest;
use shared_types::{MachineTag, RunMillis, Totals, UtcMillis};

/// 2025-03-03T08:00:00Z, a Monday: 20,150 days after 1970-01-01, and eight hours.
const MONDAY_8: i64 = 20_150 * 86_400_000 + 8 * 3_600_000;

/// UTC offset of two hours.
fn empty() -> Studio {
    Studio::empty_in("<+02>-2")
}

/// Writes a table beside the database.
fn table(studio: &Studio, text: &str) {
    std::fs::write(studio.path().parent().unwrap().join("day.csv"), text).unwrap();
}

fn expect_near(found: &serde_json::Value, expected: f64) {
    let found = found.as_f64().expect("a number");
    assert!((found - expected).abs() <= 1e-9 * expected.abs().max(1.0), "found {found}, expected {expected}");
}

/// Refused with exit code 6, nothing on standard output, and words that name the trouble.
fn expect_refused(studio: &Studio, arguments: &[&str], words: &str) {
    let told = studio.ask(arguments);
    assert_eq!((told.code(), told.out().as_str()), (6, ""), "{arguments:?}: {told:?}");
    assert!(told.err_words().contains(words), "{arguments:?}: {}", told.err_words());
}

const A_RATE: [&str; 16] = [
    "rate",
    "--price",
    "300",
    "--resale",
    "100",
    "--life-hours",
    "500",
    "--period-hours",
    "60",
    "--period-cost",
    "20",
    "--period-cost",
    "4",
    "--hour-cost",
    "0.10",
    "--json",
];

#[test]
fn the_calculator_takes_a_costing_tutorials_example_as_fine_as_it_comes() {
    // education.svtuition.org (2010), a machine-hour rate: 10,000 less 900 over 10 x 4,380 h; 268.33 a month over 365 h; repairs
    // 18,000 over the life; 15 units an hour at 0.05. Added again: 2.103881.
    let studio = Studio::new();
    let mut asked = vec!["rate", "--price", "10000", "--resale", "900", "--life-hours", "43800"];
    asked.extend(["--period-hours", "365"]);
    for cost in ["75", "16", "160", "9", "8.333333333333334"] {
        asked.extend(["--period-cost", cost]);
    }
    asked.extend(["--hour-cost", "0.41095890410958905", "--hour-cost", "7.5e-1", "--json"]);
    let rate = studio.json(&asked);
    for (key, expected) in [
        ("depreciation_per_hour", 0.207_763),
        ("period_costs_per_hour", 0.735_160),
        ("machine_hour_rate", 2.103_881),
    ] {
        assert!((rate[key].as_f64().unwrap() - expected).abs() < 1e-6, "{key}: {rate}");
    }
}

#[test]
fn a_rate_needs_no_database_and_is_not_rounded() {
    let studio = empty();
    // By hand: 200 / 500 h, 24 / 60 h, 0.10 an hour.
    let answer = studio.json(&A_RATE);
    expect_near(&answer["depreciation_per_hour"], 0.4);
    expect_near(&answer["period_costs_per_hour"], 0.4);
    expect_near(&answer["hour_costs"], 0.1);
    expect_near(&answer["machine_hour_rate"], 0.9);
    assert!(!studio.path().exists());
    let thirds = studio.json(&["rate", "--price", "1", "--resale", "0", "--life-hours", "3", "--json"]);
    expect_near(&thirds["machine_hour_rate"], 1.0 / 3.0);
    expect_near(&thirds["period_costs_per_hour"], 0.0);
    assert!(studio.ok(&A_RATE[..15]).contains("0.90"));
}

#[rstest]
#[case::negative_price(&["--price", "-300", "--resale", "0", "--life-hours", "500"], "--price: -300 is below zero")]
#[case::negative_resale(&["--price", "300", "--resale", "-1", "--life-hours", "500"], "--resale: -1 is below zero")]
#[case::resale_over_price(&["--price", "300", "--resale", "301", "--life-hours", "500"], "more than the price")]
#[case::zero_life(&["--price", "300", "--resale", "0", "--life-hours", "0"], "life in hours must be")]
#[case::negative_life(&["--price", "300", "--resale", "0", "--life-hours", "-5"], "life in hours must be")]
#[case::no_number(&["--price", "300", "--resale", "0", "--life-hours", "NaN"], "life in hours must be")]
#[case::text(&["--price", "cheap", "--resale", "0", "--life-hours", "500"], "\"cheap\" is not an amount")]
#[case::no_period(&["--price", "300", "--resale", "0", "--life-hours", "500", "--period-cost", "5"], "costs of a period")]
#[case::zero_period(&["--price", "300", "--resale", "0", "--life-hours", "500", "--period-hours", "0", "--period-cost", "5"], "hours of running in a period must be")]
#[case::negative_hour_cost(&["--price", "300", "--resale", "0", "--life-hours", "500", "--hour-cost", "-0.1"], "--hour-cost: -0.1 is below zero")]
#[case::negative_period_cost(&["--price", "300", "--resale", "0", "--life-hours", "500", "--period-hours", "9", "--period-cost", "-5"], "--period-cost: -5 is below zero")]
#[case::no_life(&["--price", "300", "--resale", "0"], "--life-hours is missing")]
#[case::no_price(&["--life-hours", "500"], "--price is missing")]
#[case::no_resale(&["--price", "300", "--life-hours", "500"], "--resale is missing")]
fn a_rate_that_cannot_be_is_refused(#[case] options: &[&str], #[case] words: &str) {
    let arguments: Vec<&str> = ["rate"].iter().chain(options).copied().chain(["--json"]).collect();
    expect_refused(&empty(), &arguments, words);
}

#[test]
fn a_days_table_becomes_an_exposure() {
    let studio = empty();
    // ISO 5349-1's example of three tools, 3.368 m/s², and one that stands still.
    table(&studio, "a_hv_m_s2,minutes\n2.0,60\n3.5,180\n10,30\n0,30\n");
    let answer = studio.json(&["exposure", "--table", "day.csv", "--json"]);
    assert!((answer["a8_m_s2"].as_f64().unwrap() - 3.368).abs() < 5e-4);
    // By hand: 2 a² T are 8, 73.5 and 100 points.
    expect_near(&answer["points"], 181.5);
    assert_eq!(
        (answer["action_value"].as_str(), answer["limit_value"].as_str()),
        (Some("exceeded"), Some("below"))
    );
    let tools = answer["tools"].as_array().unwrap();
    assert_eq!(tools.len(), 4);
    expect_near(&tools[2]["minutes_to_action_value"], 30.0);
    expect_near(&tools[2]["minutes_to_limit_value"], 120.0);
    assert!(tools[3]["minutes_to_action_value"].is_null() && tools[3]["minutes_to_limit_value"].is_null());
    let words = studio.ok(&["exposure", "--table", "day.csv"]);
    for said in ["estimate", "2002/44/EC", "exceeded", "United Kingdom", "competent"] {
        assert!(words.contains(said), "{said}: {words}");
    }
}

#[test]
fn an_action_value_that_is_just_reached_is_called_so() {
    let studio = empty();
    table(&studio, "minutes,a_hv_m_s2\n240,2.5\n60,5\n");
    // By hand: 50 points and 50 points.
    let answer = studio.json(&["exposure", "--table", "day.csv", "--json"]);
    assert_eq!(answer["action_value"], "reached");
    assert_eq!(
        (answer["rules"]["eu_action"].as_bool(), answer["rules"]["uk_action"].as_bool()),
        (Some(false), Some(true))
    );
}

#[rstest]
#[case("a_hv_m_s2,minutes\n2,60\n3,-1\n", "line 3: minutes is \"-1\"")]
#[case("a_hv_m_s2,minutes\n", "no rows")]
#[case("a_hv,minutes\n2,60\n", "no column a_hv_m_s2")]
#[case("", "no column a_hv_m_s2")]
#[case("a_hv_m_s2,minutes\n2,1000\n3,500\n", "all together 1500 minutes")]
fn a_table_that_cannot_be_is_refused(#[case] text: &str, #[case] words: &str) {
    let studio = empty();
    table(&studio, text);
    expect_refused(&studio, &["exposure", "--table", "day.csv", "--json"], words);
    expect_refused(&studio, &["exposure", "--table", "none.csv"], "none.csv cannot be read");
}

/// Monday 10:00 by the maker's clock: twelve cycles of 4 min in 10, 12 strokes a second; Tuesday an hour on end.
fn busy_studio() -> Studio {
    let studio = empty();
    studio.ok(&["machine", "add", "Blue"]);
    let mut records = vec![reading(1, MONDAY_8)];
    records.extend((0..12).map(|cycle| running(1, cycle * 10, 240_000, 2_881, 500)));
    records.push(running(1, 24 * 60, 3_600_000, 43_201, 500));
    studio.pulled_with_loss(UtcMillis(MONDAY_8 + 2 * 86_400_000), &records, Totals::default());
    studio.ok(&["machine", "fit"]);
    studio
}

#[test]
fn without_a_figure_there_is_no_dose_and_with_one_there_is_by_day() {
    let studio = busy_studio();
    let none = studio.json(&["exposure", "--machine", "1", "--json"]);
    assert_eq!(none["days"].as_array().unwrap().len(), 2);
    assert!(none["days"][0]["exposure"].is_null() && none["machines"][0]["a_hv_m_s2"].is_null());
    assert!(studio.ok(&["exposure"]).contains("there is no dose"));
    studio.ok(&["exposure", "set", "--vibration", "5", "--from", "declared"]);
    let dosed = studio.json(&["exposure", "--json"]);
    // By hand: 48 min and 60 min at 5 m/s², 50 points an hour.
    expect_near(&dosed["days"][0]["exposure"]["points"], 40.0);
    expect_near(&dosed["days"][1]["exposure"]["points"], 50.0);
    assert_eq!(
        (dosed["days"][0]["day"].as_str(), dosed["machines"][0]["source"].as_str()),
        (Some("2025-03-03"), Some("declared"))
    );
    let typed = studio.json(&["exposure", "--machine", "1", "--vibration", "10", "--json"]);
    expect_near(&typed["days"][1]["exposure"]["points"], 200.0);
    assert!(studio.ok(&["exposure"]).contains("estimate"));
    expect_refused(&studio, &["exposure", "--vibration", "-1"], "vibration figure");
    expect_refused(&studio, &["exposure", "set", "--vibration", "strong"], "vibration figure");
}

#[test]
fn heavy_use_is_found_with_its_evidence_and_its_limits_can_be_edited() {
    let studio = busy_studio();
    let found = |answer: &serde_json::Value, what: &str| -> serde_json::Value {
        let findings = answer["machines"][0]["findings"].as_array().unwrap().iter();
        findings.into_iter().find(|finding| finding["looked_at"] == what).unwrap().clone()
    };
    let shown = studio.json(&["heavy", "--json"]);
    expect_near(&shown["machines"][0]["duty"]["cyclic_duration_factor"], 1.0);
    assert_eq!(found(&shown, "duty_factor")["judgement"], "not_judged");
    let long = found(&shown, "longest_run");
    assert_eq!(
        (long["judgement"].as_str(), long["source"].as_str()),
        (Some("too_much"), Some("motors_overheat"))
    );
    expect_near(&long["found"], 60.0);
    assert_eq!(long["when"]["earliest_utc_ms"], MONDAY_8 + 86_400_000);
    assert!(long["what_to_do"].as_str().unwrap().contains("unplug"));
    studio.ok(&["heavy", "set", "--duty", "S3 40 %", "--run-minutes", "60", "--stretch-minutes", "0"]);
    let judged = studio.json(&["heavy", "--machine", "1", "--json"]);
    assert_eq!(found(&judged, "longest_run")["judgement"], "fine");
    assert_eq!(found(&judged, "longest_stretch")["judgement"], "not_judged");
    let duty = found(&judged, "duty_factor");
    // By hand: only the hour on end passes 40 % of ten minutes, six times.
    assert_eq!((duty["judgement"].as_str(), duty["times"].as_u64()), (Some("too_much"), Some(6)));
    let words = studio.ok(&["heavy", "--limits"]);
    for said in [
        "Too much:",
        "What to do: Finish this line",
        "limit set by you",
        "Carbon Buildup",
        "from memory",
        "Tue 4 Mar 2025 10:00",
    ] {
        assert!(words.contains(said), "{said}: {words}");
    }
}

#[rstest]
#[case(&["heavy", "set"], "no limit was given")]
#[case(&["heavy", "set", "--duty", "S9"], "not a duty rating")]
#[case(&["heavy", "set", "--day-hours", "25"], "--day-hours must be a number from 1 to 24, or 0 to switch it off, not \"25\"")]
#[case(&["heavy", "set", "--window-minutes", "0"], "--window-minutes must be a number from 1 to 240, not \"0\"")]
#[case(&["heavy", "set", "--knob-ceiling-percent", "-1"], "--knob-ceiling-percent must be")]
#[case(&["heavy", "set", "--day-hours", "4", "--slow-share-percent", "much"], "--slow-share-percent must be")]
#[case(&["heavy", "--machine", "7"], "no machine 7")]
fn a_limit_that_cannot_be_is_refused_and_nothing_is_set(#[case] arguments: &[&str], #[case] words: &str) {
    let studio = busy_studio();
    let before = studio.entries().len();
    expect_refused(&studio, arguments, words);
    assert_eq!(studio.entries().len(), before);
}

#[test]
fn a_quote_comes_from_a_sample_until_there_are_four_finished_rugs() {
    let studio = busy_studio();
    assert!(studio.ok(&["quote", "--size", "80x120cm"]).contains("Cannot tell yet"));
    assert_eq!(studio.json(&["quote", "--size", "80x120cm", "--json"])["basis"], "none");
    studio.ok(&[
        "quote",
        "sample",
        "--size",
        "100x100mm",
        "--style",
        "cut",
        "--run-minutes",
        "1.5",
        "--strokes",
        "1000",
    ]);
    let sampled = studio.json(&["quote", "--size", "1x1m", "--style", "cut", "--json"]);
    // By hand: a hundred squares.
    expect_near(&sampled["run_hours"]["estimate"], 2.5);
    expect_near(&sampled["strokes"]["estimate"], 100_000.0);
    assert!(sampled["run_hours"]["low"].is_null() && sampled["basis"] == "sample_square");
    // Four rugs of one square metre, three cycles each: 12 min of running, 8,643 strokes, and a quarter of the one session, which
    // lasts from the first cycle to the end of the last one's running, 114 min.
    for (rug, first) in [("Fox", 0), ("Bear", 3), ("Owl", 6), ("Hare", 9)] {
        studio.ok(&["rug", "new", rug, "--size", "1x1m", "--when", "2025-03-01"]);
        let at = |minute: u64| format!("2025-03-03 {:02}:{:02}", 10 + minute / 60, minute % 60);
        studio.ok(&["rug", "start", rug, "--when", &at(first * 10)]);
        studio.ok(&["rug", "finish", rug, "--when", &at(first * 10 + 25)]);
    }
    studio.ok(&["rate", "set", "--price", "300", "--resale", "100", "--life-hours", "500"]);
    let own = studio.json(&[
        "quote",
        "--size",
        "2x1m",
        "--style",
        "cut",
        "--colours",
        "5",
        "--wage",
        "20",
        "--json",
    ]);
    assert_eq!(
        (own["basis"].as_str(), own["own_rugs"].as_u64(), own["colours"].as_u64()),
        (Some("own_rugs"), Some(4), Some(5))
    );
    // By hand: all four alike, so the range is one number: twice 12 min, twice 28.5 min, twice 8,643 strokes.
    for limit in ["estimate", "low", "high"] {
        expect_near(&own["run_hours"][limit], 0.4);
        expect_near(&own["strokes"][limit], 17_286.0);
        expect_near(&own["tufting_hours"][limit], 0.95);
        // 0.16 for the machine, 19 for the hands.
        expect_near(&own["cost"][limit], 19.16);
    }
    let words = studio.ok(&["quote", "--size", "2x1m", "--wage", "20"]);
    let phone =
        "200 x 100 cm: 57 min to 57 min at the frame, 19.16 to 19.16 for these hours, 80 times in 100.";
    assert!(words.starts_with(phone), "{words}");
    assert_eq!(studio.json(&["quote", "--size", "2x1m", "--style", "loop", "--json"])["basis"], "none");
}

#[test]
fn what_was_said_of_prices_is_listed_with_the_numbers_to_take_it_back() {
    let studio = empty();
    assert!(studio.ok(&["rate", "history"]).starts_with("Nothing was said of prices yet."));
    studio.ok(&["machine", "add", "Blue"]);
    let set = "rate set --price 300 --resale 100 --life-hours 500 --hour-cost 0.5";
    studio.ok(&set.split(' ').collect::<Vec<_>>());
    studio.ok(&["rate", "wage", "25", "--currency", "EUR"]);
    studio.ok(&["rate", "wage", "250"]);
    studio.ok(&["speed", "cost", "set", "--tear-cost", "40"]);
    studio.ok(&["quote", "sample", "--size", "15x15cm", "--style", "cut", "--run-minutes", "12"]);
    let lines = studio.json(&["rate", "history", "--json"])["entries"].clone();
    let standing = |place: usize| lines[place]["standing"].as_str().unwrap().to_owned();
    let [machine, terms, wage, tear, sample] = [0, 1, 2, 3, 4].map(standing);
    assert_eq!([machine, wage, tear, sample], ["counts"; 4]);
    assert_eq!(terms, "replaced_in_part", "the currency still holds");
    let entry = lines[2]["entry"].as_i64().unwrap().to_string();
    let back = studio.ok(&["rug", "take-back", &entry, "--because", "a nought too many"]);
    assert!(back.starts_with("Taken back: an hour of labour 250.00. It stays visible"), "{back}");
    let told = studio.ok(&["rate", "history"]);
    for words in ["labour 25.00,", "no: taken back", "a tear costs 40.00", "needlehours take-back ENTRY"] {
        assert!(told.contains(words), "{told}");
    }
    assert!(studio.ok(&["rate", "wage"]).contains("25.00 EUR"));
    let tear = lines[3]["entry"].as_i64().unwrap().to_string();
    studio.ok(&["rug", "take-back", &tear]);
}

#[rstest]
#[case(&["quote"], "for what size?")]
#[case(&["quote", "--size", "big"], "the size must be")]
#[case(&["quote", "--size", "-80x120cm"], "the size must be")]
#[case(&["quote", "--size", "0x120cm"], "each side must be 1 mm to 20 m")]
#[case(&["quote", "--size", "80x120cm", "--colours", "0"], "colours must be")]
#[case(&["quote", "--size", "80x120cm", "--colours", "-2"], "the number of colours must be")]
#[case(&["quote", "--size", "80x120cm", "--wage", "-2"], "--wage: -2 is below zero")]
#[case(&["quote", "--size", "80x120cm", "--level", "1"], "a share above 0 and below 1")]
#[case(&["quote", "sample", "--size", "6x6in", "--run-minutes", "0"], "minutes of running must be")]
#[case(&["quote", "sample", "--size", "6x6in", "--run-minutes", "5", "--tufting-minutes", "4"], "no longer than the time at the frame")]
#[case(&["quote", "sample", "--size", "6x6in", "--run-minutes", "5", "--strokes", "1.5"], "strokes must be")]
fn a_quote_that_cannot_be_is_refused(#[case] arguments: &[&str], #[case] words: &str) {
    expect_refused(&empty(), arguments, words);
}

/// IEC 60050-192 and EN 13306 keep a failure (an event) from a fault (a state) and operating time from idle and down time; the
/// trade says run time. What standards call so and what only the program's insides know stays off the screen.
#[test]
fn the_screen_speaks_the_trades_words() {
    let studio = busy_studio();
    studio.ok(&["exposure", "set", "--vibration", "4"]);
    table(&studio, "a_hv_m_s2,minutes\n6,60\n");
    for arguments in [
        vec!["heavy", "--limits"],
        vec!["exposure"],
        vec!["exposure", "--table", "day.csv"],
        vec!["quote", "--size", "80x120cm"],
        vec!["rate", "--price", "300", "--resale", "0", "--life-hours", "500"],
    ] {
        let words = studio.ok(&arguments).to_lowercase();
        for jargon in [
            "failure",
            "downtime",
            "down time",
            "efficiency",
            "stitch",
            "boot",
            "anchor",
            "per mille",
            "log-normal",
            "edge",
        ] {
            let is_said = words
                .split(|letter: char| !letter.is_alphabetic() && letter != '-')
                .any(|word| word == jargon);
            let is_phrase = jargon.contains(' ') && words.contains(jargon);
            assert!(!is_said && !is_phrase, "{jargon}: {words}");
        }
    }
}

#[test]
fn every_new_entry_comes_back_from_the_database_as_it_was_given() {
    let studio = empty();
    let machine = MachineTag(3);
    let given = [
        EntryBody::MachineCosts(MachineCosts {
            machine,
            basis: CostBasis {
                price: Money(300_000_001),
                resale: Money(0),
                life_hours: Hours::new(500.1).unwrap(),
                period_hours: Hours::new(60.0),
                period_costs: vec![Money(1), Money(2)],
                hour_costs: vec![],
            },
        }),
        EntryBody::VibrationFigure(VibrationFigure {
            machine,
            a_hv_mm_s2: 4_321,
            source: FigureSource::Measured,
        }),
        EntryBody::DutyRated(DutyRated { machine, rating: Some(DutyRating::S1) }),
        EntryBody::DutyRated(DutyRated { machine, rating: Some(DutyRating::S2 { minutes: 60 }) }),
        EntryBody::DutyRated(DutyRated {
            machine,
            rating: Some(DutyRating::S3 { percent: 25, cycle_minutes: Some(20) }),
        }),
        EntryBody::DutyRated(DutyRated { machine, rating: None }),
        EntryBody::HeavyLimitSet(HeavyLimitSet { machine, limit: HeavyLimit::DayHours, thousandths: 4_500 }),
        EntryBody::SampleSquare(SampleSquare {
            style: Some(Style::Loop),
            width_mm: 152,
            height_mm: 152,
            run: RunMillis(240_000),
            strokes: Some(3_000),
            tufting_ms: None,
            at: UtcMillis(MONDAY_8),
        }),
    ];
    let mut database = studio.database();
    for body in &given {
        database.add_entry(UtcMillis(MONDAY_8), body).unwrap();
    }
    let back: Vec<EntryBody> =
        database.entries().unwrap().with_withdrawn().to_vec().into_iter().map(|entry| entry.body).collect();
    assert_eq!(back, given);
}
