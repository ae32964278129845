//! When will so much run time be used up? The maker's own whole weeks are drawn again, over and over, and laid end to end.
//!
//! A week is drawn as a whole, so its days keep their places. Whether it stands idle follows from how often the maker's weeks
//! began and ended to stand idle; else one of the weeks that ran is drawn, and made longer or shorter by how the pace of then and
//! the pace to come differ (`pace`, `way`). How little a short history tells widens the range by itself: each life has its own
//! course of the pace, drawn from those that explain the weeks that were.

use super::life::{Lived, Lives, Living};
use super::memory::Memory;

/// Days in a week.
pub const WEEK: usize = 7;
/// Whole weeks below which there is no date.
pub const LEAST_WEEKS: usize = 4;
/// Whole weeks up to which prior weeks fill a history up.
pub const ENOUGH_WEEKS: usize = 8;
/// How many futures are drawn.
pub const DRAWS: usize = 500;
/// Weeks after which a future is given up: three years.
pub const HORIZON_WEEKS: usize = 156;
/// What is reached with the last of a day's running is reached on that day.
const END_OF_DAY: f64 = 0.999_999;

/// What ran on one day.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Day {
    /// Run time.
    pub run_ms: u64,
    /// Sessions begun.
    pub sessions: u32,
}

/// A week, Monday first.
pub type Week = [Day; WEEK];

/// What is known of the maker's weeks.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Past {
    /// Whole weeks, the oldest first.
    pub weeks: Vec<Week>,
    /// Of each whole week, what ran on today's day of the week after this time of day.
    pub rests: Vec<Day>,
    /// This week until now.
    pub this_week: Week,
    /// Today's day of the week; Monday is 0.
    pub weekday: usize,
    /// The share of today that is over; 0 up to 1.
    pub today_over: f64,
}

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

/// A limit by standing still.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Still {
    /// So many days in a row.
    pub limit_days: f64,
    /// The standstill began so many days after the beginning of today; below zero when before it.
    pub since_days: f64,
}

/// Moments at which the goal was reached, in days after the beginning of today, in order; within a day, its running is taken as
/// spread evenly. Infinite where it was not within [`HORIZON_WEEKS`]. Empty with fewer than [`LEAST_WEEKS`] whole weeks.
#[must_use]
pub fn futures(past: &Past, goal: &Goal, memory: &Memory, draws: usize, seed: u64) -> Vec<f64> {
    reached(past, &Lives::drawn(past, memory, draws, seed), goal)
}

/// The same for lives that were drawn from this past.
#[must_use]
pub fn reached(past: &Past, lives: &Lives, goal: &Goal) -> Vec<f64> {
    let mut reached: Vec<f64> = lives.each(past).map(|living| reached_by(past, living, goal)).collect();
    reached.sort_by(f64::total_cmp);
    reached
}

fn reached_by(past: &Past, mut living: Living<'_>, goal: &Goal) -> f64 {
    let fixed = goal.fixed_days.unwrap_or(f64::INFINITY);
    let mut count =
        Count { run_ms: 0.0, sessions: 0.0, still_since: goal.still.map(|still| still.since_days) };
    for ahead in 0..HORIZON_WEEKS {
        let monday = float(ahead * WEEK) - float(past.weekday);
        if monday > fixed {
            break;
        }
        let Lived { week, factor } = living.next();
        let (first, over) = if ahead == 0 { (past.weekday, past.today_over) } else { (0, 0.0) };
        for (index, day) in week.iter().enumerate().skip(first) {
            let over = if index == first { over } else { 0.0 };
            if let Some(at) = count.day(*day, factor, monday + float(index), over, goal) {
                return at.min(fixed);
            }
        }
    }
    fixed
}

/// How many prior weeks a history of so many whole weeks is filled up with.
#[must_use]
pub const fn prior_weeks(whole_weeks: usize) -> usize {
    ENOUGH_WEEKS.saturating_sub(whole_weeks)
}

/// The place, in so many values in order, below which this share of them lies; the nearest whole one.
#[must_use]
pub fn rank(count: usize, share: f64) -> usize {
    whole_number((float(count.saturating_sub(1)) * share).round())
}

/// How far one future has come.
struct Count {
    run_ms: f64,
    sessions: f64,
    still_since: Option<f64>,
}

impl Count {
    /// Lets one day pass of which the share `over` is past; the moment at which the goal was reached, if it was.
    fn day(&mut self, day: Day, factor: f64, start: f64, over: f64, goal: &Goal) -> Option<f64> {
        let run = as_float(day.run_ms) * factor;
        let sessions = if run > 0.0 { f64::from(day.sessions) } else { 0.0 };
        let at = |share: f64| start + over + (1.0 - over) * share.clamp(0.0, END_OF_DAY);
        // A day that runs is no day of standing still, at whatever hour it ran.
        let can_stand_until = if run > 0.0 { start + over } else { start + 1.0 };
        let stood = goal.still.zip(self.still_since).map(|(still, since)| since + still.limit_days);
        let stood = stood.filter(|due| *due < can_stand_until).map(|due| due.max(start + over));
        let left = goal.run_ms.map(|left| as_float(left) - self.run_ms);
        let ran = left.filter(|left| run > 0.0 && run >= *left).map(|left| at(left / run));
        let left = goal.sessions.map(|left| as_float(left) - self.sessions);
        let begun =
            left.filter(|left| sessions > 0.0 && sessions >= *left).map(|left| at(left / (sessions + 1.0)));
        self.run_ms += run;
        self.sessions += sessions;
        if run > 0.0 {
            self.still_since = Some(start + 1.0);
        }
        stood.into_iter().chain(ran).chain(begun).min_by(f64::total_cmp)
    }
}

/// Run time of a week, in milliseconds.
pub(super) fn run_in(week: &Week) -> f64 {
    week.iter().map(|day| as_float(day.run_ms)).sum()
}

#[expect(clippy::cast_precision_loss, reason = "run times stay far below 2^53 ms")]
pub(super) fn as_float(value: u64) -> f64 {
    value as f64
}

#[expect(clippy::cast_precision_loss, reason = "a number of weeks, days or draws")]
pub(super) fn float(value: usize) -> f64 {
    value as f64
}

#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "held to a range that fits")]
fn whole_number(value: f64) -> usize {
    value.clamp(0.0, 1e6) as usize
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a run time times a small factor"
)]
pub(super) fn times(run_ms: u64, factor: f64) -> u64 {
    (as_float(run_ms) * factor) as u64
}

#[cfg(test)]
#[path = "resample_tests.rs"]
mod tests;
