//! What `part` says in plain words.

use jiff::tz::TimeZone;

use super::wear::{fate, hours_between, span};
use crate::app::parts::part::{PartChanged, PartList};
use crate::view::care;
use crate::view::words::table::{Column, Table};
use crate::view::words::{all_of, capital, clock, push};
use host_core::care::fitted::tasks_done_by;
use host_core::entries::USUAL_PARTS;
use host_core::parts::PartPeriod;

/// The parts on the machines, or all that ever were.
#[must_use]
pub fn list(list: &PartList, all: bool, zone: &TimeZone) -> String {
    let shown: Vec<&PartPeriod> =
        list.parts.iter().filter(|period| all || period.off_utc_ms.is_none()).collect();
    if shown.is_empty() {
        return format!(
            "No part is noted{}. Note one when you fit it: needlehours part fit needle\nUsual parts: {}.\n",
            if list.parts.is_empty() { "" } else { " as being on (the others: --all)" },
            USUAL_PARTS.join(", ")
        );
    }
    let mut table = Table::new(&[
        Column::Words("machine"),
        Column::Words("part"),
        Column::Dates("fitted"),
        Column::Numbers("ran"),
        Column::Words("since then"),
        Column::Numbers("entry"),
    ]);
    let name = |period: &PartPeriod| {
        let named = list.machines.iter().find(|(tag, _)| *tag == period.machine);
        named.map(|(_, name)| name.clone()).unwrap_or_default()
    };
    for period in &shown {
        let mark = period.serial.as_ref().map(|serial| format!(" {serial}")).unwrap_or_default();
        let missing = if period.began_before_records { " or more" } else { "" };
        table.row([
            name(period),
            format!("{}{mark}", period.part.0),
            clock(period.fitted_utc_ms, zone),
            format!("{}{missing}", hours_between(period.hours_at_least, period.hours_at_most)),
            fate(period.why).to_owned(),
            period.entry.0.to_string(),
        ]);
    }
    let mut text = table.text();
    text.push('\n');
    if shown.iter().any(|period| period.began_before_records) {
        text.push_str("\"or more\": fitted before anything was recorded.\n");
    }
    text.push_str("How long they last: needlehours wear --part needle\n");
    text
}

fn tasks_of(changed: &PartChanged) -> Vec<String> {
    tasks_done_by(&changed.part).map(|task| task.name.to_owned()).collect()
}

/// What was noted.
#[must_use]
pub fn changed(changed: &PartChanged, zone: &TimeZone) -> String {
    let mut text = String::new();
    let when = clock(changed.at_utc_ms, zone);
    if let (Some(period), Some(entry)) = (&changed.taken_off, changed.off_entry) {
        text.push_str(&format!(
            "{}: {} off, {}: {}. It ran {} (the machine {} by then). Entry {}.\n",
            changed.machine_name,
            changed.part.0,
            when,
            fate(period.why),
            hours_between(period.hours_at_least, period.hours_at_most),
            span(period.machine_hours_at_end),
            entry.0
        ));
    }
    if let (true, Some(entry)) = (changed.came_with_machine, changed.off_entry) {
        push(
            &mut text,
            format_args!(
                "{}: {} off, {when}. It came with the machine, so its age is not known and `needlehours wear` leaves it out. Entry {}.",
                changed.machine_name, changed.part.0, entry.0
            ),
        );
    }
    if let Some(entry) = changed.fitted_entry {
        text.push_str(&format!(
            "{}: {} fitted, {when}. Entry {}.\n",
            changed.machine_name, changed.part.0, entry.0
        ));
        let named = |counts: bool| -> Vec<String> {
            let done = changed.does_tasks.iter().filter(|done| done.counts_from_here == counts);
            done.map(|done| done.task.clone()).collect()
        };
        let (now, later) = (named(true), named(false));
        if !now.is_empty() {
            push(&mut text, format_args!("That does {} as well, counted from there.", all_of(&now)));
        }
        if !later.is_empty() {
            push(
                &mut text,
                format_args!("It does {} as well, but that was done again later.", all_of(&later)),
            );
        }
        if changed.does_tasks.is_empty() && !tasks_of(changed).is_empty() {
            push(
                &mut text,
                format_args!(
                    "It comes back under its mark, so its hours go on and {} counts as before.",
                    all_of(&tasks_of(changed))
                ),
            );
        }
        if changed.part.0 == "scissors" && !changed.does_tasks.is_empty() {
            text.push_str(
                "Look the new pair over by hand before you switch on (`needlehours done scissors`): it should open, close and cut.\n",
            );
        }
        for line in &changed.stock {
            push(&mut text, format_args!("One was taken from stock. {}.", capital(&care::line(line))));
        }
    }
    text
}
