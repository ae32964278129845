//! The sheet of a quote, one line for the phone first; and as comma-separated values.

use jiff::tz::TimeZone;
use shared_types::UtcMillis;

use super::quote;
use super::rug_book::style;
use crate::app::rugs::quote::QuoteAnswer;
use crate::view::money::money;
use crate::view::words::sheet::{Block, Medium, Paper, Section, Sheet, written};
use crate::view::words::table::Column::{Numbers, Words};
use crate::view::words::table::Table;
use crate::view::words::values::{self, safe};
use crate::view::words::{about, currency, size};
use host_core::rugs::quote::{Basis, Quote};
use host_core::stats::Estimate;

/// How the numbers of a quote are rounded.
const ROUNDING: &str =
    "Hours are rounded to five minutes, strokes to two figures, amounts to hundredths of the currency.";

/// The quote. There is none where nothing can be told.
#[must_use]
pub fn sheet(answer: &QuoteAnswer, medium: Medium, now: UtcMillis, zone: &TimeZone) -> Option<Sheet> {
    let quote = told(answer)?;
    let size = size(quote.width_mm, quote.height_mm);
    let phone = Block::Strong(quote::phone(answer));
    let mut notes = quote::notes(answer);
    let (heading, sections) = match medium {
        Medium::Screen => {
            (String::new(), vec![Section::new("", [phone]), Section::of("", takes(quote), notes)])
        }
        Medium::Page => {
            notes.push(ROUNDING.to_owned());
            let asked = Section::new("", [Block::Facts(asked(quote)), phone]);
            let takes = Section::of("What it will take", takes(quote), notes);
            (size.clone(), [asked, takes].into_iter().chain(prices(answer)).collect())
        }
    };
    Some(Sheet {
        title: format!("{size}, quote"),
        heading,
        kind: "Quote",
        paper: Paper::Sheet,
        sections,
        footer: written(now, zone),
    })
}

fn told(answer: &QuoteAnswer) -> Option<&Quote> {
    Some(&answer.quote).filter(|quote| quote.basis != Basis::None)
}

fn prices(answer: &QuoteAnswer) -> Option<Section> {
    let prices = [
        ("machine running", answer.quote.machine_hour_rate),
        ("at the frame", answer.quote.tufting_hour_wage),
    ];
    let mut table = Table::new(&[Words("what"), Numbers("an hour")]);
    for (what, price) in prices.into_iter().filter_map(|(what, price)| Some((what, price?))) {
        table.row([what, &money(price)]);
    }
    let amounts = format!("All amounts in {}.", currency(answer.currency.as_deref()));
    (!table.is_empty()).then(|| Section::of("Prices of an hour", table, [amounts]))
}

fn asked(quote: &Quote) -> Vec<(&'static str, String)> {
    let mut facts =
        vec![("size", format!("{} ({:.2} m²)", size(quote.width_mm, quote.height_mm), quote.area_m2))];
    facts.extend(quote.style.map(|said| ("pile", style(said).to_owned())));
    facts.extend(quote.colours.map(|colours| ("colours", colours.to_string())));
    facts
}

/// What it will take: in words, about, from, to.
fn takes(quote: &Quote) -> Table {
    let mut table = Table::new(&[Words("it will take"), Numbers("about"), Numbers("from"), Numbers("to")]);
    let hours: fn(f64) -> String = |hours| quote::time(hours);
    let all = [
        ("machine hours", quote.run_hours, hours),
        ("hours at the frame", quote.tufting_hours, hours),
        ("strokes", quote.strokes, about),
        ("cost of these hours", quote.cost, money),
    ];
    for (what, of, show) in all {
        let cell = |value: Option<f64>| value.map_or_else(String::new, show);
        if of.estimate.is_some() {
            table.row([what.to_owned(), cell(of.estimate), cell(of.low), cell(of.high)]);
        }
    }
    table
}

/// The columns of the table.
const COLUMNS: [&str; 6] = ["what", "about", "from", "to", "unit", "note"];

/// The table: one fact a row, numbers as plain numbers with their unit beside them. There is none where nothing can be
/// told.
///
/// # Errors
/// When it cannot be written, which it has no reason to.
pub fn csv(answer: &QuoteAnswer) -> Result<Option<String>, csv::Error> {
    let Some(quote) = told(answer) else { return Ok(None) };
    let mut rows = Vec::new();
    let mut fact = |what: &str, [about, from, to]: [String; 3], unit: &str, note: &str| {
        rows.push([what.to_owned(), about, from, to, safe(unit), safe(note)]);
    };
    let only = |value: String| [value, String::new(), String::new()];
    for (what, mm) in [("width", quote.width_mm), ("height", quote.height_mm)] {
        fact(what, only(format!("{}.{}", mm / 10, mm % 10)), "cm", "");
    }
    fact("pile", only(quote.style.map_or("any", style).to_owned()), "", "");
    if let Some(colours) = quote.colours {
        fact("colours", only(colours.to_string()), "colours", "");
    }
    let money = currency(answer.currency.as_deref());
    let an_hour = format!("{money} an hour");
    let price = |price: Option<f64>| Estimate { estimate: price, low: None, high: None };
    for (what, of, places, unit) in [
        ("machine hours", quote.run_hours, 4, "h"),
        ("hours at the frame", quote.tufting_hours, 4, "h"),
        ("strokes", quote.strokes, 0, "strokes"),
        ("cost of these hours", quote.cost, 2, money),
        ("price of machine running", price(quote.machine_hour_rate), 4, &an_hour),
        ("price at the frame", price(quote.tufting_hour_wage), 4, &an_hour),
    ] {
        let cell = |value: Option<f64>| value.map_or_else(String::new, |value| format!("{value:.places$}"));
        if of.estimate.is_some() {
            fact(what, [of.estimate, of.low, of.high].map(cell), unit, "");
        }
    }
    let level = quote.level.map_or_else(String::new, |level| level.to_string());
    fact("how sure the range is", only(level), "share", &quote::notes(answer).join(" "));
    values::csv(COLUMNS, &rows).map(Some)
}
