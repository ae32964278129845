//! What `due` tells of a task besides its limits: what else bears on it, what was put off or left out, its points, its dry run.

use serde::Serialize;
use shared_types::UtcMillis;

use super::done::{CareNotes, Evidence, LastDone};
use super::grounds::Grounds;
use super::history::History;
use super::plan::Task;
use super::points::{OilPoint, never_oiled, points};
use super::schedule::{self, Besides};
use super::since::SinceDone;
use crate::entries::{EntryId, GEAR_GREASE, OILING};
use crate::sessions::dry_run_check::{self, DryRun};
use crate::stats::HOUR_MS;
use crate::studio::MachineCard;

/// A new machine asks for a task already done within so much run time before, in milliseconds; half an hour.
pub const RUNNING_IN_COVERS_MS: u64 = HOUR_MS / 2;

/// A task that was put off.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct SnoozeLine {
    /// When.
    pub at_utc_ms: UtcMillis,
    /// Why.
    pub reason: String,
    /// Until this moment, where it ends by date.
    pub until_utc_ms: Option<UtcMillis>,
    /// Run time until it ends, where it ends by run time.
    pub run_time_left_ms: Option<u64>,
}

/// A task that was left out since it was last done.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct SkipLine {
    /// How often.
    pub times: u64,
    /// The last time.
    pub last_utc_ms: UtcMillis,
    /// Why, the last time.
    pub reason: Option<String>,
}

/// What else is told of a task; part of its JSON object.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct TaskBesides {
    /// Whole strokes since it was done.
    pub strokes_since: u64,
    /// Tears since.
    pub tears_since: u64,
    /// Changes of the pile height since.
    pub pile_height_changes_since: u64,
    /// The run time of the machine at which a new machine asks for it next.
    pub running_in_at_run_time_ms: Option<u64>,
    /// If it is put off now.
    pub snoozed: Option<SnoozeLine>,
    /// If it was left out since it was done.
    pub skipped: Option<SkipLine>,
    /// Its points, each with its lubricant.
    pub points: Vec<OilPoint>,
    /// What must stay dry.
    pub keep_dry: Vec<&'static str>,
    /// The dry run after it was last done; null for a task without one, or never done.
    pub dry_run: Option<DryRun>,
    /// Where the start values come from.
    pub basis: &'static str,
    /// The entry that says that it was last done: of the care, or of the fitting of a new part.
    pub last_done_entry: Option<EntryId>,
    /// The part whose fitting, of a new one, is this task done.
    pub part: Option<String>,
}

/// The run time at which a new machine asks for a task next: the first of the task's that is not yet covered.
#[must_use]
pub fn running_in_at_ms(task: &Task<'_>, is_new: bool, run_at_last_ms: u64) -> Option<u64> {
    let covered = |at: u64| run_at_last_ms.saturating_add(RUNNING_IN_COVERS_MS) >= at;
    task.running_in_ms.iter().copied().filter(|_| is_new).find(|at| !covered(*at))
}

/// What bears on a task of a machine besides its limits. A machine is new when its owner said that it had run no hour before.
#[must_use]
pub fn besides(
    notes: &CareNotes<'_>,
    done: &mut SinceDone<'_>,
    machine: &MachineCard,
    task: &Task<'_>,
    last: &LastDone,
) -> Besides {
    let is_new = machine.before_logger.is_some_and(|before| before.0 == 0);
    let since = done.since(last);
    let run_at_last_ms = match last.evidence {
        Evidence::Never => 0,
        _ => done.ever.cautious_ms().saturating_sub(since.run.cautious_ms()),
    };
    let snooze = notes.snooze(task.name, last, done.history(), done.now());
    Besides {
        strokes: machine.ratio.strokes(since.edges),
        tears: notes.tears_since(last),
        pile_heights: notes.pile_heights_since(last),
        running_in_at_ms: running_in_at_ms(task, is_new, run_at_last_ms),
        is_snoozed: snooze.is_some(),
        snooze_run_left_ms: snooze.and_then(|snooze| snooze.run_left_ms),
    }
}

/// The same for the maker.
#[must_use]
pub fn told(
    grounds: Grounds<'_>,
    notes: &CareNotes<'_>,
    machine: &MachineCard,
    planned: &schedule::PlannedTask<'_>,
    now: UtcMillis,
    history: &History,
) -> TaskBesides {
    let (task, last, of) = (planned.task, planned.last, planned.besides);
    let snooze = notes.snooze(task.name, &last, history, now);
    let (times, skipped) = notes.skipped_since(task.name, &last);
    let is_oiled = task.name == OILING || task.name == GEAR_GREASE;
    let all = points(machine.pile, machine.drive, machine.tag, notes.points.iter().copied());
    let oiled_at = last.moment.when.earliest().filter(|_| last.evidence != Evidence::Never);
    TaskBesides {
        strokes_since: of.strokes,
        tears_since: of.tears,
        pile_height_changes_since: of.pile_heights,
        running_in_at_run_time_ms: of.running_in_at_ms,
        snoozed: snooze.map(|snooze| SnoozeLine {
            at_utc_ms: snooze.entry.at,
            reason: snooze.entry.reason.clone(),
            until_utc_ms: snooze.entry.until,
            run_time_left_ms: snooze.run_left_ms,
        }),
        skipped: skipped.map(|skipped| SkipLine {
            times,
            last_utc_ms: skipped.at,
            reason: skipped.reason.clone(),
        }),
        points: all.into_iter().filter(|point| is_oiled && point.lubricant.task() == task.name).collect(),
        keep_dry: if task.name == OILING { never_oiled(machine.drive).to_vec() } else { Vec::new() },
        dry_run: oiled_at
            .filter(|_| task.name == OILING && !grounds.studio.is_without_logger(machine.tag))
            .map(|at| dry_run_check::check(grounds.ledger, grounds.heard, machine.tag, machine.ratio, at)),
        basis: task.basis,
        last_done_entry: notes.entry_of(&task, &last),
        part: task.part.map(str::to_owned),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::care::tasks::task;

    fn screws_at(is_new: bool, run_at_last_ms: u64) -> Option<u64> {
        task("screws").and_then(|task| running_in_at_ms(task, is_new, run_at_last_ms))
    }

    #[test]
    fn a_new_machines_screws_are_tried_at_one_five_and_ten_hours() {
        assert_eq!(screws_at(true, 0), Some(HOUR_MS));
        // Half an hour early is early enough, a millisecond more is not.
        assert_eq!(screws_at(true, HOUR_MS / 2 - 1), Some(HOUR_MS));
        assert_eq!(screws_at(true, HOUR_MS / 2), Some(5 * HOUR_MS));
        assert_eq!(screws_at(true, 5 * HOUR_MS), Some(10 * HOUR_MS));
        assert_eq!(screws_at(true, 10 * HOUR_MS), None);
        assert_eq!(screws_at(false, 0), None);
    }

    #[test]
    fn a_new_machine_is_oiled_every_two_hours_of_its_first_ten() {
        let at = |ran| task("oiling").and_then(|task| running_in_at_ms(task, true, ran));
        let asked: Vec<_> = [0, 2, 4, 6, 8, 10].map(|hours| at(hours * HOUR_MS)).to_vec();
        let hours = |hours: u64| Some(hours * HOUR_MS);
        assert_eq!(asked, [hours(2), hours(4), hours(6), hours(8), hours(10), None]);
    }

    #[test]
    fn having_done_it_later_never_makes_a_new_machine_ask_sooner() {
        let mut before = Some(0);
        for minutes in 0..700 {
            let now = screws_at(true, minutes * 60_000);
            assert!(now.is_none_or(|now| before.is_some_and(|before| before <= now)), "{minutes}");
            before = now;
        }
    }
}
