//! A care task falls due by run time, strokes, sessions, days since it was last done, days of standing still, a tear, a change
//! of the pile height or the first hours of a new machine, whichever comes first. What the maker put off waits and stays seen.
//! A limit by sessions makes a task end-of-day care: asked for in the evening of a day worked, never due and never overdue.
//! Run time comes from [`super::history`] and is never estimated here; where it has limits the upper one decides, because too
//! much care harms less than too little. A task that was never done counts all that the machine ever ran.

use std::cmp::Reverse;

use serde::Serialize;

use super::done::LastDone;
use super::history::RunSince;
use super::plan::{Task, TaskLimits};
use super::since::SinceDone;
use crate::stats::DAY_MS;

/// From this share of a limit on a task is due soon; per mille.
pub const SOON_FROM: u64 = 800;
/// From this share of a limit on a task is overdue; per mille.
pub const OVERDUE_FROM: u64 = 1500;

/// How pressing a task is, from the least to the most.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum DueState {
    /// It does not apply now: no cloth is on the frame, or every limit is off.
    NotNow,
    /// Below four fifths of every limit.
    Fine,
    /// From four fifths of a limit on.
    Soon,
    /// A limit by sessions is reached, and no other: it is done at the end of a day worked.
    EndOfDay,
    /// It would be due, but the maker put it off.
    Snoozed,
    /// A limit is reached.
    Due,
    /// One and a half times a limit is reached.
    Overdue,
}

/// Which limit is the first to be reached.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum LimitKind {
    /// Run time.
    RunTime,
    /// Sessions.
    Sessions,
    /// Days since it was done.
    Days,
    /// Days of standing still.
    IdleDays,
    /// Strokes.
    Strokes,
    /// A tear.
    Tear,
    /// A change of the pile height.
    PileHeight,
    /// The first hours of a new machine.
    RunningIn,
}

/// What has been used up since a task was done.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Used {
    /// Run time.
    pub run: RunSince,
    /// Sessions begun.
    pub sessions: u64,
    /// Local days on which they began.
    pub days_worked: u64,
    /// Time since, in milliseconds.
    pub time_ms: u64,
    /// The longest standstill since, in milliseconds.
    pub rest_ms: u64,
    /// All that the machine ever ran, in milliseconds.
    pub run_ever_ms: u64,
}

/// What else bears on a task.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Besides {
    /// Whole strokes since it was done.
    pub strokes: u64,
    /// Tears since.
    pub tears: u64,
    /// Changes of the pile height since.
    pub pile_heights: u64,
    /// The run time of the whole machine at which a new machine asks for it next, in milliseconds.
    pub running_in_at_ms: Option<u64>,
    /// Whether the maker put it off.
    pub is_snoozed: bool,
    /// Run time until the putting off ends, where it ends by run time. Milliseconds.
    pub snooze_run_left_ms: Option<u64>,
}

/// A task with its limits in force, before it is judged.
#[derive(Clone, Copy, Debug)]
pub struct PlannedTask<'a> {
    /// The task.
    pub task: Task<'a>,
    /// Its limits.
    pub limits: TaskLimits,
    /// Whether the maker set any of them.
    pub limits_by_maker: bool,
    /// When it was last done.
    pub last: LastDone,
    /// Whether it applies now.
    pub applies: bool,
    /// What else bears on it.
    pub besides: Besides,
}

/// A task as it stands.
#[derive(Clone, Copy, Debug)]
pub struct Due<'a> {
    /// The task.
    pub planned: PlannedTask<'a>,
    /// How pressing it is.
    pub state: DueState,
    /// The limit that decides, if any is on.
    pub decided_by: Option<LimitKind>,
    /// The share of that limit that is used up, per mille.
    pub used_per_mille: u64,
    /// What was used up.
    pub used: Used,
}

impl Due<'_> {
    /// Run time until the nearer limit by run time is reached; below zero when it is passed. Milliseconds.
    #[must_use]
    pub fn remaining_run_ms(&self) -> Option<i64> {
        let limit = self.planned.limits.run_time_ms;
        let running_in = self.planned.besides.running_in_at_ms;
        let since = limit.map(|limit| left(limit, self.used.run.cautious_ms()));
        since.into_iter().chain(running_in.map(|at| left(at, self.used.run_ever_ms))).min()
    }

    /// Time until the nearer limit by calendar is reached; below zero when it is passed. Milliseconds.
    #[must_use]
    pub fn remaining_time_ms(&self) -> Option<i64> {
        let limits = self.planned.limits;
        let days = limits.days.map(|days| left(u64::from(days) * DAY_MS, self.used.time_ms));
        let idle = limits.idle_days.map(|days| left(u64::from(days) * DAY_MS, self.used.rest_ms));
        days.into_iter().chain(idle).min()
    }

    /// Whether it should be done now.
    #[must_use]
    pub fn is_due(&self) -> bool {
        self.state >= DueState::Due
    }
}

/// Judges every task and puts the most pressing first.
#[must_use]
pub fn schedule<'a>(planned: &[PlannedTask<'a>], done: &mut SinceDone<'_>) -> Vec<Due<'a>> {
    let mut dues: Vec<Due<'a>> = planned.iter().map(|task| judge(*task, used(task, done))).collect();
    dues.sort_by_key(|due| Reverse((due.state, due.used_per_mille)));
    dues
}

/// What ran and passed since a task was last done.
fn used(planned: &PlannedTask<'_>, done: &mut SinceDone<'_>) -> Used {
    let now = done.now();
    let from = planned.last.moment.when.earliest().unwrap_or(now);
    let since = done.since(&planned.last);
    Used {
        run: since.run,
        sessions: since.sessions,
        days_worked: since.days_worked,
        time_ms: u64::try_from(now.0.saturating_sub(from.0)).unwrap_or(0),
        rest_ms: since.rest_ms,
        run_ever_ms: done.ever.cautious_ms(),
    }
}

/// The rule itself.
#[must_use]
pub fn judge(planned: PlannedTask<'_>, used: Used) -> Due<'_> {
    let (limits, besides) = (planned.limits, planned.besides);
    // One tear asks as loudly as three: it was only not yet looked at.
    let once = |wanted: bool, count: u64| (wanted.then_some(1), count.min(1));
    let (tear, tears) = once(limits.after_tear, besides.tears);
    let (pile_height, pile_heights) = once(limits.after_pile_height, besides.pile_heights);
    let days = |days: u32| u64::from(days) * DAY_MS;
    let shares = [
        (LimitKind::RunTime, limits.run_time_ms, used.run.cautious_ms()),
        (LimitKind::Days, limits.days.map(days), used.time_ms),
        (LimitKind::IdleDays, limits.idle_days.map(days), used.rest_ms),
        (LimitKind::Strokes, limits.strokes, besides.strokes),
        (LimitKind::Tear, tear, tears),
        (LimitKind::PileHeight, pile_height, pile_heights),
        (LimitKind::RunningIn, besides.running_in_at_ms, used.run_ever_ms),
    ];
    let by_sessions =
        limits.sessions.map(|limit| (LimitKind::Sessions, per_mille(used.sessions, limit.into())));
    let first = shares
        .into_iter()
        .filter_map(|(kind, limit, used)| limit.map(|limit| (kind, per_mille(used, limit))))
        // The first of equals, so that run time is named before the others.
        .min_by_key(|(_, share)| Reverse(*share));
    let is_asked = |(_, share): &(LimitKind, u64)| *share >= 1000;
    let evening = by_sessions.filter(is_asked).filter(|_| !first.as_ref().is_some_and(is_asked));
    let first = evening.or(first).or(by_sessions);
    let share = first.map_or(0, |(_, share)| share);
    let state = match share {
        _ if first.is_none() || !planned.applies => DueState::NotNow,
        1000.. if besides.is_snoozed => DueState::Snoozed,
        _ if evening.is_some() => DueState::EndOfDay,
        OVERDUE_FROM.. => DueState::Overdue,
        1000.. => DueState::Due,
        SOON_FROM.. => DueState::Soon,
        _ => DueState::Fine,
    };
    Due { planned, state, decided_by: first.map(|(kind, _)| kind), used_per_mille: share, used }
}

/// A share in whole per mille, rounded down: 1000 exactly when the limit is reached, and never before.
fn per_mille(used: u64, limit: u64) -> u64 {
    let share = u128::from(used) * 1000 / u128::from(limit.max(1));
    u64::try_from(share).unwrap_or(u64::MAX)
}

fn left(limit: u64, used: u64) -> i64 {
    let of = |value: u64| i64::try_from(value).unwrap_or(i64::MAX);
    of(limit).saturating_sub(of(used))
}

#[cfg(test)]
#[path = "schedule_tests.rs"]
mod tests;
