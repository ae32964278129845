//! A quote as a page and as a table.
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
use shared_types::{Totals, UtcMillis};

/// 2025-03-03T08:00:00Z, a Monday: 20,150 days after 1970-01-01, and eight hours.
const MONDAY_8: i64 = 20_150 * 86_400_000 + 8 * 3_600_000;

/// Four finished rugs of 40 x 25 cm, ten minutes of running each in twenty at the frame, 10,000 strokes.
fn a_history(currency: &str) -> Studio {
    let studio = Studio::empty();
    studio.ok(&["machine", "add", "Blue"]);
    let mut records = vec![reading(1, MONDAY_8)];
    for (rug, minute) in [("Owl", 0), ("Hen", 60), ("Cat", 120), ("Dog", 180)] {
        let clock = |minute: u64| format!("2025-03-03 {:02}:{:02}", 8 + minute / 60, minute % 60);
        studio.ok(&["rug", "new", rug, "--size", "40x25cm"]);
        studio.ok(&["rug", "start", rug, "--when", &clock(minute)]);
        records.push(running(1, minute, 300_000, 5_000, 1200));
        records.push(running(1, minute + 15, 300_000, 5_000, 1200));
        studio.ok(&["rug", "finish", rug, "--when", &clock(minute + 60)]);
    }
    studio.pulled_with_loss(UtcMillis(MONDAY_8 + 4 * 86_400_000), &records, Totals::default());
    studio.ok(&["machine", "fit"]);
    studio.ok(&["rate", "wage", "30", &format!("--currency={currency}")]);
    studio
}

fn file(studio: &Studio, name: &str) -> String {
    std::fs::read_to_string(studio.path().with_file_name(name)).unwrap()
}

#[test]
fn a_quote_has_a_page_that_stands_alone_with_range_basis_currency_and_rounding() {
    let studio = a_history("<b>EUR</b>");
    let told = studio.ok(&["quote", "--size", "80x50cm", "--colours", "3", "--html", "quote.html"]);
    assert!(told.contains("Written: quote.html"), "{told}");
    let page = file(&studio, "quote.html");
    assert!(page.starts_with("<!DOCTYPE html>") && page.trim_end().ends_with("</html>"));
    for words in [
        "80 x 50 cm (0.40 m²)",
        // By hand: four times the area of rugs that took 20 min at the frame and 10,000 strokes.
        "1 h 20 min",
        "40,000",
        // 80 minutes at 30 an hour.
        "40.00",
        "4 finished rugs",
        "about 80 times in 100",
        "&#60;b&#62;EUR&#60;/b&#62;",
        "rounded to five minutes",
        "yarn, cloth and glue",
        "size: A4",
    ] {
        assert!(page.contains(words), "{words} is missing in {page}");
    }
    for loaded in ["<img", "<script", "http:", "https:", "url(", "<link", "@import", "<b>"] {
        assert!(!page.contains(loaded), "{loaded} in the page");
    }
}

#[test]
fn the_table_of_a_quote_holds_plain_numbers_and_no_formula() {
    let studio = a_history("=HYPERLINK(1)");
    studio.ok(&["quote", "--size", "80x50cm", "--csv", "quote.csv"]);
    let text = file(&studio, "quote.csv");
    let mut table = csv::Reader::from_reader(text.as_bytes());
    let heads: Vec<String> = table.headers().unwrap().iter().map(str::to_owned).collect();
    assert_eq!(heads, ["what", "about", "from", "to", "unit", "note"]);
    let rows: Vec<csv::StringRecord> = table.records().map(Result::unwrap).collect();
    for cell in rows.iter().flat_map(csv::StringRecord::iter) {
        assert!(!cell.starts_with(['=', '+', '-', '@', '\t', '\r']), "{cell} is a formula");
    }
    let of = |what: &str| rows.iter().find(|row| &row[0] == what).unwrap_or_else(|| panic!("{what}")).clone();
    assert_eq!(&of("width")[1], "80.0");
    let hours = of("hours at the frame");
    let numbers: Vec<f64> = (1..4).map(|place| hours[place].parse().unwrap()).collect();
    assert!((numbers[0] - 4.0 / 3.0).abs() < 1e-4, "{numbers:?}");
    assert!(numbers[1] <= numbers[0] && numbers[0] <= numbers[2], "{numbers:?}");
    assert_eq!((&of("cost of these hours")[1], &of("cost of these hours")[4]), ("40.00", "'=HYPERLINK(1)"));
    assert_eq!(&of("how sure the range is")[1], "0.8");
}

#[test]
fn where_nothing_can_be_told_no_sheet_is_written() {
    let studio = Studio::empty();
    studio.ok(&["machine", "add", "Blue"]);
    let told = studio.ok(&["quote", "--size", "80x50cm", "--html", "quote.html", "--csv", "quote.csv"]);
    assert!(told.contains("Cannot tell yet") && told.contains("No sheet was written"), "{told}");
    assert!(!studio.path().with_file_name("quote.html").exists());
    let away = studio.path().with_file_name("nowhere").join("x.html");
    let studio = a_history("EUR");
    let told = studio.ask(&["quote", "--size", "80x50cm", "--html", away.to_str().unwrap()]);
    assert_eq!(told.code(), 6);
}

#[test]
fn explained_progress_tells_how_its_ranges_come_about() {
    let studio = a_history("EUR");
    studio.ok(&["rug", "new", "Fox", "--size", "40x25cm"]);
    studio.ok(&["rug", "start", "Fox"]);
    let told = studio.ok(&["rug", "progress", "--explain"]);
    assert!(told.starts_with("Fox: about ") && told.contains("log-normal from rug to rug"), "{told}");
}

#[test]
fn prices_wages_and_samples_tell_how_they_are_taken_back() {
    let studio = Studio::empty();
    studio.ok(&["machine", "add", "Blue"]);
    for line in [
        "rate set --price 300 --resale 100 --life-hours 500",
        "rate wage 30 --currency EUR",
        "quote sample --size 6x6in --run-minutes 5",
    ] {
        let told = studio.ok(&line.split(' ').collect::<Vec<_>>());
        let entry = told.trim().rsplit(' ').next().unwrap();
        let back = studio.ok(&["rug", "take-back", entry]);
        assert!(back.contains("counts no more"), "{line}: {back}");
    }
    assert!(studio.json(&["rate", "wage", "--json"])["wage_per_hour_millionths"].is_null());
    assert!(studio.ok(&["quote", "--size", "80x50cm"]).contains("Cannot tell yet"));
    assert!(!studio.ok(&["rate", "wage"]).contains("take-back"), "nothing was kept");
}

#[test]
fn with_several_machines_a_quote_says_that_one_must_be_named_to_be_priced() {
    let studio = a_history("EUR");
    studio.ok(&["machine", "add", "Second"]);
    studio.ok(&["rate", "set", "--machine=1", "--price=600", "--resale=100", "--life-hours=1000"]);
    let said = studio.ok(&["quote", "--size", "80x50cm"]);
    assert!(said.contains("--machine says which one") && !said.contains("rate set"), "{said}");
    let said = studio.ok(&["quote", "--size", "80x50cm", "--machine", "1"]);
    assert!(said.contains("machine hours and hours at the frame"), "{said}");
}
