//! The chapters of the book.

use jiff::tz::TimeZone;
use shared_types::log::PressKind;

use super::describe::{Reader, describe};
use crate::app::book::record_book::RecordBook;
use crate::app::ports::logger_name::logger_name;
use crate::view::heavy;
use crate::view::words::html::{Page, Struck};
use crate::view::words::{self, clock, count, moment, run_time, thousands};
use host_core::book::lines::{BookLine, Chapter};
use host_core::care::done::Evidence;
use host_core::care::report::TaskReport;
use host_core::care::schedule::{DueState, LimitKind};

/// Care that was given, and when it is due.
pub fn care(page: &mut Page, book: &RecordBook, zone: &TimeZone) {
    page.heading(2, "Care: when it is due");
    page.table_start(&["Task", "Last done", "Stands", "Limit", "Left"]);
    for task in &book.care_due {
        let last = match (task.last_done_by, task.last_done) {
            (Evidence::Never, _) | (_, None) => "never noted".to_owned(),
            (Evidence::Pressed, Some(when)) => format!("{} (button)", moment(when, zone)),
            (_, Some(when)) => moment(when, zone),
        };
        page.row(&[&task.task, &last, standing(task.state), &limits(task), &left(task)]);
    }
    page.table_end();
    page.note(
        "What is left is counted from now; hours written by hand count too, the owner's estimate does not.",
    );
    of_entries(page, book, zone, "Care: what was done", &[Chapter::Care], "No care was entered.");
    let pressed = |kind: PressKind| {
        let presses = book.presses.iter().filter(|press| press.press == kind && !press.is_withdrawn);
        u64::try_from(presses.count()).unwrap_or(u64::MAX)
    };
    page.note(&format!(
        "At the machine's buttons: {}, {}, {}, {}; mistakes left out.",
        count(pressed(PressKind::CareDone), "care press", "care presses"),
        count(pressed(PressKind::Retension), "re-tension", "re-tensions"),
        count(pressed(PressKind::Tear), "tear", "tears"),
        count(pressed(PressKind::NearMiss), "near-miss", "near-misses")
    ));
}

const fn standing(state: DueState) -> &'static str {
    match state {
        DueState::NotNow => "not now",
        DueState::Fine => "not due",
        DueState::Soon => "soon",
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
    let running = task.remaining_run_time_ms.map(|left| match u64::try_from(left) {
        Ok(left) => format!("{} of running", run_time(left)),
        Err(_) => format!("passed by {} of running", run_time(left.unsigned_abs())),
    });
    let days = task.remaining_days.map(|left| {
        if left >= 0.0 { format!("{:.0} days", left.floor()) } else { format!("passed by {:.0} days", -left) }
    });
    if let (Some(LimitKind::Sessions), Some(most)) = (task.decided_by, task.limits.sessions) {
        let begun = count(task.sessions_since, "session", "sessions");
        return format!("{begun} begun since; the limit is {}", count(most.into(), "session", "sessions"));
    }
    let all: Vec<String> = [running, days].into_iter().flatten().collect();
    words::one_of(&all)
}

/// Faults: of the machine as they were entered, of the logger's sensors as it recorded them, and heavy use.
pub fn faults(page: &mut Page, book: &RecordBook, zone: &TimeZone) {
    of_entries(page, book, zone, "Faults", &[Chapter::Faults], "No fault of the machine was entered.");
    let Some(heavy) = &book.heavy else { return };
    let seen: Vec<_> = heavy.findings.iter().flat_map(|finding| &finding.faults).collect();
    if seen.is_empty() {
        page.note("The logger recorded no fault of its sensors.");
    }
    for fault in seen {
        page.note(&format!("Logger: {}.", heavy::fault_line(fault, zone)));
    }
    for sentence in heavy::too_much(heavy, zone) {
        page.note(&format!("Heavy use: {sentence}"));
    }
}

/// The entries of some chapters, withdrawn ones struck.
pub fn of_entries(
    page: &mut Page,
    book: &RecordBook,
    zone: &TimeZone,
    heading: &str,
    chapters: &[Chapter],
    nothing: &str,
) {
    page.heading(2, heading);
    let lines: Vec<&BookLine> = book.entries.iter().filter(|line| chapters.contains(&line.chapter)).collect();
    if lines.is_empty() {
        if !nothing.is_empty() {
            page.note(nothing);
        }
        return;
    }
    page.table_of("entries", &["#Entry", "When", "Entered", "What"]);
    let reader = Reader { machine: book.machine, people: &book.people, zone };
    for line in lines {
        let struck = line.withdrawn.as_ref().map(|correction| Struck {
            because: format!(
                "Taken back by entry {} on {}: {}",
                correction.entry.0,
                clock(correction.entered_utc_ms, zone),
                correction.reason
            ),
        });
        let at = line.at_utc_ms.map_or_else(String::new, |at| clock(at, zone));
        let entered = clock(line.entered_utc_ms, zone);
        let (number, says) = (line.entry.0.to_string(), describe(line, &reader));
        let entered = if entered == at { "at once" } else { entered.as_str() };
        page.row_struck(&[number.as_str(), &at, entered, &says], struck.as_ref());
    }
    page.table_end();
}

/// What was taken back, in one place.
pub fn corrections(page: &mut Page, book: &RecordBook, zone: &TimeZone) {
    page.heading(2, "Corrections");
    let mut any = false;
    for line in &book.entries {
        let Some(correction) = &line.withdrawn else { continue };
        if !any {
            page.table_start(&["#Entry", "#Taken back by", "On", "Why"]);
            any = true;
        }
        page.row(&[
            &line.entry.0.to_string(),
            &correction.entry.0.to_string(),
            &clock(correction.entered_utc_ms, zone),
            &correction.reason,
        ]);
    }
    if any {
        page.table_end();
    } else {
        page.note("Nothing was taken back.");
    }
    for late in &book.late_fittings {
        let last = late.below_record.0.saturating_sub(1);
        page.note(&format!(
            "Entry {} gave the running of records {} to {last} of logger {}, which had been read before, to {}.",
            late.entry.0,
            late.from_record.0,
            logger_name(late.logger),
            match late.machine.0 {
                0 => "no machine".to_owned(),
                number => format!("machine {number}"),
            }
        ));
    }
}
