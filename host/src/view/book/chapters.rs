//! The chapters of the book.

use jiff::tz::TimeZone;
use shared_types::log::PressKind;

use super::describe::{Reader, describe};
use crate::app::book::record_book::RecordBook;
use crate::app::ports::logger_name::logger_name;
use crate::view::heavy;
use crate::view::words::sheet::{Block, Section};
use crate::view::words::table::Column::{Numbers, Words};
use crate::view::words::table::{RowKind, Table};
use crate::view::words::{self, clock, count, moment, run_time, thousands};
use host_core::book::lines::Chapter;
use host_core::care::done::Evidence;
use host_core::care::report::TaskReport;
use host_core::care::schedule::{DueState, LimitKind};

/// When care is due.
pub fn due(book: &RecordBook, zone: &TimeZone) -> Section {
    let mut table = Table::new(&["Task", "Last done", "Stands", "Limit", "Left"].map(Words));
    for task in &book.care_due {
        let last = match (task.last_done_by, task.last_done) {
            (Evidence::Never, _) | (_, None) => "never noted".to_owned(),
            (Evidence::Pressed, Some(when)) => format!("{} (button)", moment(when, zone)),
            (_, Some(when)) => moment(when, zone),
        };
        table.row([&*task.task, &last, standing(task.state), &limits(task), &left(task)]);
    }
    let note =
        "What is left is counted from now; sessions typed in count too, the owner's estimate does not.";
    Section::of("Care: when it is due", table, [note.to_owned()])
}

/// Care that was given.
pub fn care(book: &RecordBook, zone: &TimeZone) -> Section {
    let mut blocks = entries(book, zone, &[Chapter::Care], "No care was entered.");
    let pressed = |kind: PressKind| {
        let presses = book.presses.iter().filter(|press| press.press == kind && !press.is_withdrawn);
        u64::try_from(presses.count()).unwrap_or(u64::MAX)
    };
    let buttons = || {
        Block::Note(format!(
            "At the machine's buttons: {}, {}, {}, {}; mistakes left out.",
            count(pressed(PressKind::CareDone), "care press", "care presses"),
            count(pressed(PressKind::Retension), "re-tension", "re-tensions"),
            count(pressed(PressKind::Tear), "tear", "tears"),
            count(pressed(PressKind::NearMiss), "near-miss", "near-misses")
        ))
    };
    blocks.extend((!book.is_without_logger).then(buttons));
    Section::new("Care: what was done", blocks)
}

const fn standing(state: DueState) -> &'static str {
    match state {
        DueState::NotNow => "not now",
        DueState::Fine => "not due",
        DueState::Soon => "soon",
        DueState::EndOfDay => "at the end of the day",
        DueState::Snoozed => "put off",
        DueState::Due => "due",
        DueState::Overdue => "overdue",
    }
}

fn limits(task: &TaskReport) -> String {
    let days = |days: u32| count(days.into(), "day", "days");
    let limits = [
        task.limits.run_time_ms.map(|run| format!("{} of running", run_time(run))),
        task.limits.strokes.map(|strokes| format!("{} strokes", thousands(strokes))),
        task.limits.sessions.map(|sessions| count(sessions.into(), "session", "sessions")),
        task.limits.days.map(days),
        task.limits.idle_days.map(|idle| format!("{} standing still", days(idle))),
        task.limits.after_tear.then(|| "every tear".to_owned()),
        task.limits.after_pile_height.then(|| "every change of the pile height".to_owned()),
    ];
    let limits: Vec<String> = limits.into_iter().flatten().collect();
    if limits.is_empty() { "off".to_owned() } else { words::one_of(&limits) }
}

fn left(task: &TaskReport) -> String {
    if task.state == DueState::NotNow {
        return String::new();
    }
    if let (Some(LimitKind::Sessions), Some(most)) = (task.decided_by, task.limits.sessions) {
        let begun = count(task.sessions_since, "session", "sessions");
        return format!("{begun} begun since; the limit is {}", count(most.into(), "session", "sessions"));
    }
    what_is_left(task.remaining_run_time_ms, task.remaining_days)
}

/// What is left of limits and what is past, told apart: what is past decides.
fn what_is_left(run_time_ms: Option<i64>, days: Option<f64>) -> String {
    let running = run_time_ms.map(|left| (left < 0, format!("{} of running", run_time(left.unsigned_abs()))));
    let whole = |days: f64| {
        let days = format!("{:.0}", days.abs().floor());
        if days == "1" { "1 day".to_owned() } else { format!("{days} days") }
    };
    let days = days.map(|left| (left < 0.0, whole(left)));
    let (past, left): (Vec<_>, Vec<_>) =
        [running, days].into_iter().flatten().partition(|(is_past, _)| *is_past);
    let named = |limits: Vec<(bool, String)>| limits.into_iter().map(|(_, words)| words).collect::<Vec<_>>();
    match (past.is_empty(), left.is_empty()) {
        (true, _) => words::one_of(&named(left)),
        (false, true) => format!("passed by {}", words::all_of(&named(past))),
        (false, false) => {
            format!("passed by {}; {} left", words::all_of(&named(past)), words::all_of(&named(left)))
        }
    }
}

/// Faults: of the machine as they were entered, of the logger's sensors as it recorded them, and heavy use.
pub fn faults(book: &RecordBook, zone: &TimeZone) -> Section {
    let mut blocks = entries(book, zone, &[Chapter::Faults], "No fault of the machine was entered.");
    if let Some(heavy) = &book.heavy {
        let seen = heavy.findings.iter().flat_map(|finding| &finding.faults);
        let mut notes: Vec<String> =
            seen.map(|fault| format!("Logger: {}.", heavy::fault_line(fault, zone))).collect();
        if notes.is_empty() && !book.is_without_logger {
            notes.push("The logger recorded no fault of its sensors.".to_owned());
        }
        notes.extend(heavy::too_much(heavy, zone).iter().map(|sentence| format!("Heavy use: {sentence}")));
        blocks.extend(notes.into_iter().map(Block::Note));
    }
    Section::new("Faults", blocks)
}

/// The entries of some chapters, withdrawn ones struck; else that there are none, if there is a word for it.
pub fn entries(book: &RecordBook, zone: &TimeZone, chapters: &[Chapter], nothing: &str) -> Vec<Block> {
    let mut table = Table::new(&[Numbers("Entry"), Words("When"), Words("Entered"), Words("What")]);
    table.class = "entries";
    let reader = Reader { machine: book.machine, people: &book.people, zone };
    for line in book.entries.iter().filter(|line| chapters.contains(&line.chapter)) {
        let kind = line.withdrawn.as_ref().map_or(RowKind::Plain, |correction| {
            RowKind::Struck(format!(
                "Taken back by entry {} on {}: {}",
                correction.entry.0,
                clock(correction.entered_utc_ms, zone),
                correction.reason
            ))
        });
        let at = line.at_utc_ms.map_or_else(String::new, |at| clock(at, zone));
        let entered = clock(line.entered_utc_ms, zone);
        let entered = if entered == at { "at once".to_owned() } else { entered };
        table.row_of(kind, [line.entry.0.to_string(), at, entered, describe(line, &reader)]);
    }
    match (table.is_empty(), nothing) {
        (false, _) => vec![Block::Table(table)],
        (true, "") => Vec::new(),
        (true, nothing) => vec![Block::Note(nothing.to_owned())],
    }
}

/// What was taken back, in one place.
pub fn corrections(book: &RecordBook, zone: &TimeZone) -> Section {
    let mut table = Table::new(&[Numbers("Entry"), Numbers("Taken back by"), Words("On"), Words("Why")]);
    for line in &book.entries {
        let Some(correction) = &line.withdrawn else { continue };
        table.row([
            line.entry.0.to_string(),
            correction.entry.0.to_string(),
            clock(correction.entered_utc_ms, zone),
            correction.reason.clone(),
        ]);
    }
    let first = if table.is_empty() {
        Block::Note("Nothing was taken back.".to_owned())
    } else {
        Block::Table(table)
    };
    let late = book.late_fittings.iter().map(|late| {
        let last = late.below_record.0.saturating_sub(1);
        Block::Note(format!(
            "Entry {} gave the running of records {} to {last} of logger {}, which had been read before, to {}.",
            late.entry.0,
            late.from_record.0,
            logger_name(late.logger),
            match late.machine.0 {
                0 => "no machine".to_owned(),
                number => format!("machine {number}"),
            }
        ))
    });
    Section::new("Corrections", [first].into_iter().chain(late))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn days_that_are_left_are_not_said_to_have_passed() {
        let minutes = |many: i64| many * 60_000;
        for (run, days, told) in [
            (Some(minutes(150)), Some(10.4), "2 h 30 min of running or 10 days"),
            (Some(minutes(-120)), Some(10.4), "passed by 2 h of running; 10 days left"),
            (Some(minutes(90)), Some(-1.5), "passed by 1 day; 1 h 30 min of running left"),
            (Some(minutes(-90)), Some(-3.0), "passed by 1 h 30 min of running and 3 days"),
            (None, Some(1.2), "1 day"),
            (None, None, ""),
        ] {
            assert_eq!(what_is_left(run, days), told);
        }
    }
}
