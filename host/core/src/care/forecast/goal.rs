//! What is waited for, and the moment at which a drawn future gets there.

use super::week::as_float;

/// What is reached with the last of a day's running is reached on that day.
pub(super) const END_OF_DAY: f64 = 0.999_999;

/// What is waited for; whichever comes first.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Goal {
    /// So much run time.
    pub run_ms: Option<u64>,
    /// So many sessions begun.
    pub sessions: Option<u64>,
    /// A fixed moment, in days after the beginning of today.
    pub fixed_days: Option<f64>,
    /// Standing still for so many days in a row.
    pub still: Option<Still>,
}

impl Goal {
    /// Whether a fixed moment is all that is waited for.
    pub(super) const fn is_by_calendar_alone(&self) -> bool {
        self.run_ms.is_none() && self.sessions.is_none() && self.still.is_none()
    }
}

/// A limit by standing still.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Still {
    /// So many days in a row.
    pub limit_days: f64,
    /// The standstill began so many days after the beginning of today; below zero when before it.
    pub since_days: f64,
}

/// A day of a drawn future.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct DayAhead {
    /// When it begins, in days after the beginning of today.
    pub start: f64,
    /// The share of it that is past.
    pub over: f64,
    /// Run time on it, in milliseconds.
    pub run_ms: f64,
    /// Sessions begun on it.
    pub sessions: f64,
    /// Run time from now until its beginning, in milliseconds.
    pub run_before_ms: f64,
    /// Sessions begun from now until its beginning.
    pub sessions_before: f64,
}

/// How far one future is from a goal.
#[derive(Clone, Copy, Debug)]
pub(super) struct Wait {
    run_ms: f64,
    sessions: f64,
    fixed_days: f64,
    still: Option<Still>,
    reached: Option<f64>,
}

impl Wait {
    pub(super) fn begun(goal: &Goal) -> Self {
        Self {
            run_ms: goal.run_ms.map_or(f64::INFINITY, as_float),
            sessions: goal.sessions.map_or(f64::INFINITY, as_float),
            fixed_days: goal.fixed_days.unwrap_or(f64::INFINITY),
            still: goal.still,
            reached: None,
        }
    }

    /// Whether nothing from this moment on can change when it is reached.
    pub(super) fn is_over(&self, from: f64) -> bool {
        self.reached.is_some() || from > self.fixed_days
    }

    /// When it was reached, in days after the beginning of today; infinite when it was not.
    pub(super) fn moment(&self) -> f64 {
        self.reached.unwrap_or(f64::INFINITY).min(self.fixed_days)
    }

    /// Lets some days of one week pass.
    pub(super) fn pass(&mut self, days: &[DayAhead]) {
        let Some(last) = days.last() else { return };
        let is_far = self.run_ms > last.run_before_ms + last.run_ms
            && self.sessions > last.sessions_before + last.sessions
            && self.still.is_none();
        if !is_far && self.reached.is_none() {
            self.reached = days.iter().find_map(|day| self.reached_on(day));
        }
    }

    fn reached_on(&mut self, day: &DayAhead) -> Option<f64> {
        let DayAhead { start, over, run_ms, sessions, .. } = *day;
        let at = |share: f64| start + over + (1.0 - over) * share.clamp(0.0, END_OF_DAY);
        let left = self.run_ms - day.run_before_ms;
        let ran = (run_ms > 0.0 && run_ms >= left).then(|| at(left / run_ms));
        let left = self.sessions - day.sessions_before;
        let begun = (sessions > 0.0 && sessions >= left).then(|| at(left / (sessions + 1.0)));
        // A day that runs is no day of standing still, at whatever hour it ran.
        let can_stand_until = if run_ms > 0.0 { start + over } else { start + 1.0 };
        let stood = self.still.map(|still| still.since_days + still.limit_days);
        let stood = stood.filter(|due| *due < can_stand_until).map(|due| due.max(start + over));
        if let Some(still) = self.still.as_mut().filter(|_| run_ms > 0.0) {
            still.since_days = start + 1.0;
        }
        stood.into_iter().chain(ran).chain(begun).min_by(f64::total_cmp)
    }
}
