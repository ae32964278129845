//! A care task falls due by run time, sessions, days since it was last done or days of standing still, whichever comes first.
//! Run time comes from [`super::history`] and is never estimated here; where it has limits the upper one decides, because too
//! much care harms less than too little. A task that was never done counts all that the machine ever ran.

use std::cmp::Reverse;

use serde::Serialize;
use shared_types::UtcMillis;

use super::done::{Evidence, LastDone};
use super::history::{History, RunSince};
use super::plan::{CareTask, TaskLimits};

/// One day in milliseconds.
pub const DAY_MS: u64 = 86_400_000;
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
}

/// What has been used up since a task was done.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Used {
    /// Run time.
    pub run: RunSince,
    /// Sessions begun.
    pub sessions: u64,
    /// Time since, in milliseconds.
    pub time_ms: u64,
    /// The longest standstill since, in milliseconds.
    pub rest_ms: u64,
}

/// A task with its limits in force, before it is judged.
#[derive(Clone, Copy, Debug)]
pub struct PlannedTask {
    /// The task.
    pub task: &'static CareTask,
    /// Its limits.
    pub limits: TaskLimits,
    /// Whether the maker set any of them.
    pub limits_by_maker: bool,
    /// When it was last done.
    pub last: LastDone,
    /// Whether it applies now.
    pub applies: bool,
}

/// A task as it stands.
#[derive(Clone, Copy, Debug)]
pub struct Due {
    /// The task.
    pub planned: PlannedTask,
    /// How pressing it is.
    pub state: DueState,
    /// The limit that decides, if any is on.
    pub decided_by: Option<LimitKind>,
    /// The share of that limit that is used up, per mille.
    pub used_per_mille: u64,
    /// What was used up.
    pub used: Used,
}

impl Due {
    /// Run time until the limit by run time is reached; below zero when it is passed. Milliseconds.
    #[must_use]
    pub fn remaining_run_ms(&self) -> Option<i64> {
        self.planned.limits.run_time_ms.map(|limit| left(limit, self.used.run.cautious_ms()))
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
pub fn schedule(planned: &[PlannedTask], history: &History, now: UtcMillis) -> Vec<Due> {
    let mut dues: Vec<Due> = planned.iter().map(|task| judge(*task, used(task, history, now))).collect();
    dues.sort_by_key(|due| Reverse((due.state, due.used_per_mille)));
    dues
}

/// What ran and passed since a task was last done.
fn used(planned: &PlannedTask, history: &History, now: UtcMillis) -> Used {
    let moment = planned.last.moment;
    let from = moment.when.earliest().unwrap_or(now);
    let run = match planned.last.evidence {
        Evidence::Never => history.run_ever(),
        Evidence::Entered | Evidence::Pressed | Evidence::ClothPutOn => history.run_since(moment),
    };
    Used {
        run,
        sessions: history.sessions_since(moment),
        time_ms: u64::try_from(now.0.saturating_sub(from.0)).unwrap_or(0),
        rest_ms: history.longest_rest_ms(from, now),
    }
}

/// The rule itself.
#[must_use]
pub fn judge(planned: PlannedTask, used: Used) -> Due {
    let limits = planned.limits;
    let days = |days: u32| u64::from(days) * DAY_MS;
    let shares = [
        (LimitKind::RunTime, limits.run_time_ms, used.run.cautious_ms()),
        (LimitKind::Sessions, limits.sessions.map(u64::from), used.sessions),
        (LimitKind::Days, limits.days.map(days), used.time_ms),
        (LimitKind::IdleDays, limits.idle_days.map(days), used.rest_ms),
    ];
    let first = shares
        .into_iter()
        .filter_map(|(kind, limit, used)| limit.map(|limit| (kind, per_mille(used, limit))))
        // The first of equals, so that run time is named before the others.
        .min_by_key(|(_, share)| Reverse(*share));
    let share = first.map_or(0, |(_, share)| share);
    let state = match share {
        _ if first.is_none() || !planned.applies => DueState::NotNow,
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
