//! What `done` and the settings of care say in plain words.

use jiff::tz::TimeZone;

use super::due_task::at;
use super::limits::limits;
use super::{record, stock};
use crate::app::care::done::{BrushOutFirst, DoneReport};
use crate::app::care::limits::LimitReport;
use crate::app::care::part_offer::PartOffer;
use crate::app::typed::take_back::WithdrawnReport;
use crate::view::words::{clock, moment, push};
use host_core::care::plan::TaskLimits;
use host_core::entries::OILING;

/// What was noted. The routine is not told to who was just led through it, or answers for a day gone by.
#[must_use]
pub fn done(report: &DoneReport, zone: &TimeZone, was_walked: bool) -> String {
    let counts = if report.counts_from_here {
        "It counts from there.".to_owned()
    } else {
        format!(
            "It was done again later, {}, so it still counts from then.",
            at(&moment(report.last_done, zone))
        )
    };
    let mut text =
        format!("Noted: {} on {}, {}. {counts}\n", report.task, report.machine_name, clock(report.at, zone));
    if report.is_early {
        push(
            &mut text,
            format_args!(
                "That was early: {} % of its limit was used up. Early does no harm, and it counts.",
                report.used_per_mille_before / 10
            ),
        );
    }
    if report.brush_out_was_due {
        text.push_str(
            "The brush-out was due as well. Lint and oil make a paste that wears the machine: brush out before oiling. If you did, note that too: needlehours done brush-out\n",
        );
    }
    match report.brush_out {
        Some(BrushOutFirst { entry, was_noted: false }) => {
            push(&mut text, format_args!("Noted with it: the brush-out before. Entry {}.", entry.0));
        }
        Some(BrushOutFirst { entry, was_noted: true }) => {
            push(&mut text, format_args!("The brush-out before it was noted already (entry {}).", entry.0));
        }
        None => {}
    }
    if let (Some(finding), Some(meaning)) = (report.finding, report.finding_means) {
        push(&mut text, format_args!("Seen: {}. {meaning}", finding.words()));
    }
    for line in &report.stock {
        push(&mut text, format_args!("In stock: {}.", stock::line(line)));
    }
    if let Some(offer) = &report.part {
        text.push_str(&part_offer(offer));
    }
    match &report.routine {
        Some(steps) if !was_walked => text.push_str(&record::routine(steps)),
        _ if report.task == OILING && !was_walked => text.push_str(
            "Now a short dry run without cloth, and a wipe, until no mark shows on scrap. A logger on it notes the run by itself.\n",
        ),
        _ => {}
    }
    text
}

/// What is left open about the part that a task looks after.
fn part_offer(offer: &PartOffer) -> String {
    if let Some(entry) = offer.fitted_entry {
        return format!(
            "The {} that was fitted (entry {}) did this already; it is counted once.\n",
            offer.part, entry.0
        );
    }
    let replaces = if offer.is_on { " --replaces worn-out" } else { "" };
    format!(
        "If a new part went on, note that too, so that its hours begin: needlehours part fit {}{replaces}\n",
        offer.part
    )
}

/// The limits as they are now.
#[must_use]
pub fn limit(report: &LimitReport) -> String {
    let (task, machine) = (&report.task, &report.machine_name);
    let now = if report.limits == TaskLimits::default() {
        format!("{task} on {machine} has no limit any more: it is never asked for.")
    } else {
        format!("{task} on {machine}: {}.", limits(&report.limits))
    };
    format!("{now}\n")
}

/// What was taken back.
#[must_use]
pub fn withdrawn(report: &WithdrawnReport) -> String {
    let mut text = format!("Entry {} counts no more: {}.\n", report.entry.0, report.reason);
    if let Some(with_it) = report.with_it {
        push(
            &mut text,
            format_args!(
                "Entry {} was said with it and counts no more either: the part before is on again.",
                with_it.0
            ),
        );
    }
    text
}
