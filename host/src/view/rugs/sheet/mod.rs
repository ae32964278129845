//! A commission's sheet for its maker and the card for whoever ordered it.

mod facts;

use jiff::tz::TimeZone;
use shared_types::UtcMillis;

use super::rug_book::stage_name;
use super::{price, progress};
use crate::view::money;
use crate::view::words::sheet::{Block, Medium, Paper, Section, Sheet, written};
use crate::view::words::table::Column::{Numbers, Words};
use crate::view::words::table::{RowKind, Table};
use crate::view::words::{clock, count, run_time, thousands};
pub use facts::csv;
use facts::{bill_notes, cents, clock_notes, clocks, is_any_priced, item, made_by_hand, made_in, ordered};
use host_core::money::Bill;
use host_core::rugs::price::PriceItem;
use host_core::rugs::quoted::QuotedAgainstActual;
use host_core::rugs::sheet::{ClientCard, JobSheet};

/// The sheet for the maker.
#[must_use]
pub fn maker(sheet: &JobSheet, medium: Medium, now: UtcMillis, zone: &TimeZone) -> Sheet {
    let mut sections = ordered_and_made(sheet, medium, zone);
    sections.push(time(sheet, medium, zone));
    sections.extend(machines(sheet, medium));
    sections.extend(stages(sheet, medium));
    sections.extend(yarn(sheet, medium));
    sections.extend(bill(&sheet.bill, &sheet.ordered.rug, medium));
    sections.extend(sheet.quoted.as_ref().map(|quoted| against(quoted, &sheet.bill, medium, zone)));
    Sheet {
        title: format!("{}, job sheet", sheet.ordered.rug),
        heading: sheet.ordered.rug.clone(),
        kind: "Job sheet",
        paper: Paper::Sheet,
        sections,
        footer: written(now, zone),
    }
}

fn ordered_and_made(sheet: &JobSheet, medium: Medium, zone: &TimeZone) -> Vec<Section> {
    let facts = Block::Facts(ordered(&sheet.ordered, true, zone));
    let made = made_in(sheet.strokes, sheet.sessions, sheet.first_day, sheet.last_day);
    let (tears, near_misses) = (sheet.harms.tears, sheet.harms.near_misses);
    if medium == Medium::Page {
        let made = format!("Made: {made}. Tears: {tears}. Near-misses: {near_misses}.");
        return vec![Section::new("", [facts, Block::Text(made)])];
    }
    let mut sections = vec![Section::new("", [facts]), Section::text(format!("Made: {made}."))];
    if tears > 0 || near_misses > 0 {
        let [tears, misses] = [count(tears, "tear", "tears"), count(near_misses, "near-miss", "near-misses")];
        sections.push(Section::text(format!("{tears}; {misses}.")));
    }
    sections
}

fn time(sheet: &JobSheet, medium: Medium, zone: &TimeZone) -> Section {
    let mut table = Table::new(&[
        Words(medium.pick("time", "what")),
        Numbers("how long"),
        Words(medium.pick("", "note")),
    ]);
    for (what, ms, note) in clocks(sheet) {
        table.row([what, &run_time(ms), note]);
    }
    if table.is_empty() && medium == Medium::Screen {
        return Section::text("No time has been logged or written down for it yet.".to_owned());
    }
    Section::of(medium.pick("", "Time"), table, clock_notes(sheet, zone))
}

fn machines(sheet: &JobSheet, medium: Medium) -> Option<Section> {
    if sheet.machines.len() < 2 {
        return None;
    }
    let mut table =
        Table::new(&[Words("machine"), Numbers("confirmed"), Numbers("assumed"), Numbers("strokes")]);
    for line in &sheet.machines {
        let name = line.name.as_deref().unwrap_or("not known");
        let name = match line.machine {
            Some(number) if medium == Medium::Screen => format!("{number}, {name}"),
            _ => name.to_owned(),
        };
        let (confirmed, assumed) = (line.confirmed_run_time_ms, line.assumed_run_time_ms);
        table.row([name, run_time(confirmed), run_time(assumed), thousands(line.strokes)]);
    }
    Some(Section::of(medium.pick("", "Machines"), table, []))
}

fn stages(sheet: &JobSheet, medium: Medium) -> Option<Section> {
    if sheet.stages.is_empty() {
        return None;
    }
    let mut table = Table::new(&[Words("stage"), Numbers("running"), Numbers("strokes")]);
    for stage in &sheet.stages {
        let name = stage.stage.map_or("no stage said", stage_name);
        table.row([name.to_owned(), run_time(stage.run_time_ms), thousands(stage.strokes)]);
    }
    Some(Section::of(medium.pick("", "Stages"), table, []))
}

/// On a screen as `rug yarn` tells it; on paper, what does not change by tomorrow.
fn yarn(sheet: &JobSheet, medium: Medium) -> Option<Section> {
    if sheet.yarn.colours.is_empty() {
        return None;
    }
    if medium == Medium::Screen {
        return Some(Section::text(progress::yarn(&sheet.ordered.rug, &sheet.yarn)));
    }
    let mut table = Table::new(&[
        Words("colour"),
        Numbers("taken"),
        Numbers("brought back"),
        Numbers("used"),
        Numbers("g per 1,000 strokes"),
    ]);
    for line in &sheet.yarn.colours {
        table.row(progress::weighed(line));
    }
    Some(Section::of("Yarn", table, []))
}

fn bill(bill: &Bill, rug: &str, medium: Medium) -> Option<Section> {
    if bill.lines.is_empty() {
        return None;
    }
    let mut table = Table::new(&[
        Words(medium.pick("cost", "for")),
        Numbers("time"),
        Numbers("an hour"),
        Numbers("amount"),
    ]);
    let no_price = || "no price".to_owned();
    for line in &bill.lines {
        table.row([
            item(line),
            line.time_ms.map_or_else(String::new, run_time),
            line.price_per_hour.map_or_else(String::new, money::money),
            line.amount_cents.map_or_else(no_price, cents),
        ]);
    }
    // Nought would look like a price.
    let total = if is_any_priced(bill) { cents(bill.total_cents) } else { no_price() };
    table.row_of(RowKind::Total, ["together", "", "", &total]);
    Some(Section::of(medium.pick("", "Cost"), table, bill_notes(bill, rug)))
}

/// The price that was worked out for it, against what it took.
fn against(quoted: &QuotedAgainstActual, bill: &Bill, medium: Medium, zone: &TimeZone) -> Section {
    let mut table = Table::new(&[
        Words(medium.pick("quoted against actual", "for")),
        Numbers("quoted"),
        Numbers("actual"),
        Numbers("time quoted"),
        Numbers("time"),
    ]);
    let missing = |item| match item {
        PriceItem::Materials => "incomplete",
        _ => "no price",
    };
    let time = |ms: Option<u64>| ms.map_or_else(String::new, run_time);
    for line in &quoted.lines {
        table.row([
            price::item(line.item).to_owned(),
            price::cents(line.quoted_cents),
            line.actual_cents.map_or_else(|| missing(line.item).to_owned(), cents),
            time(line.quoted_ms),
            time(line.actual_ms),
        ]);
    }
    let on_top = price::cents(quoted.on_top_cents);
    table.row([
        "extras, margin and rounding".to_owned(),
        on_top,
        cents(quoted.left_cents),
        String::new(),
        String::new(),
    ]);
    let price = price::cents(quoted.price_cents);
    table.row_of(RowKind::Total, ["price", &price, &price, "", ""]);
    let mut notes = vec![format!("Quoted {}.", clock(UtcMillis(quoted.quoted_utc_ms), zone))];
    if quoted.left_cents < 0 {
        notes.push("The price does not pay for what the rug took.".to_owned());
    }
    if quoted.quote_is_incomplete {
        notes.push("Something was missing in the quote, so it was too low.".to_owned());
    }
    if bill.is_incomplete {
        notes.push("What the rug took is incomplete, so more than that is gone of the price.".to_owned());
    }
    if quoted.currency != bill.currency {
        notes.push("The currency was set anew since.".to_owned());
    }
    Section::of(medium.pick("", "Quoted against actual"), table, notes)
}

/// The card for whoever ordered it.
#[must_use]
pub fn client(card: &ClientCard, zone: &TimeZone) -> Sheet {
    let ordered = Block::Facts(ordered(&card.ordered, false, zone));
    Sheet {
        title: card.ordered.rug.clone(),
        heading: card.ordered.rug.clone(),
        kind: "A rug tufted by hand",
        paper: Paper::Card,
        sections: vec![
            Section::new("", [ordered, Block::Text(made_by_hand(card))]),
            Section::new("Care of the rug", [Block::List(card.care_of_the_rug.to_vec())]),
        ],
        footer: String::new(),
    }
}
