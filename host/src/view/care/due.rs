//! What `due` says: one line a task, the most pressing first.

use jiff::civil::Date;
use jiff::tz::TimeZone;

use super::due_task::{at, name};
use super::{forecast, stock};
use crate::view::words::{self, count, moment, run_time};
use host_core::care::DueReport;
use host_core::care::done::Evidence;
use host_core::care::forecast::{DueForecast, NoDate};
use host_core::care::plan::BelongsTo;
use host_core::care::report::TaskReport;
use host_core::care::schedule::{DueState, LimitKind};

/// So many lines are read at a glance; what does not fit is counted in the last but one.
pub const MOST_LINES: usize = 16;
/// A date further ahead is of no use to anybody, in days.
const NEAR_ENOUGH_DAYS: i32 = 365;

/// The care of the machines, in at most [`MOST_LINES`] lines.
#[must_use]
pub fn due(report: &DueReport, zone: &TimeZone) -> String {
    let several = report.machines.len() > 1;
    let width = report.tasks.iter().map(|task| name(task, several).chars().count()).max().unwrap_or(0);
    let line = |task: &TaskReport| {
        let name = name(task, several);
        format!("{:<8}  {name:<width$}  {}", standing(task), so_far(task))
    };
    let (asked, waiting): (Vec<&TaskReport>, Vec<&TaskReport>) =
        report.tasks.iter().partition(|task| task.age_unknown || task.state >= DueState::EndOfDay);
    let mut lines: Vec<String> = Vec::new();
    if !report.is_anything_due {
        lines.push("Nothing is due.".to_owned());
    }
    lines.extend(asked.iter().map(|task| line(task)));
    lines.extend(questions(report, zone));
    lines.extend(besides(report));
    lines.extend(forecast::short_history(&report.tasks, several).lines().map(str::to_owned));
    lines.extend(waiting.iter().map(|task| line(task)));
    let last = last_lines(report, asked.first().or(waiting.first()).copied());
    let room = MOST_LINES.saturating_sub(last.len());
    if lines.len() > room {
        let left_out = lines.len() - (room - 1);
        lines.truncate(room - 1);
        lines.push(format!("and {left_out} more: needlehours due --all"));
    }
    lines.extend(last);
    lines.iter().map(|line| format!("{line}\n")).collect()
}

/// The caution, and where more is told.
fn last_lines(report: &DueReport, first: Option<&TaskReport>) -> Vec<String> {
    let is_asked = report.tasks.iter().any(|task| task.age_unknown || task.state >= DueState::EndOfDay);
    let caution = is_asked.then(|| report.short_caution.to_owned());
    let more = first
        .map(|task| format!("Limits: start values of the trade. At length: needlehours due {}", task.task));
    caution.into_iter().chain(more).collect()
}

/// How pressing it is, in a word or two.
#[must_use]
pub const fn standing(task: &TaskReport) -> &'static str {
    match task.state {
        _ if task.age_unknown => "first",
        DueState::Overdue => "overdue",
        DueState::Due => "due",
        DueState::Snoozed => "put off",
        DueState::EndOfDay => "evening",
        DueState::Soon => "soon",
        DueState::Fine => "later",
        DueState::NotNow => "not now",
    }
}

/// What has run or passed, and the limit; of what is not due when it will be.
#[must_use]
pub fn so_far(task: &TaskReport) -> String {
    if task.age_unknown {
        return "look at it: nobody knows when it was last done".to_owned();
    }
    match task.state {
        DueState::NotNow if task.decided_by.is_none() => "every limit is switched off".to_owned(),
        DueState::NotNow => "no cloth is on the frame".to_owned(),
        DueState::Fine | DueState::Soon => {
            let date = when(&task.forecast).filter(|_| task.belongs_to == BelongsTo::Machine);
            let parts = [left(task), date];
            let parts: Vec<String> = parts.into_iter().flatten().collect();
            if task.limits.sessions == Some(1) {
                return "after the next working day".to_owned();
            }
            if parts.is_empty() { limit(task) } else { parts.join(", ") }
        }
        _ => {
            let left_out = task.besides.skipped.as_ref().map_or_else(String::new, |skipped| {
                format!("; left out {}", count(skipped.times, "time", "times"))
            });
            let why = task
                .besides
                .snoozed
                .as_ref()
                .map_or_else(String::new, |put_off| format!(": {}", put_off.reason));
            format!("{}{left_out}{why}", limit(task))
        }
    }
}

/// Running since a task was done, measured at most and typed in.
#[must_use]
pub fn ran_since(task: &TaskReport) -> String {
    run_time(ran(task))
}

fn ran(task: &TaskReport) -> u64 {
    task.run_time_since_at_most_ms.saturating_add(task.by_hand_run_time_ms)
}

/// When the cloth wants to be tightened: "It wants tightening at 15 min."
#[must_use]
pub fn cloth_wants(task: &TaskReport) -> String {
    match (task.state, task.limits.run_time_ms) {
        (DueState::NotNow, _) => "No cloth is on the frame.".to_owned(),
        _ if task.is_asked_for() => "Tap it, and tighten it now.".to_owned(),
        (_, Some(limit)) => format!("It wants tightening at {}.", run_time(limit)),
        (_, None) => format!("{}.", words::capital(&so_far(task))),
    }
}

/// Against which limit it stands how.
fn limit(task: &TaskReport) -> String {
    let limits = &task.limits;
    let days = |days: u32| count(days.into(), "day", "days");
    let gone = |gone: f64| count(whole(gone), "day", "days");
    let words = match task.decided_by {
        Some(LimitKind::Sessions) => return evening(task),
        Some(LimitKind::RunTime) | None => {
            let ran = ran_since(task);
            format!("{ran} of running, limit {}", limits.run_time_ms.map_or_else(String::new, run_time))
        }
        Some(LimitKind::Days) => {
            format!("{}, limit {}", gone(task.days_since), days(limits.days.unwrap_or(0)))
        }
        Some(LimitKind::IdleDays) => {
            let limit = days(limits.idle_days.unwrap_or(0));
            format!("stood still for {}, limit {limit}", gone(task.longest_rest_days))
        }
        Some(LimitKind::Strokes) => {
            let made = count(task.besides.strokes_since, "stroke", "strokes");
            format!("{made}, limit {}", count(limits.strokes.unwrap_or(0), "stroke", "strokes"))
        }
        Some(LimitKind::Tear) => match task.besides.tears_since {
            0 => "asked for after every tear".to_owned(),
            tears => format!("after {}", count(tears, "tear", "tears")),
        },
        Some(LimitKind::PileHeight) => match task.besides.pile_height_changes_since {
            0 => "asked for after every change of the pile height".to_owned(),
            _ => "after the change of the pile height".to_owned(),
        },
        Some(LimitKind::RunningIn) => {
            let at = task.besides.running_in_at_run_time_ms.map_or_else(String::new, run_time);
            format!("a new machine asks for it at {at} of running")
        }
    };
    if task.last_done_by == Evidence::Never { format!("{words}; never noted") } else { words }
}

/// End-of-day care is counted in days worked.
fn evening(task: &TaskReport) -> String {
    if let Some(limit) = task.limits.sessions.filter(|limit| *limit > 1) {
        let begun = count(task.sessions_since, "session", "sessions");
        return format!("{begun}, limit {}", count(limit.into(), "session", "sessions"));
    }
    let days = count(task.days_worked_since, "working day", "working days");
    match (task.last_done_by, task.days_worked_since) {
        (Evidence::Never, _) => format!("never noted, {days} so far"),
        (_, 0) => "noted since the last working day".to_owned(),
        (_, 1) => "every evening".to_owned(),
        _ => format!("last noted {days} ago"),
    }
}

/// "26 h 15 min left", where a limit by running is on.
fn left(task: &TaskReport) -> Option<String> {
    let left = task.remaining_run_time_ms.and_then(|left| u64::try_from(left).ok())?;
    Some(format!("{} of running left", run_time(left)))
}

/// "about 6 Jun", "on 2 Mar 2027", "not within a year".
#[must_use]
pub fn when(forecast: &DueForecast) -> Option<String> {
    let today = forecast.today?;
    if forecast.no_date_because == Some(NoDate::TooFar) {
        return Some("not within a year".to_owned());
    }
    let (earliest, middle) = (forecast.earliest?, forecast.middle?);
    let ahead = today.until(middle).map_or(i32::MAX, |span| span.get_days());
    if ahead > NEAR_ENOUGH_DAYS {
        return Some("not within a year".to_owned());
    }
    let is_fixed = forecast.latest == Some(earliest);
    Some(format!("{} {}", if is_fixed { "on" } else { "about" }, day(middle, today)))
}

fn day(date: Date, today: Date) -> String {
    let form = if date.year() == today.year() { "%-d %b" } else { "%-d %b %Y" };
    date.strftime(form).to_string()
}

#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "days since, never below zero")]
fn whole(days: f64) -> u64 {
    days.floor() as u64
}

/// Presses of the care button of which nobody has said what was done.
fn questions(report: &DueReport, zone: &TimeZone) -> Vec<String> {
    let asked = report.questions.iter().map(|question| {
        format!(
            "asked     The care button was held {}. What was done? needlehours done TASK --when \"...\"",
            at(&moment(question.press.when, zone))
        )
    });
    asked.collect()
}

/// What is counted though it may be no work, what is never asked for, and what is to be bought.
fn besides(report: &DueReport) -> Vec<String> {
    let unsure = report.machines.iter().filter(|machine| machine.to_check_run_time_ms > 0).map(|machine| {
        format!(
            "unsure    {}: {} of running may be no work: needlehours hours check",
            machine.machine_name,
            run_time(machine.to_check_run_time_ms)
        )
    });
    let resting = report.resting.iter().map(|resting| {
        let why = resting.rest.reason.as_deref().map_or_else(String::new, |why| format!(", {why}"));
        format!(
            "resting   {} is out of use{why}; back: needlehours machine rest {} --back",
            resting.machine_name, resting.machine.0
        )
    });
    let to_buy = report.to_buy.iter().map(|line| format!("to buy    {}", stock::line(line)));
    let off = (!report.switched_off.is_empty()).then(|| {
        let names: Vec<&str> = report.switched_off.iter().map(|off| off.task.as_str()).collect();
        format!("off       {}; on again: needlehours care on TASK", names.join(", "))
    });
    unsure.chain(resting).chain(to_buy).chain(off).collect()
}
