//! Commissions from order to delivery, their sheet and card, how far along they are, and the pictures, as the maker types
//! them.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::panic,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a test may stop at the first surprise"
)]

use crate::bench_studio::{LOG, Studio, reading, running};
use host_core::entries::{EntryBody, Fitting};
use rstest::rstest;
use shared_types::{MachineTag, RecordSeq, Totals, UtcMillis};

/// 2025-03-03T08:00:00Z, a Monday: 20,150 days after 1970-01-01, and eight hours.
const MONDAY_8: i64 = 20_150 * 86_400_000 + 8 * 3_600_000;
const FRIDAY_8: UtcMillis = UtcMillis(MONDAY_8 + 4 * 86_400_000);

/// Refused with exit code 6, nothing on standard output, and words that name the trouble.
#[track_caller]
fn expect_refused(studio: &Studio, arguments: &[&str], words: &str) {
    let told = studio.ask(arguments);
    assert_eq!((told.code(), told.out().as_str()), (6, ""), "{arguments:?}: {told:?}");
    assert!(told.err_words().contains(words), "{arguments:?}: {}", told.err_words());
}

/// One machine and Fox, 80 x 120 cm, on the frame on Monday from eight to noon in UTC. In that time one session: 10 min of
/// running from eight on, 20 min from 08:15 on, ended 08:35. 12,000 and 24,000 strokes. At 13:00 five minutes for nobody.
fn a_studio() -> Studio {
    let studio = Studio::empty();
    studio.ok(&["machine", "add", "Blue"]);
    studio.ok(&[
        "rug", "new", "Fox", "--size", "80x120cm", "--style", "cut", "--pile", "12mm", "--cloth", "roll 3",
    ]);
    studio.ok(&["rug", "start", "Fox", "--when", "2025-03-03 08:00"]);
    studio.ok(&["rug", "pause", "Fox", "--when", "2025-03-03 12:00"]);
    let records = [
        reading(1, MONDAY_8),
        running(1, 0, 600_000, 12_000, 1200),
        running(1, 15, 1_200_000, 24_000, 2900),
        running(1, 300, 300_000, 6_000, 2100),
    ];
    studio.pulled_with_loss(FRIDAY_8, &records, Totals::default());
    studio.ok(&["machine", "fit"]);
    studio
}

#[test]
fn a_commission_goes_from_order_to_delivery_in_that_order_only() {
    let studio = Studio::empty();
    studio.ok(&["machine", "add", "Blue"]);
    studio.ok(&["rug", "new", "Fox"]);
    expect_refused(&studio, &["rug", "finish", "Fox"], "Fox was never started");
    expect_refused(&studio, &["rug", "deliver", "Fox"], "Fox was never started");
    studio.ok(&["rug", "start", "Fox", "--when", "2025-03-03 10:00"]);
    expect_refused(&studio, &["rug", "finish", "Fox", "--when", "2025-03-03 09:00"], "started only later");
    expect_refused(&studio, &["rug", "deliver", "Fox", "--when", "2025-03-05"], "not finished yet");
    studio.ok(&["rug", "finish", "Fox", "--when", "2025-03-04 10:00"]);
    expect_refused(&studio, &["rug", "deliver", "Fox", "--when", "2025-03-04 09:00"], "finished only later");
    studio.ok(&["rug", "deliver", "Fox", "--when", "2025-03-06"]);
    assert_eq!(studio.json(&["rug", "list", "--json"])["rugs"][0]["state"], "delivered");
    expect_refused(&studio, &["rug", "deliver", "Fox", "--when", "2025-03-07"], "delivered already");
    let back = studio.ok(&["rug", "start", "Fox", "--when", "2025-03-10"]);
    assert!(back.contains("had been finished before"), "{back}");
}

#[test]
fn a_correction_counts_from_then_on_and_what_was_said_before_stays_visible() {
    let studio = a_studio();
    studio.ok(&["rug", "change", "fox", "--size", "90x120cm", "--style", "both", "--colour", "rust"]);
    let sheet = studio.json(&["rug", "sheet", "Fox", "--json"]);
    assert_eq!((&sheet["width_mm"], &sheet["height_mm"]), (&900.into(), &1_200.into()));
    assert_eq!((&sheet["style"], &sheet["pile_height_tenths_mm"]), (&"both".into(), &120.into()));
    assert_eq!((&sheet["colours"], &sheet["cloth_lot"]), (&serde_json::json!(["rust"]), &"roll 3".into()));
    let history = studio.json(&["rug", "history", "Fox", "--json"]);
    let lines = history["entries"].as_array().unwrap();
    let of = |kind: &str| -> Vec<(String, String)> {
        let of_kind = lines.iter().filter(|line| line["says"]["kind"] == kind);
        of_kind.map(|line| (line["says"]["width_mm"].to_string(), line["standing"].to_string())).collect()
    };
    let pair = |width: &str, standing: &str| (width.to_owned(), format!("\"{standing}\""));
    assert_eq!(of("rug_ordered"), [pair("800", "replaced"), pair("900", "counts")]);
    assert!(studio.ok(&["rug", "history", "Fox"]).contains("no: said anew later"));
    expect_refused(&studio, &["rug", "change", "Fox"], "nothing was said to be changed");
}

#[test]
fn an_entry_taken_back_counts_no_more_and_stays_visible_with_its_reason() {
    let studio = a_studio();
    studio.ok(&["rug", "material", "Fox", "yarn", "23.50"]);
    let history = studio.json(&["rug", "history", "Fox", "--json"]);
    let entry = history["entries"].as_array().unwrap().last().unwrap()["entry"].to_string();
    studio.ok(&["rug", "take-back", &entry, "--because", "of another rug"]);
    assert_eq!(studio.json(&["rug", "sheet", "Fox", "--json"])["bill"]["total_cents"], 0);
    let after = studio.json(&["rug", "history", "Fox", "--json"]);
    let standing = &after["entries"].as_array().unwrap().last().unwrap()["standing"];
    assert_eq!(standing["taken_back"]["reason"], "of another rug");
    assert!(studio.ok(&["rug", "history", "Fox"]).contains("no: taken back"));
    expect_refused(&studio, &["rug", "take-back", &entry], "was taken back already, ");
    expect_refused(&studio, &["rug", "take-back", "99999"], "none that can be taken back here");
    expect_refused(&studio, &["rug", "take-back", "1"], "none that can be taken back here");
}

#[rstest]
#[case::no_side(&["rug", "new", "Owl", "--size", "0x5cm"], "each side of the rug must be")]
#[case::flat_pile(&["rug", "new", "Owl", "--pile", "0mm"], "the pile height must be")]
#[case::pile_below_zero(&["rug", "new", "Owl", "--pile", "-3mm"], "the pile height must be")]
#[case::no_colour(&["rug", "new", "Owl", "--colour", " "], "a colour must be")]
#[case::no_such_rug(&["rug", "sheet", "Foxx"], "there is no rug called Foxx")]
#[case::yarn_below_zero(&["rug", "yarn", "Fox", "red", "--out", "-5g"], "the weight must be")]
#[case::yarn_of_nothing(&["rug", "yarn", "Fox", "red", "--out", "0"], "the weight must be above nothing")]
#[case::yarn_never_taken(&["rug", "yarn", "Fox", "red", "--back", "5g"], "more red than Fox has: 0 g")]
#[case::price_below_zero(&["rug", "material", "Fox", "glue", "-5"], "-5 is below zero")]
#[case::no_time(&["job", "add", "gluing", "0"], "the time must be")]
#[case::time_below_zero(&["job", "add", "gluing", "-5min"], "the time must be")]
#[case::too_long(&["job", "add", "gluing", "25h"], "up to 24 h")]
#[case::nothing_runs(&["job", "stop"], "no such timer is running")]
#[case::no_rug_for_it(&["job", "start", "gluing", "--rug", "Hen"], "there is no rug called Hen")]
#[case::no_wage(&["rate", "wage", "cheap"], "\"cheap\" is not an amount")]
fn what_cannot_be_is_refused_and_nothing_is_written(#[case] arguments: &[&str], #[case] words: &str) {
    let studio = a_studio();
    let before = studio.entries().len();
    expect_refused(&studio, arguments, words);
    assert_eq!(studio.entries().len(), before);
}

#[test]
fn the_three_clocks_stand_apart_on_the_sheet_and_its_lines_add_up() {
    let studio = a_studio();
    studio.ok(&["rate", "set", "--price", "300", "--resale", "100", "--life-hours", "500"]);
    studio.ok(&["rate", "wage", "24", "--currency", "EUR"]);
    studio.ok(&["job", "add", "gluing", "40min", "--rug", "Fox", "--when", "2025-03-04"]);
    studio.ok(&["job", "add", "drying", "20h", "--rug", "Fox", "--when", "2025-03-04"]);
    studio.ok(&["rug", "material", "Fox", "yarn", "61.405"]);
    let sheet = studio.json(&["rug", "sheet", "Fox", "--json"]);
    let clocks = &sheet["clocks"];
    // By hand: 30 min of running in 35 at the frame; 40 of gluing make 75 of labour; 1,200 of waiting apart.
    assert_eq!((&clocks["run_assumed_ms"], &clocks["run_confirmed_ms"]), (&1_800_000.into(), &0.into()));
    assert_eq!((&clocks["tufting_assumed_ms"], &clocks["job_ms"]), (&2_100_000.into(), &2_400_000.into()));
    assert_eq!((&clocks["labour_ms"], &clocks["waiting_ms"]), (&4_500_000.into(), &72_000_000.into()));
    assert_eq!((&sheet["strokes"], &sheet["sessions"]), (&36_000.into(), &1.into()));
    // By hand: half an hour at 0.40 is 0.20; 35 min at 24 are 14.00; 40 min are 16.00; the yarn is rounded up to 61.41.
    let cents: Vec<i64> = sheet["bill"]["lines"]
        .as_array()
        .unwrap()
        .iter()
        .map(|line| line["amount_cents"].as_i64().unwrap())
        .collect();
    assert_eq!(cents, [20, 1_400, 1_600, 6_141]);
    assert_eq!((&sheet["bill"]["total_cents"], &sheet["bill"]["currency"]), (&9_161.into(), &"EUR".into()));

    studio.ok(&["rug", "confirm", "Fox"]);
    let confirmed = studio.json(&["rug", "sheet", "Fox", "--json"]);
    assert_eq!(confirmed["clocks"]["run_confirmed_ms"], 1_800_000);
    assert_eq!(confirmed["clocks"]["run_assumed_ms"], 0);
    let text = studio.ok(&["rug", "sheet", "Fox"]);
    for words in ["machine running, confirmed", "waiting, no labour", "Labour: 1 h 15 min", "91.61", "EUR"] {
        assert!(text.contains(words), "{words} is missing in {text}");
    }
    for word in ["boot", "anchor", "mille", "burst", "dispersion"] {
        assert!(!text.to_lowercase().contains(word), "{word} is no word for the maker: {text}");
    }
}

#[test]
fn the_clients_card_has_size_strokes_and_care_but_no_hours_and_no_cost() {
    let studio = a_studio();
    studio.ok(&["rate", "wage", "24", "--currency", "EUR"]);
    let card = studio.json(&["rug", "card", "Fox", "--json"]);
    assert_eq!(
        (&card["strokes"], &card["sessions"], &card["style"]),
        (&36_000.into(), &1.into(), &"cut".into())
    );
    let keys: Vec<&String> = card.as_object().unwrap().keys().collect();
    for word in ["run", "hour", "_ms", "clock", "bill", "cost", "machine"] {
        assert!(!keys.iter().any(|key| key.contains(word) && *key != "ordered_utc_ms"), "{word} in {keys:?}");
    }
    studio.ok(&["rug", "card", "Fox", "--html", "card.html"]);
    let page = std::fs::read_to_string(studio.path().with_file_name("card.html")).unwrap();
    for words in ["80 x 120 cm", "36,000 strokes", "Care of the rug", "size: A5"] {
        assert!(page.contains(words), "{words} is missing");
    }
    for words in ["EUR", "hour", " min", "running", "roll 3"] {
        assert!(!page.contains(words), "{words} is none of the client's business");
    }
}

#[test]
fn the_page_stands_alone_and_what_the_maker_wrote_does_not_break_it() {
    let studio = a_studio();
    studio.ok(&["rug", "material", "Fox", "<img src=x onerror=alert(1)> & \"yarn\"", "3"]);
    studio.ok(&["rug", "sheet", "Fox", "--html", "sheet.html"]);
    let page = std::fs::read_to_string(studio.path().with_file_name("sheet.html")).unwrap();
    assert!(page.starts_with("<!DOCTYPE html>") && page.trim_end().ends_with("</html>"));
    assert!(page.contains("&#60;img src=x onerror=alert(1)&#62; &#38; &#34;yarn&#34;"));
    for loaded in ["<img", "<script", "http:", "https:", "url(", "<link", "@import"] {
        assert!(!page.contains(loaded), "{loaded} in the page");
    }
    assert!(page.contains("size: A4"));
}

#[test]
fn the_table_holds_no_formula_and_its_numbers_stay_numbers() {
    let studio = a_studio();
    studio.ok(&["rug", "change", "Fox", "--cloth", "=HYPERLINK(\"x\")", "--colour", "@red"]);
    for (what, amount) in [("+49 glue", "1.10"), ("-cloth", "2"), ("plain, with comma", "3")] {
        studio.ok(&["rug", "material", "Fox", "--when", "2025-03-04", "--", what, amount]);
    }
    studio.ok(&["rug", "sheet", "Fox", "--csv", "sheet.csv"]);
    let text = std::fs::read_to_string(studio.path().with_file_name("sheet.csv")).unwrap();
    let mut table = csv::Reader::from_reader(text.as_bytes());
    let rows: Vec<csv::StringRecord> = table.records().map(Result::unwrap).collect();
    for cell in rows.iter().flat_map(csv::StringRecord::iter) {
        let is_number = cell.parse::<f64>().is_ok();
        assert!(is_number || !cell.starts_with(['=', '+', '-', '@', '\t', '\r']), "{cell} is a formula");
    }
    let value = |what: &str| rows.iter().find(|row| &row[1] == what).map(|row| row[2].to_owned());
    assert_eq!(value("cloth").as_deref(), Some("'=HYPERLINK(\"x\")"));
    assert_eq!(value("'+49 glue").as_deref(), Some("1.10"));
    assert_eq!(value("machine running, assumed").as_deref(), Some("30.00000"));
    assert_eq!(value("together").as_deref(), Some("6.10"));
}

#[test]
fn the_list_shows_how_much_was_typed_in_where_anything_was() {
    let studio = a_studio();
    assert!(!studio.ok(&["rug", "list"]).contains("typed in"));
    studio.ok(&["hours", "add", "--run-minutes", "40", "--rug", "Fox"]);
    studio.ok(&["hours", "add", "--tufting-minutes", "90", "--rug", "Fox"]);
    let list = studio.ok(&["rug", "list"]);
    let fox = list.lines().find(|line| line.starts_with("Fox")).unwrap();
    assert!(
        // 30 min counted; typed in 40 min, and of 90 min at the frame 27 of 60: 40.5 min.
        list.contains("typed in") && fox.contains("1 h 51 min") && fox.trim_end().ends_with("1 h 21 min"),
        "{list}"
    );
    assert_eq!(
        studio.json(&["rug", "list", "--json"])["rugs"][0]["by_hand_run_time_ms"],
        2_400_000 + 2_430_000
    );
}

#[test]
fn hands_do_one_thing_at_a_time_and_a_forgotten_timer_is_asked_about() {
    let studio = a_studio();
    studio.ok(&["job", "start", "gluing", "--rug", "Fox", "--when", "2025-03-04 10:00"]);
    expect_refused(
        &studio,
        &["job", "start", "shearing", "--rug", "Fox"],
        "timer for gluing Fox is still running",
    );
    studio.ok(&["job", "start", "drying", "--rug", "Fox", "--when", "2025-03-04 11:00"]);
    expect_refused(&studio, &["job", "stop"], "2 timers are running");
    expect_refused(&studio, &["job", "stop", "gluing"], "more than 4 h is not believed without a question");
    expect_refused(&studio, &["job", "stop", "gluing", "--when", "2025-03-04 09:00"], "started only later");
    let list = studio.json(&["job", "--json"]);
    let forgotten: Vec<_> = list["running"]
        .as_array()
        .unwrap()
        .iter()
        .map(|timer| timer["is_probably_forgotten"].clone())
        .collect();
    assert_eq!(forgotten, [true, true]);
    assert!(studio.ok(&["job"]).contains("was it forgotten?"));
    assert!(studio.ok(&["rug", "sheet", "Fox"]).contains("not counted until it is stopped"));
    studio.ok(&["job", "stop", "gluing", "--after", "45min"]);
    studio.ok(&["job", "stop", "--when", "2025-03-05 11:00"]);
    let clocks = &studio.json(&["rug", "sheet", "Fox", "--json"])["clocks"];
    assert_eq!((&clocks["job_ms"], &clocks["waiting_ms"]), (&2_700_000.into(), &86_400_000.into()));
    assert_eq!(clocks["running"], serde_json::json!([]));
}

#[test]
fn a_timer_over_a_clock_change_counts_what_really_passed() {
    // In Berlin clocks go forward at 02:00 on 30 March 2025 and back at 03:00 on 26 October 2025 (Directive 2000/84/EC).
    for (from, to, hours) in
        [("2025-03-30 01:00", "2025-03-30 04:00", 2), ("2025-10-26 01:00", "2025-10-26 04:00", 4)]
    {
        let studio = Studio::empty_in("Europe/Berlin");
        studio.ok(&["rug", "new", "Fox"]);
        studio.ok(&["job", "start", "shearing", "--rug", "Fox", "--when", from]);
        studio.ok(&["job", "stop", "--when", to]);
        let list = studio.json(&["job", "--json"]);
        assert_eq!(list["labour_ms"], hours * 3_600_000, "{from}");
    }
}

#[test]
fn stages_take_the_running_of_their_time() {
    let studio = a_studio();
    studio.ok(&["rug", "stage", "Fox", "outline", "--when", "2025-03-03 07:00"]);
    studio.ok(&["rug", "stage", "Fox", "fill", "--when", "2025-03-03 08:12"]);
    let stages = studio.json(&["rug", "sheet", "Fox", "--json"])["stages"].clone();
    let told: Vec<_> = stages
        .as_array()
        .unwrap()
        .iter()
        .map(|stage| (stage["stage"].as_str().unwrap().to_owned(), stage["run_time_ms"].as_u64().unwrap()))
        .collect();
    assert_eq!(told, [("outline".to_owned(), 600_000), ("fill".to_owned(), 1_200_000)]);
}

#[test]
fn two_rugs_on_one_machine_at_a_time_are_told_about_even_when_the_start_is_entered_late() {
    let studio = a_studio();
    studio.ok(&["rug", "new", "Owl"]);
    let told = studio.ok(&["rug", "start", "Owl", "--when", "2025-03-03 06:00"]);
    assert!(told.contains("Fox is on the frame too"), "{told}");
    assert!(told.contains("counted to none of them until you say whose it was"), "{told}");
    // On a machine of its own it is in nobody's way.
    studio.ok(&["machine", "add", "Red"]);
    for rug in ["Hen", "Cat"] {
        studio.ok(&["rug", "new", rug]);
    }
    studio.ok(&["rug", "pause", "Owl", "--when", "2025-03-03 13:00"]);
    studio.ok(&["rug", "start", "Hen", "--machine", "1", "--when", "2025-03-03 14:00"]);
    let other = studio.ok(&["rug", "start", "Cat", "--machine", "2", "--when", "2025-03-03 14:00"]);
    assert!(!other.contains("on the frame too"), "{other}");
}

#[test]
fn one_rug_can_be_on_two_machines_and_rests_only_when_it_rests_on_both() {
    let studio = a_studio();
    studio.ok(&["machine", "add", "Red"]);
    studio.ok(&["rug", "new", "Hen"]);
    studio.ok(&["rug", "start", "Hen", "--machine", "1", "--when", "2025-03-03 14:00"]);
    studio.ok(&["rug", "start", "Hen", "--machine", "2", "--when", "2025-03-03 14:00"]);
    let state = || studio.json(&["rug", "list", "--json"])["rugs"][1]["state"].clone();
    studio.ok(&["rug", "pause", "Hen", "--machine", "1", "--when", "2025-03-03 15:00"]);
    assert_eq!(state(), "on_the_frame");
    studio.ok(&["rug", "pause", "Hen", "--machine", "2", "--when", "2025-03-03 16:00"]);
    assert_eq!(state(), "resting");
}

#[test]
fn two_machines_that_claim_one_logger_are_both_named_and_the_later_entry_counts() {
    let studio = a_studio();
    studio.ok(&["machine", "add", "Red"]);
    for machine in [1, 2] {
        studio.tell(EntryBody::LoggerFitted(Fitting {
            machine: MachineTag(machine),
            logger: LOG.logger,
            log: LOG.log,
            from: RecordSeq(0),
        }));
    }
    let conflicts = studio.json(&["hours", "--json"])["fitting_conflicts"].clone();
    assert_eq!((&conflicts[0]["kept"], &conflicts[0]["dropped"]), (&2.into(), &1.into()));
    assert!(studio.ok(&["hours"]).contains("machine 1 and machine 2 both claim the logger"));
}

/// Four finished rugs of 0.1 square metres each, with 10 min of running in 20 at the frame and so many thousand strokes,
/// then Fox of the same size with five thousand.
fn a_history() -> Studio {
    let studio = Studio::empty();
    studio.ok(&["machine", "add", "Blue"]);
    let mut records = vec![reading(1, MONDAY_8)];
    let rugs = [("One", 9), ("Two", 10), ("Three", 10), ("Four", 11), ("Fox", 5)];
    for (place, (name, thousands)) in (0_u64..).zip(rugs) {
        let minute = place * 120;
        let clock = |minute: u64| format!("2025-03-03 {:02}:{:02}", 8 + minute / 60, minute % 60);
        studio.ok(&["rug", "new", name, "--size", "40x25cm"]);
        studio.ok(&["rug", "start", name, "--when", &clock(minute)]);
        records.push(running(1, minute, 300_000, thousands * 500, 1200));
        records.push(running(1, minute + 15, 300_000, thousands * 500, 1200));
        if name != "Fox" {
            studio.ok(&["rug", "finish", name, "--when", &clock(minute + 60)]);
        }
    }
    studio.pulled_with_loss(FRIDAY_8, &records, Totals::default());
    studio.ok(&["machine", "fit"]);
    studio
}

#[test]
fn how_far_along_a_rug_is_follows_from_the_makers_own_rugs() {
    let studio = a_history();
    let along = studio.json(&["rug", "progress", "Fox", "--json"])["rugs"][0].clone();
    assert_eq!(
        (&along["strokes"], &along["own_rugs"], &along["basis"]),
        (&5_000.into(), &4.into(), &"own_rugs".into())
    );
    let share = along["share_done"]["estimate"].as_f64().unwrap();
    // The geometric mean of 9, 10, 10 and 11 is 9.975; five of it are 0.501. That Fox is above five already moves nothing.
    assert!((share - 0.501).abs() < 0.002, "{share}");
    let text = studio.ok(&["rug", "progress"]);
    assert!(text.starts_with("Fox: about 50 % ("), "{text}");
    assert!(text.contains("left at the frame"), "{text}");
}

#[test]
fn which_colour_runs_out_first_is_told_from_the_scales() {
    let studio = a_history();
    for (colour, left) in [("red", "10g"), ("blue", "80g")] {
        studio.ok(&["rug", "yarn", "Fox", colour, "--out", "100g", "--when", "2025-03-03 15:00"]);
        studio.ok(&["rug", "yarn", "Fox", colour, "--left", left, "--when", "2025-03-03 18:00"]);
    }
    let yarn = studio.json(&["rug", "yarn", "Fox", "--json"]);
    // By hand: red 90 g in 5,000 strokes are 18 g a thousand, 10 g last 556; blue 4 g a thousand, 80 g last 20,000.
    assert_eq!((&yarn["runs_out_first"], &yarn["colours"][1]["lasts"]), (&"red".into(), &"enough".into()));
    let per_1000 = yarn["colours"][0]["grams_per_1000_strokes"].as_f64().unwrap();
    assert!((per_1000 - 18.0).abs() < 1e-9, "{per_1000}");
    assert!(studio.ok(&["rug", "yarn", "Fox"]).contains("red runs out first"));
}

#[test]
fn every_picture_is_written_and_its_numbers_can_be_had() {
    let studio = a_history();
    studio.ok(&["done", "oiling", "--when", "2025-03-03 12:00"]);
    for picture in ["hours", "year", "density", "usage"] {
        let file = format!("{picture}.svg");
        assert!(studio.ok(&["plot", picture]).contains(&format!("Drawn: {file}")));
        let svg = std::fs::read_to_string(studio.path().with_file_name(&file)).unwrap();
        assert!(svg.starts_with("<svg ") && svg.trim_end().ends_with("</svg>"), "{picture}");
    }
    let course = studio.json(&["plot", "hours", "--json"]);
    assert_eq!(course["points"].as_array().unwrap().last().unwrap()["run_time_ms"], 3_000_000);
    // By noon the first two rugs had ten minutes each.
    assert_eq!(course["care"][0]["run_time_ms"], 1_200_000);
    let year = studio.json(&["plot", "year", "--json"]);
    assert_eq!((&year["year"], &year["days"][0]["day"]), (&2025.into(), &"2025-03-03".into()));
    assert_eq!((&year["run_time_ms"], &year["sessions"]), (&3_000_000.into(), &5.into()));
    let density = studio.json(&["plot", "density", "--json"]);
    assert_eq!(density["rugs"][0]["strokes_per_m2"], 90_000.0);
    assert!(studio.ok(&["plot", "year", "--year", "2024"]).contains("Nothing ran in 2024"));
}

#[test]
fn without_records_pictures_and_progress_say_what_to_do() {
    let studio = Studio::empty();
    assert!(studio.ok(&["rug", "progress"]).contains("needlehours rug start"));
    assert!(studio.ok(&["job"]).contains("needlehours job start"));
    assert!(studio.ok(&["plot", "year"]).contains("nothing to draw yet"));
    assert!(studio.ok(&["plot", "density"]).contains("nothing to draw yet"));
    studio.ok(&["machine", "add", "Blue"]);
    assert!(studio.ok(&["plot", "hours"]).contains("nothing to draw yet"));
    studio.ok(&["rug", "new", "Fox", "--size", "80x120"]);
    studio.ok(&["rug", "start", "Fox", "--when", "2025-03-03"]);
    let told = studio.ok(&["rug", "progress", "Fox"]);
    assert!(told.contains("it takes 4 finished rugs of your own") && told.contains("there are 0"), "{told}");
}

#[test]
fn a_kept_wage_prices_the_hours_of_a_quote() {
    let studio = a_history();
    studio.ok(&["rate", "wage", "30"]);
    let kept = studio.json(&["quote", "--size", "40x25cm", "--json"]);
    assert_eq!(kept["tufting_hour_wage"], 30.0);
    assert_eq!(
        studio.json(&["quote", "--size", "40x25cm", "--wage", "20", "--json"])["tufting_hour_wage"],
        20.0
    );
}

#[test]
fn an_explained_quote_tells_its_formula_and_where_it_was_tried() {
    let studio = a_history();
    let told = studio.ok(&["quote", "--size", "40x25cm", "--explain"]);
    assert!(told.contains("sqrt(1 + 1/n)") && told.contains("STATISTICS/rugs.md"), "{told}");
}
