//! What `due`, `done` and their settings say in plain words.

use jiff::tz::TimeZone;

use super::limits::limits;
use super::{forecast, record, stock};
use crate::app::care::done::{BrushOutFirst, DoneReport};
use crate::app::care::limits::LimitReport;
use crate::app::care::part_offer::PartOffer;
use crate::app::typed::take_back::WithdrawnReport;
use crate::view::words::{clock, count, moment, push, run_time};
use host_core::care::DueReport;
use host_core::care::done::Evidence;
use host_core::care::plan::TaskLimits;
use host_core::care::report::TaskReport;
use host_core::care::schedule::{DueState, LimitKind};
use host_core::entries::OILING;

/// The care that is due, the cautions before it. `all` tells of every task at length.
#[must_use]
pub fn due(report: &DueReport, all: bool, zone: &TimeZone) -> String {
    let several = report.machines.len() > 1;
    let mut text = String::new();
    if report.is_anything_due || all {
        text.push_str("Before you begin:\n");
        for caution in &report.cautions {
            push(&mut text, format_args!("  - {caution}"));
        }
        text.push('\n');
    }
    if !report.is_anything_due {
        text.push_str("Nothing is due.\n");
    }
    text.push_str(&first_looks(report, all, zone));
    for (state, heading) in [
        (DueState::Overdue, "Overdue:"),
        (DueState::Due, "Due now:"),
        (DueState::Snoozed, "Put off:"),
        (DueState::Soon, "Soon:"),
        (DueState::Fine, "Not due yet:"),
        (DueState::NotNow, "Not now:"),
    ] {
        let tasks: Vec<&TaskReport> =
            report.tasks.iter().filter(|task| task.state == state && !task.age_unknown).collect();
        if tasks.is_empty() {
            continue;
        }
        push(&mut text, format_args!("{heading}"));
        for task in tasks {
            let name = name(task, several);
            push(&mut text, format_args!("  {name}: {}{}", standing(task), forecast::words(task)));
            text.push_str(&record::seen_anyway(&task.besides, zone));
            if all || state >= DueState::Due {
                text.push_str(&details(task, zone));
            }
        }
    }
    text.push_str(&forecast::short_history(&report.tasks, several));
    for question in &report.questions {
        push(
            &mut text,
            format_args!(
                "The care button was pressed {}, but nobody has said what was done. Say it with:\n  {}",
                at(&moment(question.press.when, zone)),
                "needlehours done TASK --when \"...\"   (`needlehours care` names the tasks)",
            ),
        );
    }
    for machine in &report.machines {
        if let Some(before) = machine.before_logger_run_time_ms {
            push(
                &mut text,
                format_args!(
                    "{} ran about {} before{}, by its owner's estimate; that is not counted here.",
                    machine.machine_name,
                    run_time(before),
                    if machine.is_without_logger { "" } else { " the logger" }
                ),
            );
        }
    }
    text.push_str(&beside(report, several));
    push(&mut text, format_args!("These are {}.", report.start_values));
    text
}

/// A task by its name, with its machine where there are several.
fn name(task: &TaskReport, several: bool) -> String {
    if several { format!("{} ({})", task.task, task.machine_name) } else { task.task.clone() }
}

/// What is to be looked at first on a second-hand machine, whatever the numbers say.
fn first_looks(report: &DueReport, all: bool, zone: &TimeZone) -> String {
    let first: Vec<&TaskReport> = report.tasks.iter().filter(|task| task.age_unknown).collect();
    let mut text = String::new();
    if first.is_empty() {
        return text;
    }
    text.push_str("Look at these first; nobody knows when they were last done, or how old the part is:\n");
    for task in first {
        push(&mut text, format_args!("  {}: {}", name(task, report.machines.len() > 1), task.what));
        if all {
            text.push_str(&details(task, zone));
        }
    }
    text.push_str(
        "  Once noted they are asked for by the numbers: needlehours done TASK, or for a new part: needlehours part fit PART \
         --replaces worn-out\n",
    );
    text
}

/// What is counted though it may be no work, what is never asked for, and what is to be bought.
fn beside(report: &DueReport, several: bool) -> String {
    let mut text = String::new();
    for resting in &report.resting {
        let why = resting.rest.reason.as_deref().map_or_else(String::new, |why| format!(": {why}"));
        push(
            &mut text,
            format_args!(
                "{} is out of use, and its care is not asked for{why}. (`needlehours machine rest {} --back`)",
                resting.machine_name, resting.machine.0
            ),
        );
    }
    for machine in report.machines.iter().filter(|machine| machine.to_check_run_time_ms > 0) {
        push(
            &mut text,
            format_args!(
                "{} has {} of running that may be no work; until you say, it is counted here. (`needlehours hours check`)",
                machine.machine_name,
                run_time(machine.to_check_run_time_ms)
            ),
        );
    }
    for off in &report.switched_off {
        let name = if several { format!("{} ({})", off.task, off.machine_name) } else { off.task.clone() };
        push(
            &mut text,
            format_args!(
                "{name} is switched off; it is never asked for. (`needlehours care on \"{}\"`)",
                off.task
            ),
        );
    }
    for line in &report.to_buy {
        push(&mut text, format_args!("To buy: {}.", stock::line(line)));
    }
    text
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

/// Puts "on" before a clock reading; ranges and unknown times speak for themselves.
fn at(moment: &str) -> String {
    if moment.starts_with("between") || moment.starts_with("at ") {
        moment.to_owned()
    } else {
        format!("on {moment}")
    }
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
