//! One care task at length: how it stands, its points, what to mind, what was seen last.

use jiff::tz::TimeZone;

use super::limits::limits;
use super::{forecast, record};
use crate::view::words::{count, moment, push, run_time};
use host_core::care::DueReport;
use host_core::care::done::Evidence;
use host_core::care::report::TaskReport;
use host_core::care::schedule::{DueState, LimitKind};
use host_core::entries::OILING;

/// Tasks at length, the cautions before them.
#[must_use]
pub fn due_tasks(report: &DueReport, zone: &TimeZone) -> String {
    let mut text = String::from("Before you begin:\n");
    for caution in &report.cautions {
        push(&mut text, format_args!("  - {caution}"));
    }
    text.push('\n');
    for task in &report.tasks {
        let name = name(task, report.machines.len() > 1);
        let standing = if task.age_unknown { UNKNOWN_AGE.to_owned() } else { standing(task) };
        push(&mut text, format_args!("{name}: {standing}{}", forecast::words(task)));
        text.push_str(&record::seen_anyway(&task.besides, zone));
        text.push_str(&details(task, zone));
    }
    for off in &report.switched_off {
        push(
            &mut text,
            format_args!(
                "{0} is switched off; it is never asked for. (`needlehours care on \"{0}\"`)",
                off.task
            ),
        );
    }
    text.push_str(&forecast::short_history(&report.tasks, report.machines.len() > 1));
    push(&mut text, format_args!("Limits are {}.", report.start_values));
    text
}

/// What is said of a task of a second-hand machine that was never noted.
const UNKNOWN_AGE: &str = "look at it first; nobody knows when it was last done, or how old the part is.";

/// A task by its name, with its machine where there are several.
pub(super) fn name(task: &TaskReport, several: bool) -> String {
    if several { format!("{} ({})", task.task, task.machine_name) } else { task.task.clone() }
}

/// How a task stands, in one sentence.
fn standing(task: &TaskReport) -> String {
    if task.state == DueState::NotNow {
        return if task.decided_by.is_none() {
            "every limit is switched off.".to_owned()
        } else {
            "no cloth is on the frame.".to_owned()
        };
    }
    let limits = &task.limits;
    match task.decided_by {
        Some(LimitKind::RunTime) | None => {
            let limit = limits.run_time_ms.map_or_else(String::new, run_time);
            format!("{} of running{}; the limit is {limit}.", ran(task), since(task))
        }
        Some(LimitKind::Sessions) => {
            let limit = u64::from(limits.sessions.unwrap_or(0));
            format!(
                "{} begun{}; the limit is {}.",
                count(task.sessions_since, "session", "sessions"),
                since(task),
                count(limit, "session", "sessions")
            )
        }
        Some(LimitKind::Days) => format!(
            "{}{}; the limit is {}.",
            days(task.days_since),
            since(task),
            count(limits.days.unwrap_or(0).into(), "day", "days")
        ),
        Some(LimitKind::IdleDays) => format!(
            "the machine stood still for {}{}; the limit is {}.{}",
            days(task.longest_rest_days),
            since(task),
            count(limits.idle_days.unwrap_or(0).into(), "day", "days"),
            // Oil dries; an industrial manual runs a machine that stood for long slowly for some minutes.
            if task.task == OILING { " Oil it before it runs again, then run it slowly." } else { "" }
        ),
        Some(LimitKind::Strokes) => format!(
            "{}{}; the limit is {}.",
            count(task.besides.strokes_since, "stroke", "strokes"),
            since(task),
            count(limits.strokes.unwrap_or(0), "stroke", "strokes")
        ),
        Some(LimitKind::Tear) if task.besides.tears_since == 0 => "asked for after every tear.".to_owned(),
        Some(LimitKind::Tear) => {
            format!("{}{}.", count(task.besides.tears_since, "tear", "tears"), since(task))
        }
        Some(LimitKind::PileHeight) if task.besides.pile_height_changes_since == 0 => {
            "asked for after every change of the pile height.".to_owned()
        }
        Some(LimitKind::PileHeight) => format!("the pile height was changed{}.", since(task)),
        Some(LimitKind::RunningIn) => format!(
            "a new machine asks for it at {} of running (common practice, no source).",
            task.besides.running_in_at_run_time_ms.map_or_else(String::new, run_time)
        ),
    }
}

/// Since when, with the blank or comma before it.
fn since(task: &TaskReport) -> &'static str {
    match task.last_done_by {
        Evidence::Entered => " since it was last done",
        Evidence::Pressed => " since the button was last held",
        Evidence::ClothPutOn => " since this cloth came on the frame",
        Evidence::PartFitted => " since a new part was fitted",
        Evidence::Never => ", never noted as done",
    }
}

/// The run time since, as a range where it has one.
fn ran(task: &TaskReport) -> String {
    let most = task.run_time_since_at_most_ms + task.by_hand_run_time_ms;
    let least = task.run_time_since_at_least_ms + task.by_hand_run_time_ms;
    if least == most { run_time(most) } else { format!("{} to {}", run_time(least), run_time(most)) }
}

fn details(task: &TaskReport, zone: &TimeZone) -> String {
    let mut text = String::new();
    push(&mut text, format_args!("      {}", task.what));
    if let Some(lubricant) = &task.lubricant {
        push(&mut text, format_args!("      Use {lubricant}."));
    }
    if let Some(caution) = &task.caution {
        push(&mut text, format_args!("      Mind: {caution}"));
    }
    if let (Some(when), Evidence::PartFitted, Some(part)) =
        (task.last_done, task.last_done_by, &task.besides.part)
    {
        let entry =
            task.besides.last_done_entry.map_or_else(String::new, |entry| format!(" (entry {})", entry.0));
        push(
            &mut text,
            format_args!("      A new part did it: {part} fitted {}{entry}.", at(&moment(when, zone))),
        );
    } else if let Some(when) = task.last_done {
        let what = if task.last_done_by == Evidence::ClothPutOn { "This cloth came on" } else { "Last done" };
        push(&mut text, format_args!("      {what} {}.", at(&moment(when, zone))));
    }
    if task.run_time_since_at_least_ms != task.run_time_since_at_most_ms {
        text.push_str(
            "      Some of the running cannot be dated exactly; the longer time counts, to be careful.\n",
        );
    }
    if task.not_recorded_ms > 0 {
        push(
            &mut text,
            format_args!(
                "      {} of the running was counted by the logger, but no record tells when; it is taken as run since.",
                run_time(task.not_recorded_ms)
            ),
        );
    }
    if task.by_hand_run_time_ms > 0 {
        push(
            &mut text,
            format_args!("      {} of the running was typed in.", run_time(task.by_hand_run_time_ms)),
        );
    }
    text.push_str(&record::details(&task.besides));
    let source = if task.limits_by_maker { "your own limit" } else { task.source.words() };
    push(&mut text, format_args!("      Limits: {} ({source}).", limits(&task.limits)));
    text
}

/// Whole days that have gone by.
fn days(gone: f64) -> String {
    let whole = gone.floor();
    format!("{whole:.0} {}", if whole == 1.0 { "day" } else { "days" })
}

/// Puts "on" before a clock reading; ranges and unknown times speak for themselves.
pub(super) fn at(moment: &str) -> String {
    if moment.starts_with("between") || moment.starts_with("at ") {
        moment.to_owned()
    } else {
        format!("on {moment}")
    }
}
