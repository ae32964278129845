//! The sheet and the card on screen.

use jiff::tz::TimeZone;

use super::{bill_notes, cents, clock_notes, clocks, item, made_by_hand, made_in, ordered, total};
use crate::view::money;
use crate::view::rugs::progress::yarn;
use crate::view::rugs::rug_book::stage_name;
use crate::view::words::table::{Column, Table};
use crate::view::words::{count, run_time, thousands};
use host_core::money::Bill;
use host_core::rugs::sheet::{ClientCard, JobSheet};

/// The sheet for the maker.
#[must_use]
pub fn maker(sheet: &JobSheet, zone: &TimeZone) -> String {
    let mut parts = vec![facts(&sheet.ordered.rug, &ordered(&sheet.ordered, true, zone))];
    parts.push(format!("Made: {}.", made_in(sheet.strokes, sheet.sessions, sheet.first_day, sheet.last_day)));
    if sheet.harms.tears > 0 || sheet.harms.near_misses > 0 {
        parts.push(format!(
            "{}; {}.",
            count(sheet.harms.tears, "tear", "tears"),
            count(sheet.harms.near_misses, "near-miss", "near-misses")
        ));
    }
    let mut table = Table::new(&[Column::Words("time"), Column::Numbers("how long"), Column::Words("")]);
    for (what, ms, note) in clocks(sheet) {
        table.row([what, run_time(ms), note.to_owned()]);
    }
    if table.is_empty() {
        parts.push("No time has been logged or written down for it yet.".to_owned());
    } else {
        parts.push(format!("{}\n{}", table.text(), clock_notes(sheet, zone).join("\n")));
    }
    parts.extend(machines(sheet));
    parts.extend(stages(sheet));
    if !sheet.yarn.colours.is_empty() {
        parts.push(yarn(&sheet.ordered.rug, &sheet.yarn));
    }
    parts.extend(bill(&sheet.bill));
    parts.join("\n\n")
}

fn facts(rug: &str, facts: &[(&str, String)]) -> String {
    let lines: Vec<String> = facts.iter().map(|(what, is)| format!("  {what}: {is}")).collect();
    format!("{rug}\n{}", lines.join("\n"))
}

fn machines(sheet: &JobSheet) -> Option<String> {
    if sheet.machines.len() < 2 {
        return None;
    }
    let mut table = Table::new(&[
        Column::Words("machine"),
        Column::Numbers("confirmed"),
        Column::Numbers("assumed"),
        Column::Numbers("strokes"),
    ]);
    for line in &sheet.machines {
        let name = line.name.clone().unwrap_or_else(|| "not known".to_owned());
        let number = line.machine.map_or_else(String::new, |number| format!("{number}, "));
        table.row([
            format!("{number}{name}"),
            run_time(line.confirmed_run_time_ms),
            run_time(line.assumed_run_time_ms),
            thousands(line.strokes),
        ]);
    }
    Some(table.text())
}

fn stages(sheet: &JobSheet) -> Option<String> {
    if sheet.stages.is_empty() {
        return None;
    }
    let mut table =
        Table::new(&[Column::Words("stage"), Column::Numbers("running"), Column::Numbers("strokes")]);
    for stage in &sheet.stages {
        table.row([
            stage.stage.map_or("no stage said", stage_name).to_owned(),
            run_time(stage.run_time_ms),
            thousands(stage.strokes),
        ]);
    }
    Some(table.text())
}

fn bill(bill: &Bill) -> Option<String> {
    if bill.lines.is_empty() {
        return None;
    }
    let mut table = Table::new(&[
        Column::Words("cost"),
        Column::Numbers("time"),
        Column::Numbers("an hour"),
        Column::Numbers("amount"),
    ]);
    for line in &bill.lines {
        table.row([
            item(line),
            line.time_ms.map_or_else(String::new, run_time),
            line.price_per_hour.map_or_else(String::new, money::money),
            line.amount_cents.map_or_else(|| "no price".to_owned(), cents),
        ]);
    }
    table.row(["together".to_owned(), String::new(), String::new(), total(bill)]);
    Some(format!("{}\n{}", table.text(), bill_notes(bill).join("\n")))
}

/// The card for whoever ordered it.
#[must_use]
pub fn client(card: &ClientCard, zone: &TimeZone) -> String {
    let care: Vec<String> = card.care_of_the_rug.iter().map(|line| format!("- {line}")).collect();
    format!(
        "{}\n{}\n\nCare of the rug\n{}",
        facts(&card.ordered.rug, &ordered(&card.ordered, false, zone)),
        made_by_hand(card),
        care.join("\n")
    )
}
