//! Is a care interval right, from what the maker found each time the task was done?
//!
//! What counts as dirty depends on the task: grey-black oil on the wipe or a black mark on the yarn means that oil came too
//! late; lint in the scissor channel means that the brush came too late. A clear oil spot is too much oil, not too little, so it
//! counts as clean. A finding that belongs to another task says nothing here.

use serde::Serialize;
use shared_types::{MachineTag, UtcMillis};

use super::findings::{IntervalReport, interval_report};
use super::running::{RunMeter, RunRange};
use super::staircase::{Finding as Step, Range, StairStep, Staircase, long_run_dirty_share, staircase};
use crate::care::CareTask;
use crate::care::plan::TaskLimits;
use crate::entries::{CareDone, CareLimitSet, EntryBody, Finding, InForce};
use crate::stats::{Look, hours};

/// What a finding says about a task's interval: dirty, clean, or nothing.
#[must_use]
pub fn says_dirty(task: &str, finding: Finding) -> Option<bool> {
    match (task, finding) {
        ("oiling" | "gear-grease", Finding::GreyBlackOil | Finding::BlackMarkOnYarn) => Some(true),
        ("oiling" | "gear-grease", Finding::Clean | Finding::ClearOilSpot) => Some(false),
        ("brush-out", Finding::Lint) => Some(true),
        ("brush-out", Finding::Clean) => Some(false),
        _ => None,
    }
}

/// Whether findings can tell at all if a task comes too late.
#[must_use]
pub fn can_be_judged(task: &str) -> bool {
    [Finding::Lint, Finding::GreyBlackOil].into_iter().any(|finding| says_dirty(task, finding) == Some(true))
}

/// Why a finding is counted, or is not.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Counts {
    /// It counts.
    Counted,
    /// The task was never done before, so its hours are not known.
    FirstTime,
    /// Nothing ran since the last time.
    NothingRan,
    /// Bursts without a date leave the hours too uncertain.
    HoursUncertain,
    /// The finding belongs to another task.
    SaysNothing,
}

/// One finding of the log.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct OwnFinding {
    /// When.
    pub at_utc_ms: UtcMillis,
    /// What was seen.
    pub finding: Finding,
    /// What it says.
    pub dirty: Option<bool>,
    /// At least so many run hours since the task was last done.
    pub hours_at_least: Option<f64>,
    /// At most so many.
    pub hours_at_most: Option<f64>,
    /// Whether it counts.
    pub counts: Counts,
}

impl OwnFinding {
    fn look(&self) -> Option<Look> {
        let hours = f64::midpoint(self.hours_at_least?, self.hours_at_most?);
        let dirty = self.dirty.filter(|_| self.counts == Counts::Counted)?;
        Some(Look { time: hours, dirty })
    }
}

/// What the findings of one task say.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct TaskInterval {
    /// The machine.
    pub machine: MachineTag,
    /// Its name.
    pub machine_name: String,
    /// The task.
    pub task: &'static str,
    /// The interval in force by run hours; none when that limit is off.
    pub every_hours: Option<f64>,
    /// All limits in force; the first that is reached makes it due.
    pub limits: TaskLimits,
    /// The shortest interval that may be proposed.
    pub shortest_hours: f64,
    /// The longest.
    pub longest_hours: f64,
    /// All findings of the task, the oldest first.
    pub findings: Vec<OwnFinding>,
    /// Findings that count since the interval was last set.
    pub findings_since_set: u64,
    /// Clean findings in a row at the end of those.
    pub clean_in_a_row: u32,
    /// Of those, the ones that say nothing about this interval: clean long before it, or dirty long after it.
    pub left_out: u32,
    /// The last ones, where they were dirty long after the interval: it was not kept to.
    pub late_and_dirty: u32,
    /// The interval that the staircase proposes; none: keep it. Nothing is changed by itself.
    pub proposed_hours: Option<f64>,
    /// The share of dirty findings around which the staircase settles.
    pub long_run_dirty_share: f64,
    /// The curve, or what is missing for it.
    pub evidence: IntervalReport,
}

/// A task of a machine, with what is needed to judge it.
#[derive(Clone, Copy, Debug)]
pub struct Asked<'a> {
    /// The maker's entries.
    pub entries: &'a InForce<'a>,
    /// The machine's running.
    pub meter: &'a RunMeter,
    /// The machine.
    pub machine: MachineTag,
    /// Its name.
    pub machine_name: &'a str,
    /// The task.
    pub task: &'static CareTask,
}

/// Judges one task's interval; none when nothing was ever found at it.
#[must_use]
pub fn task_interval(asked: Asked<'_>) -> Option<TaskInterval> {
    let findings = own_findings(asked);
    if findings.is_empty() {
        return None;
    }
    let sets: Vec<(UtcMillis, &CareLimitSet)> = asked
        .entries
        .iter()
        .filter_map(|entry| match &entry.body {
            EntryBody::CareLimitSet(set) if set.machine == asked.machine => Some((entry.entered_at, set)),
            _ => None,
        })
        .collect();
    let (limits, _) = asked.task.limits(sets.iter().map(|(_, set)| *set));
    let last_set = sets
        .iter()
        .filter(|(_, set)| set.task.0.eq_ignore_ascii_case(asked.task.name) && set.every_run.is_some())
        .map(|(at, _)| *at)
        .max();
    let every_hours = limits.run_time_ms.map(hours);
    let (shortest, longest) = asked.task.run_time_range_ms;
    let range = Range { shortest_hours: hours(shortest), longest_hours: hours(longest) };
    let since_set: Vec<Step> = findings
        .iter()
        .filter(|found| last_set.is_none_or(|set| found.at_utc_ms >= set))
        .filter_map(OwnFinding::look)
        .map(|look| Step { hours: look.time, dirty: look.dirty })
        .collect();
    let stairs = every_hours.map(|hours| staircase(&since_set, hours, range));
    let looks: Vec<Look> = findings.iter().filter_map(OwnFinding::look).collect();
    Some(TaskInterval {
        machine: asked.machine,
        machine_name: asked.machine_name.to_owned(),
        task: asked.task.name,
        every_hours,
        limits,
        shortest_hours: range.shortest_hours,
        longest_hours: range.longest_hours,
        findings_since_set: u64::try_from(since_set.len()).unwrap_or(u64::MAX),
        clean_in_a_row: stairs.map_or(0, |stairs| stairs.clean_in_a_row),
        left_out: stairs.map_or(0, |stairs| stairs.left_out),
        late_and_dirty: stairs.map_or(0, |stairs| stairs.late_and_dirty),
        proposed_hours: stairs.and_then(proposed),
        long_run_dirty_share: long_run_dirty_share(),
        evidence: interval_report(&looks),
        findings,
    })
}

const fn proposed(stairs: Staircase) -> Option<f64> {
    match stairs.step {
        StairStep::Keep { .. } => None,
        StairStep::Longer { hours } | StairStep::Shorter { hours } => Some(hours),
    }
}

fn own_findings(asked: Asked<'_>) -> Vec<OwnFinding> {
    let mut done: Vec<&CareDone> = asked
        .entries
        .iter()
        .filter_map(|entry| match &entry.body {
            EntryBody::CareDone(done)
                if done.machine == asked.machine && done.task.0.eq_ignore_ascii_case(asked.task.name) =>
            {
                Some(done)
            }
            _ => None,
        })
        .collect();
    done.sort_by_key(|done| done.at);
    let before = std::iter::once(None).chain(done.iter().map(|done| Some(done.at)));
    done.iter()
        .zip(before)
        .filter_map(|(done, before)| {
            let finding = done.finding?;
            let run = before.map(|before| asked.meter.between(before, done.at));
            let dirty = says_dirty(asked.task.name, finding);
            Some(OwnFinding {
                at_utc_ms: done.at,
                finding,
                dirty,
                hours_at_least: run.map(RunRange::at_least_hours),
                hours_at_most: run.map(RunRange::at_most_hours),
                counts: match (dirty, run) {
                    (None, _) => Counts::SaysNothing,
                    (_, None) => Counts::FirstTime,
                    (_, Some(run)) if run.at_most_ms == 0 => Counts::NothingRan,
                    (_, Some(run)) if !run.is_known() => Counts::HoursUncertain,
                    _ => Counts::Counted,
                },
            })
        })
        .collect()
}

#[cfg(test)]
#[path = "own_findings_tests.rs"]
mod tests;
