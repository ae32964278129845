//! A quote as a page that prints well, and as a table for a spreadsheet.

use jiff::tz::TimeZone;
use shared_types::UtcMillis;

use super::quote;
use super::rug_book::style;
use super::sheet::page::{A4, facts, heading, page, section};
use super::sheet::table::safe;
use crate::app::rugs::quote::QuoteAnswer;
use crate::view::money;
use crate::view::words::html::{add, escaped};
use crate::view::words::{capital, clock, currency, size};
use host_core::rugs::quote::{Basis, Quote};
use host_core::stats::Estimate;

/// How the numbers of a quote are rounded.
const ROUNDING: &str =
    "Hours are rounded to five minutes, strokes to two figures, amounts to hundredths of the currency.";

/// The page. There is none where nothing can be told.
#[must_use]
pub fn html(answer: &QuoteAnswer, now: UtcMillis, zone: &TimeZone) -> Option<String> {
    let quote = told(answer)?;
    let mut body = String::new();
    let title = size(quote.width_mm, quote.height_mm);
    heading(&mut body, &title, "Quote");
    facts(&mut body, &asked(quote));
    add(&mut body, format_args!("<p><strong>{}</strong></p>", escaped(&quote::phone(answer))));
    let notes = notes(answer);
    let heads = ["it will take", "about", "from", "to"];
    section(&mut body, "What it will take", heads, &[1, 2, 3], &quote::rows(quote), None, &notes);
    let prices = prices(quote);
    if !prices.is_empty() {
        let money = format!("All amounts in {}.", currency(answer.currency.as_deref()));
        section(&mut body, "Prices of an hour", ["what", "an hour"], &[1], &prices, None, &[money]);
    }
    let footer = format!("Written {} from what the logger counted and what was entered.", clock(now, zone));
    add(&mut body, format_args!("<footer class=\"small\">{}</footer>", escaped(&footer)));
    Some(page(&format!("{title}, quote"), A4, &body))
}

fn told(answer: &QuoteAnswer) -> Option<&Quote> {
    Some(&answer.quote).filter(|quote| quote.basis != Basis::None)
}

fn asked(quote: &Quote) -> Vec<(&'static str, String)> {
    let mut facts =
        vec![("size", format!("{} ({:.2} m²)", size(quote.width_mm, quote.height_mm), quote.area_m2))];
    facts.extend(quote.style.map(|said| ("pile", style(said).to_owned())));
    facts.extend(quote.colours.map(|colours| ("colours", colours.to_string())));
    facts
}

fn prices(quote: &Quote) -> Vec<[String; 2]> {
    let both = [("machine running", quote.machine_hour_rate), ("at the frame", quote.tufting_hour_wage)];
    both.into_iter().filter_map(|(what, price)| Some([what.to_owned(), money::money(price?)])).collect()
}

/// From what it follows, what it leaves out, and how it is rounded.
fn notes(answer: &QuoteAnswer) -> Vec<String> {
    let text = format!("{}{}\n{ROUNDING}", quote::basis(answer), quote::left_out(answer));
    text.lines().filter(|line| !line.is_empty()).map(capital).collect()
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
    let money = currency(answer.currency.as_deref());
    let mut rows = csv::Writer::from_writer(Vec::new());
    rows.write_record(COLUMNS)?;
    for (what, mm) in [("width", quote.width_mm), ("height", quote.height_mm)] {
        let cm = format!("{}.{}", mm / 10, mm % 10);
        rows.write_record([what, cm.as_str(), "", "", "cm", ""])?;
    }
    rows.write_record(["pile", quote.style.map_or("any", style), "", "", "", ""])?;
    if let Some(colours) = quote.colours {
        rows.write_record(["colours", &*colours.to_string(), "", "", "colours", ""])?;
    }
    let cell = |value: Option<f64>, places: usize| {
        value.map_or_else(String::new, |value| format!("{value:.places$}"))
    };
    let mut estimate = |what: &str, of: Estimate, places: usize, unit: &str| {
        let cells = [of.estimate, of.low, of.high].map(|value| cell(value, places));
        let [about, from, to] = &cells;
        let is_known = of.estimate.is_some();
        if is_known { rows.write_record([what, about, from, to, &*safe(unit), ""]) } else { Ok(()) }
    };
    estimate("machine hours", quote.run_hours, 4, "h")?;
    estimate("hours at the frame", quote.tufting_hours, 4, "h")?;
    estimate("strokes", quote.strokes, 0, "strokes")?;
    estimate("cost of these hours", quote.cost, 2, money)?;
    let price = |price: Option<f64>| Estimate { estimate: price, low: None, high: None };
    let an_hour = format!("{money} an hour");
    estimate("price of machine running", price(quote.machine_hour_rate), 4, &an_hour)?;
    estimate("price at the frame", price(quote.tufting_hour_wage), 4, &an_hour)?;
    let level = quote.level.map_or_else(String::new, |level| level.to_string());
    let notes = format!("{}{}", quote::basis(answer), quote::left_out(answer)).replace('\n', " ");
    rows.write_record(["how sure the range is", level.as_str(), "", "", "share", &*safe(&notes)])?;
    let bytes = rows.into_inner().map_err(|error| error.into_error())?;
    Ok(Some(String::from_utf8_lossy(&bytes).into_owned()))
}
