//! What is said of the care plan, the routine, the record of care, and of presses of the care button.

use jiff::tz::TimeZone;

use super::limits::limits;
use crate::app::care::plan::{MachinePlan, PileHeightReport, PlanChange, PlanChanged, PlanReport};
use crate::app::care::press::PressAsked;
use crate::app::care::record::RecordReport;
use crate::app::care::snooze::LaterReport;
use crate::view::words::figures::tenths;
use crate::view::words::{self, all_of, clock, count, moment, one_of, push, run_time};
use host_core::care::record::RecordLine;
use host_core::care::report_besides::TaskBesides;
use host_core::care::routine::Step;
use host_core::entries::{CareDone, CareSnoozed, Drive, EntryBody, Lubricant, OilPointChange};
use host_core::sessions::dry_run_check::DryRun;

/// The plan with its start values, for every kind of machine.
#[must_use]
pub fn start_values(report: &PlanReport) -> String {
    let mut text = String::new();
    for task in &report.tasks {
        let whose = match (task.only_for, task.needs_scissors) {
            (Some(Drive::Electric), _) => " (with a motor)",
            (Some(Drive::Pneumatic), _) => " (on air)",
            (None, true) => " (with scissors)",
            (None, false) => "",
        };
        push(&mut text, format_args!("{}{whose}: {}", task.task, limits(&task.start)));
        push(&mut text, format_args!("      {} ({})", task.what, task.source.words()));
        push(&mut text, format_args!("      {}", sense(task.allowed_run_time_ms, task.basis)));
    }
    text
}

/// Within which limits a task makes sense, and on what that rests.
fn sense((low_ms, high_ms): (u64, u64), basis: &str) -> String {
    format!("Between {} and {} makes sense. {}.", run_time(low_ms), run_time(high_ms), words::capital(basis))
}

/// The plan of one machine.
#[must_use]
pub fn plan(plan: &MachinePlan) -> String {
    let mut text = format!("{}, number {}.\n", plan.machine_name, plan.machine.0);
    for caution in &plan.cautions {
        push(&mut text, format_args!("  - {caution}"));
    }
    text.push_str("\nTasks:\n");
    for task in &plan.tasks {
        let state = if task.is_on { limits(&task.limits) } else { "switched off".to_owned() };
        let source = if task.limits_by_maker { "your own limit" } else { task.source.words() };
        push(&mut text, format_args!("  {}: {state} ({source})", task.task));
        push(&mut text, format_args!("      {}", task.what));
        if let Some(caution) = &task.caution {
            push(&mut text, format_args!("      Mind: {caution}"));
        }
        push(&mut text, format_args!("      {}", sense(task.allowed_run_time_ms, task.basis)));
    }
    text.push_str("\nPoints (common practice, no source; change them with `needlehours care point`):\n");
    for point in &plan.points {
        let whose = if point.by_maker { " (yours)" } else { "" };
        push(&mut text, format_args!("  {}: {}{whose}", point.point, point.lubricant.words()));
    }
    let dry: Vec<String> = plan.keep_dry.iter().map(|part| (*part).to_owned()).collect();
    push(&mut text, format_args!("Never on {}.", one_of(&dry)));
    text
}

/// A change of the plan.
#[must_use]
pub fn changed(changed: &PlanChanged) -> String {
    let (name, machine) = (&changed.name, &changed.machine_name);
    let said = match changed.change {
        PlanChange::TaskAdded => format!("{name} is a task of {machine} now."),
        PlanChange::TaskOff => {
            format!("{machine}: {name} is switched off. On again: needlehours care on \"{name}\"")
        }
        PlanChange::TaskOn => format!("{machine}: {name} is switched on."),
        PlanChange::PointAdded => format!("{name} is a point of {machine} now."),
        PlanChange::PointRenamed => format!("The point is called {name} now."),
        PlanChange::PointGets => {
            format!("{name} gets another lubricant now; the list is in `needlehours care`.")
        }
        PlanChange::PointRemoved => format!("{name} is no point of {machine} any more."),
    };
    format!("{said}\n")
}

/// What was put off.
#[must_use]
pub fn snoozed(report: &LaterReport, zone: &TimeZone) -> String {
    let ends = [
        report.for_run_time_ms.map(|run| format!("for {} of running", run_time(run))),
        report.until_utc_ms.map(|until| format!("until {}", clock(until, zone))),
    ];
    let ends: Vec<String> = ends.into_iter().flatten().collect();
    format!(
        "{} on {} is put off {}: {}. It stays visible, and doing it ends that. (Entry {}.)\n",
        report.task,
        report.machine_name,
        one_of(&ends),
        report.reason.as_deref().unwrap_or_default(),
        report.entry.0
    )
}

/// What was left out.
#[must_use]
pub fn skipped(report: &LaterReport) -> String {
    format!(
        "Noted that {} on {} was left out. It counts as not done. (Entry {}.)\n",
        report.task, report.machine_name, report.entry.0
    )
}

/// A new pile height.
#[must_use]
pub fn pile_height(report: &PileHeightReport) -> String {
    let mut text = format!(
        "Noted: {} tufts {} mm high now. (Entry {}.)\n",
        report.machine_name,
        tenths(report.pile_height_tenths_mm),
        report.entry.0
    );
    if !report.asks_for.is_empty() {
        let names = words::all_of(&report.asks_for);
        push(
            &mut text,
            format_args!(
                "Look after {names}: a changed height is the usual moment at which they stop working."
            ),
        );
    }
    text
}

/// The steps of the routine, numbered.
#[must_use]
pub fn routine(steps: &[Step]) -> String {
    let mut text = String::from("The routine, as it is told the first three times (again with --walk):\n");
    for (number, step) in (1..).zip(steps) {
        push(&mut text, format_args!("  {number}. {}", step.words));
    }
    text.push_str(
        "What was seen is noted with --finding: clean, lint, grey-black-oil, black-mark or clear-oil-spot.\n",
    );
    text
}

/// What is told of a task even where it is not due: put off, left out, oiled without a dry run.
#[must_use]
pub fn seen_anyway(besides: &TaskBesides, zone: &TimeZone) -> String {
    let mut text = String::new();
    if let Some(snoozed) = &besides.snoozed {
        let ends = [
            snoozed.run_time_left_ms.map(|left| format!("for another {} of running", run_time(left))),
            snoozed.until_utc_ms.map(|until| format!("until {}", clock(until, zone))),
        ];
        let ends: Vec<String> = ends.into_iter().flatten().collect();
        push(&mut text, format_args!("      Put off {}: {}.", one_of(&ends), snoozed.reason));
    }
    if let Some(skipped) = &besides.skipped {
        let why = skipped.reason.as_deref().map_or_else(String::new, |why| format!(": {why}"));
        push(
            &mut text,
            format_args!(
                "      Left out {} since, last on {}{why}. That counts as not done.",
                count(skipped.times, "time", "times"),
                clock(skipped.last_utc_ms, zone)
            ),
        );
    }
    if besides.dry_run == Some(DryRun::NotFound) {
        push(&mut text, format_args!("      {}", NO_DRY_RUN));
    }
    text
}

const NO_DRY_RUN: &str = "The log shows no dry run around the last oiling: no lone run of 10 seconds to 3 minutes within half an hour. Oil that was not run in marks the yarn.";

/// More of a task that is told at length.
#[must_use]
pub fn details(besides: &TaskBesides) -> String {
    let mut text = String::new();
    for point in &besides.points {
        push(&mut text, format_args!("      - {}: {}", point.point, point.lubricant.words()));
    }
    if let Some(seen) = besides.dry_run {
        let said = dry_run(seen);
        if seen != DryRun::NotFound && !said.is_empty() {
            push(&mut text, format_args!("      {said}"));
        }
    }
    text
}

/// What the log says of a dry run.
fn dry_run(seen: DryRun) -> String {
    match seen {
        DryRun::Found { run_time_ms, strokes, strokes_per_second, .. } => {
            let rate = strokes_per_second.map_or_else(String::new, |rate| format!(", {rate:.1} a second"));
            format!(
                "Dry run in the log: {}, {}{rate}; counted to care.",
                run_time(run_time_ms),
                count(strokes, "stroke", "strokes")
            )
        }
        DryRun::NotFound => NO_DRY_RUN.to_owned(),
        DryRun::NotKnown => {
            "Whether a dry run followed is not known: pull the logger half an hour after the oiling or later."
                .to_owned()
        }
    }
}

/// The record of care.
#[must_use]
pub fn record(report: &RecordReport, zone: &TimeZone) -> String {
    if report.entries.is_empty() {
        return "Nothing about care has been noted yet.\n".to_owned();
    }
    let mut text = String::new();
    for line in &report.entries {
        let mark = if line.counts { "" } else { "  TAKEN BACK" };
        push(
            &mut text,
            format_args!("{:>4}  {}  {}{mark}", line.entry.0, clock(line.at_utc_ms, zone), said(line, zone)),
        );
        if let Some(why) = &line.taken_back_because {
            push(&mut text, format_args!("      taken back because: {why}"));
        }
        if let Some(seen) = line.dry_run {
            push(&mut text, format_args!("      {}", dry_run(seen)));
        }
    }
    text
}

/// What an entry about care says.
#[must_use]
pub fn said(line: &RecordLine, zone: &TimeZone) -> String {
    match &line.said {
        EntryBody::CareDone(CareDone { task, finding, note, .. }) => {
            let finding = finding.map_or_else(String::new, |finding| format!("; {}", finding.words()));
            format!("{} done{finding}{}", task.0, because(note.as_deref()))
        }
        EntryBody::CareSkipped(of) => format!("{} left out{}", of.task.0, because(of.reason.as_deref())),
        EntryBody::CareSnoozed(CareSnoozed { task, for_run, until, reason, .. }) => {
            let ends = [
                for_run.map(|run| format!("for {} of running", run_time(run.0))),
                until.map(|until| format!("until {}", clock(until, zone))),
            ];
            let ends: Vec<String> = ends.into_iter().flatten().collect();
            format!("{} put off {}: {reason}", task.0, one_of(&ends))
        }
        EntryBody::CareLimitSet(of) => format!("{}: own limits set", of.task.0),
        EntryBody::CareTaskAdded(of) => format!("{}: own task, {}", of.task.0, of.what),
        EntryBody::CareTaskSwitched(of) => {
            let state = if of.on { "on" } else { "off" };
            format!("{} switched {state}{}", of.task.0, because(of.reason.as_deref()))
        }
        EntryBody::OilPointChanged(of) => match &of.change {
            OilPointChange::Added(with) => format!("point {} added: {}", of.point, with.words()),
            OilPointChange::Renamed(to) => format!("point {} is called {to}", of.point),
            OilPointChange::Gets(with) => format!("point {} gets {}", of.point, Lubricant::words(with)),
            OilPointChange::Removed => format!("point {} taken away", of.point),
        },
        EntryBody::PartFitted(of) => {
            let mark = of.serial.as_ref().map_or_else(String::new, |serial| format!(" {serial}"));
            let names: Vec<String> = line.does_tasks.iter().map(|name| (*name).to_owned()).collect();
            let does =
                if names.is_empty() { String::new() } else { format!(", which did {}", all_of(&names)) };
            format!("{}{mark} fitted{does}{}", of.part.0, because(of.note.as_deref()))
        }
        EntryBody::PileHeightSet(of) => format!("pile height {} mm", tenths(of.tenths_mm)),
        // The record holds no other kind.
        _ => String::new(),
    }
}

fn because(why: Option<&str>) -> String {
    why.map_or_else(String::new, |why| format!(": {why}"))
}

/// The question after a pull, with a key for each task.
#[must_use]
pub fn press_question(press: &PressAsked, zone: &TimeZone) -> String {
    let keys: Vec<String> = (1..)
        .zip(&press.tasks)
        .map(|(key, task): (u32, _)| {
            format!("{key} {}{}", task.task, if task.is_due { " (due)" } else { "" })
        })
        .collect();
    format!(
        "The care button of {} was pressed {}. What was done? [{}; several together; n nothing, Enter later] ",
        press.machine_name,
        moment(press.press.when, zone),
        keys.join(", ")
    )
}

/// The same where nobody can be asked.
#[must_use]
pub fn press_open(press: &PressAsked, zone: &TimeZone) -> String {
    format!(
        "The care button of {} was pressed {}; say what was done with: needlehours done TASK --when \"...\"",
        press.machine_name,
        moment(press.press.when, zone)
    )
}
