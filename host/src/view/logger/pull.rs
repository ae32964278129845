//! What a pull did, in plain words.

use crate::app::logger::pull_report::{Order, PullReport, Warning};
use crate::view::words;

/// What was new, in one line.
#[must_use]
pub fn in_short(report: &PullReport) -> String {
    let source = if report.from_saved_log { "saved log" } else { "logger" };
    match report.new_records {
        0 => {
            format!(
                "Nothing new: the {source} at {} holds no record that was not kept already.",
                report.place
            )
        }
        1 => format!("Kept 1 new record from the {source} at {}.", report.place),
        new => format!("Kept {new} new records from the {source} at {}.", report.place),
    }
}

/// The report as lines for the maker.
#[must_use]
pub fn text(report: &PullReport) -> String {
    let mut lines = Vec::new();
    lines.push(in_short(report));
    if report.new_run_time_ms > 0 {
        lines.push(format!("They hold {} of running.", words::run_time(report.new_run_time_ms)));
    }
    if let Some(name) = &report.machine_name {
        let said = match (report.fitted_now, report.machine_added) {
            (true, true) => {
                "added to the studio, because there was no machine yet; the logger is taken to sit on it"
            }
            (true, false) => "from now on the logger is taken to sit on it",
            (false, _) => "where it was",
        };
        lines.push(format!("Machine: {name} ({said})."));
    }
    if report.not_recorded_ms > 0 {
        lines.push(format!(
            "Not recorded: {} that the logger counted but could not keep in detail. It is part of the machine's hours.",
            words::run_time(report.not_recorded_ms)
        ));
    }
    if report.conflicting_records > 0 {
        lines.push(format!(
            "{} came twice with different content; both are kept and the first is used.",
            words::count(report.conflicting_records, "record", "records")
        ));
    }
    if report.unreadable_records > 0 {
        lines.push(format!(
            "{} of a kind that this program does not know; they are kept for a newer one.",
            words::count(report.unreadable_records, "record", "records")
        ));
    }
    let skipped = report.skipped;
    if skipped.damaged_frames > 0 {
        lines.push(format!("Damaged pieces that were passed over: {}.", skipped.damaged_frames));
    }
    if skipped.foreign_frames > 0 {
        lines.push(format!(
            "Pieces that belong to something else and were passed over: {}.",
            skipped.foreign_frames
        ));
    }
    if skipped.cut_short {
        lines.push("The file stops in the middle of a piece; what stood before it is kept.".to_owned());
    }
    lines.extend(report.warnings.iter().map(warning));
    lines.join("\n")
}

fn warning(warning: &Warning) -> String {
    match warning {
        Warning::Moved { known: Some(known), told, from } => format!(
            "Look: this logger was on machine {} and is now set to machine {}. Everything since record {} counts for no machine until you say so: pull again with --machine NAME.",
            known.0, told.0, from.0
        ),
        Warning::Moved { known: None, from, .. } => format!(
            "Look: it is still not known on which machine this logger sits. Everything since record {} counts for no machine until you say so: pull again with --machine NAME.",
            from.0
        ),
        Warning::MovedByWish { before, from } => format!(
            "The logger was on machine {} before. What was not pulled until now, from record {} on, counts for the new machine.",
            before.0, from.0
        ),
        Warning::Reformatted { before } => format!(
            "Look: the logger has started a new log. The {} kept, and the hours in it still count.",
            if before.len() == 1 { "old one is" } else { "old ones are" }
        ),
        Warning::TotalsWentDown { run_ms_before, run_ms_now } => format!(
            "Look: the logger now counts {} of running in its life, and {} when it was last heard. That should never happen; was its memory replaced?",
            words::run_time(*run_ms_now),
            words::run_time(*run_ms_before)
        ),
        Warning::RecordsHoldMore { run_ms_held, run_ms_counted, edges_held, edges_counted } => format!(
            "Look: the records kept of this logger hold {} of running and {edges_held} strokes of its switch, but it says that it counted {} and {edges_counted}. One of the two is wrong; the records count.",
            words::run_time(*run_ms_held),
            words::run_time(*run_ms_counted)
        ),
        Warning::RecordsAreLater { .. } => {
            "Look: records kept of this logger were made later than it says that it is now. Its hours are not touched by that; its dates may be.".to_owned()
        }
        Warning::SetAside { records, why } => format!(
            "Look: a piece of the saved log with {} was not kept, because it cannot be true: {why}.",
            words::count(*records, "record", "records")
        ),
        Warning::NumbersWentBack { .. } => {
            "Look: the logger has fewer records than when it was last heard. Everything that is there was read again and nothing was thrown away.".to_owned()
        }
        Warning::NewerRecords { .. } => {
            "The logger is newer than this program; what cannot be read yet is kept for a newer one.".to_owned()
        }
        Warning::UnreadableBytes { bytes } => format!("{} could not be taken apart into records.", words::count(*bytes, "byte", "bytes")),
        Warning::NotTold { order, why } => {
            format!("The records are safe, but {}: {why}. The next pull tries again.", untold(*order))
        }
    }
}

const fn untold(order: Order) -> &'static str {
    match order {
        Order::Acknowledge => "the logger could not be told so",
        Order::Clock => "its clock could not be set",
        Order::Machine => "it could not be told its machine",
        Order::Limits => "its lamp could not be told when to speak",
    }
}
