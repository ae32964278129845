//! The sheet as comma-separated values, for a spreadsheet: one fact a row, numbers as plain numbers with their unit beside
//! them.
//!
//! A text that a spreadsheet could take for a formula gets an apostrophe in front, which spreadsheets show as text. Only
//! text gets it: a number stays a number, below zero too.

use jiff::tz::TimeZone;

use super::{bill_notes, cents, clocks, currency, is_any_priced, item, ordered};
use crate::view::rugs::rug_book::stage_name;
use host_core::rugs::sheet::JobSheet;

/// The columns.
const COLUMNS: [&str; 5] = ["section", "what", "value", "unit", "note"];

/// The table.
///
/// # Errors
/// When it cannot be written, which it has no reason to.
pub fn csv(sheet: &JobSheet, zone: &TimeZone) -> Result<String, csv::Error> {
    let mut rows = Rows(csv::Writer::from_writer(Vec::new()));
    rows.0.write_record(COLUMNS)?;
    rows.text("rug", "name", &sheet.ordered.rug)?;
    for (what, is) in ordered(&sheet.ordered, true, zone) {
        rows.text("rug", what, &is)?;
    }
    rows.number("made", "strokes", sheet.strokes.to_string(), "strokes", "")?;
    rows.number("made", "sessions", sheet.sessions.to_string(), "sessions", "")?;
    rows.number("made", "tears", sheet.harms.tears.to_string(), "tears", "")?;
    rows.number("made", "near-misses", sheet.harms.near_misses.to_string(), "near-misses", "")?;
    for (what, ms, note) in clocks(sheet) {
        rows.number("time", &what, minutes(ms), "minutes", note)?;
    }
    rows.number(
        "time",
        "labour",
        minutes(sheet.clocks.labour_ms),
        "minutes",
        "frame and job, without waiting",
    )?;
    for line in &sheet.machines {
        let name = line.name.clone().unwrap_or_default();
        for (kind, ms) in [("confirmed", line.confirmed_run_time_ms), ("assumed", line.assumed_run_time_ms)] {
            rows.number("machine", &name, minutes(ms), "minutes", kind)?;
        }
    }
    for stage in &sheet.stages {
        let name = stage.stage.map_or("no stage said", stage_name);
        rows.number("stage", name, minutes(stage.run_time_ms), "minutes", "running")?;
        rows.number("stage", name, stage.strokes.to_string(), "strokes", "")?;
    }
    for line in &sheet.yarn.colours {
        let grams = |mg: u64| format!("{}.{:03}", mg / 1_000, mg % 1_000);
        rows.number("yarn", &line.weighed.colour, grams(line.weighed.out_mg), "g", "taken")?;
        rows.number("yarn", &line.weighed.colour, grams(line.weighed.back_mg), "g", "brought back")?;
        if let Some(used) = line.used_mg {
            rows.number("yarn", &line.weighed.colour, grams(used), "g", "used")?;
        }
    }
    for line in &sheet.bill.lines {
        let (amount, note) = match line.amount_cents {
            Some(amount) => (cents(amount), ""),
            None => (String::new(), "no price"),
        };
        rows.number("cost", &item(line), amount, currency(&sheet.bill), note)?;
    }
    let notes = bill_notes(&sheet.bill).join(" ");
    let total = if is_any_priced(&sheet.bill) { cents(sheet.bill.total_cents) } else { String::new() };
    rows.number("cost", "together", total, currency(&sheet.bill), &notes)?;
    rows.finished()
}

/// Milliseconds as minutes, exactly enough to add up again.
fn minutes(ms: u64) -> String {
    let hundred_thousandths = (u128::from(ms) * 10 + 3) / 6;
    format!("{}.{:05}", hundred_thousandths / 100_000, hundred_thousandths % 100_000)
}

struct Rows(csv::Writer<Vec<u8>>);

impl Rows {
    fn text(&mut self, section: &str, what: &str, value: &str) -> Result<(), csv::Error> {
        self.0.write_record([section, &*safe(what), &*safe(value), "", ""])
    }

    fn number(
        &mut self,
        section: &str,
        what: &str,
        value: String,
        unit: &str,
        note: &str,
    ) -> Result<(), csv::Error> {
        self.0.write_record([section, &*safe(what), value.as_str(), &*safe(unit), &*safe(note)])
    }

    fn finished(self) -> Result<String, csv::Error> {
        let bytes = self.0.into_inner().map_err(|error| error.into_error())?;
        Ok(String::from_utf8_lossy(&bytes).into_owned())
    }
}

/// A text that no spreadsheet takes for a formula.
#[must_use]
pub fn safe(text: &str) -> String {
    let is_formula = text.starts_with(['=', '+', '-', '@', '\t', '\r', '\n', '＝', '＋', '－', '＠']);
    if is_formula { format!("'{text}") } else { text.to_owned() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_begins_like_a_formula_is_made_text() {
        let said = ["=1+1", "+49", "-5", "@sum", "\tx", "\rx", "Fox", "a=b", ""].map(safe);
        assert_eq!(said, ["'=1+1", "'+49", "'-5", "'@sum", "'\tx", "'\rx", "Fox", "a=b", ""]);
    }

    #[test]
    fn minutes_are_decimal() {
        assert_eq!(
            [0, 60_000, 90_000, 1, 100].map(minutes),
            ["0.00000", "1.00000", "1.50000", "0.00002", "0.00167"]
        );
    }
}
