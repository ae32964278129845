//! When will so much run time be used up? The maker's own whole weeks are drawn again, over and over, and laid end to end.
//!
//! A week is drawn as a whole, so its days keep their places and its idle days stay idle. The next week is one of the weeks
//! before it, a recent one more probably than an old one; weeks that were drawn count as weeks before, too. So a rush, a rest
//! or a new habit lasts for a while in what is drawn, as it does in a life, and how little a short history tells widens the
//! range by itself. Often the week after the one drawn last follows, so that what came in a row comes in a row again. On top of
//! that the pace as a whole is a little uncertain, may grow as it grew, wanders, and sometimes changes for good.

use rand::{Rng as _, SeedableRng as _};
use rand_chacha::ChaCha8Rng;
use rand_distr::StandardNormal;

use super::goal::{DayAhead, Goal, Wait};
use super::habit::Habit;
use super::resampling_params::{PRIOR_WEEKS, ResamplingParams};
use super::week::{Day, LEAST_WEEKS, WEEK, Week, as_float, float, run_in};

/// Whole weeks up to which prior weeks fill a history up.
pub const ENOUGH_WEEKS: usize = 8;
/// How many futures are drawn.
pub const DRAWS: usize = 500;
/// Weeks after which a future is given up: three years.
pub const HORIZON_WEEKS: usize = 156;
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

/// A week of a drawn future.
#[derive(Clone, Copy, Debug)]
struct Drawn {
    /// Which whole week; their number stands for this week.
    week: usize,
    /// Times this.
    factor: f64,
    /// Its days moved on by so many.
    shift: usize,
}

/// For each goal the moments at which it was reached, in days after the beginning of today, in order; within a day, its running
/// is taken as spread evenly. Infinite where it was not within [`HORIZON_WEEKS`]. Empty with fewer than [`LEAST_WEEKS`] whole
/// weeks. All goals see the same futures, which depend on none of them.
#[must_use]
pub fn futures(
    past: &Past,
    goals: &[Goal],
    params: &ResamplingParams,
    draws: usize,
    seed: u64,
) -> Vec<Vec<f64>> {
    let draws = if past.weeks.len() < LEAST_WEEKS { 0 } else { draws };
    let mut future = Future::new(past, params, seed);
    let mut reached = vec![Vec::with_capacity(draws); goals.len()];
    let mut waits = Vec::with_capacity(goals.len());
    for stream in (0_u64..).take(draws) {
        waits.clear();
        waits.extend(goals.iter().map(Wait::begun));
        future.draw(&mut waits, stream);
        for (reached, wait) in reached.iter_mut().zip(&waits) {
            reached.push(wait.moment());
        }
    }
    for reached in &mut reached {
        reached.sort_by(f64::total_cmp);
    }
    reached
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

struct Future<'a> {
    past: &'a Past,
    params: &'a ResamplingParams,
    habit: Habit,
    seeded: ChaCha8Rng,
    rng: ChaCha8Rng,
    /// History, this week, and what was drawn.
    row: Vec<Drawn>,
    /// This week, its rest drawn.
    this_week: Week,
    /// Whole weeks that ran, with their run time.
    working: Vec<(usize, f64)>,
}

impl<'a> Future<'a> {
    fn new(past: &'a Past, params: &'a ResamplingParams, seed: u64) -> Self {
        let whole = past.weeks.len();
        let habit = Habit::of(&past.weeks, params);
        let runs = past.weeks.iter().map(run_in).enumerate();
        let seeded = ChaCha8Rng::seed_from_u64(seed);
        Self {
            past,
            params,
            habit,
            rng: seeded.clone(),
            seeded,
            // Old weeks at today's pace.
            row: (0..whole)
                .map(|week| Drawn { week, factor: (habit.growth * float(whole - week)).exp(), shift: 0 })
                .collect(),
            this_week: past.this_week,
            working: runs.filter(|(_, run)| *run > 0.0).collect(),
        }
    }

    /// Draws one future until nothing is waited for. Each has a stream of its own, so that the same life is lived for a nearer
    /// and for a further goal.
    fn draw(&mut self, waits: &mut [Wait], stream: u64) {
        self.rng = self.seeded.clone();
        self.rng.set_stream(stream);
        let whole = self.past.weeks.len();
        self.row.truncate(whole);
        let mut pace = Pace::drawn(self.params, &self.habit, &mut self.rng);
        let (mut run_ms, mut sessions) = (0.0, 0.0);
        let mut follows = whole;
        for ahead in 0..HORIZON_WEEKS {
            let monday = float(ahead * WEEK) - float(self.past.weekday);
            if waits.iter().all(|wait| wait.is_over(monday)) {
                break;
            }
            let (drawn, at) = if ahead == 0 { self.alike() } else { self.next(follows) };
            follows = at + 1;
            let factor = drawn.factor * pace.next(&mut self.rng);
            let (week, first, over) = if ahead == 0 {
                (self.rest_of_this_week(drawn), self.past.weekday, self.past.today_over)
            } else {
                (self.week(drawn), 0, 0.0)
            };
            self.row.push(if ahead == 0 { Drawn { week: whole, factor: 1.0, shift: 0 } } else { drawn });
            let mut days = [DayAhead::default(); WEEK];
            for ((index, day), ahead) in week.iter().enumerate().zip(&mut days).skip(first) {
                let run = as_float(day.run_ms) * factor;
                *ahead = DayAhead {
                    start: monday + float(index),
                    over: if index == first { over } else { 0.0 },
                    run_ms: run,
                    sessions: if run > 0.0 { f64::from(day.sessions) } else { 0.0 },
                    run_before_ms: run_ms,
                    sessions_before: sessions,
                };
                run_ms += ahead.run_ms;
                sessions += ahead.sessions;
            }
            for wait in waits.iter_mut() {
                wait.pass(days.get(first..).unwrap_or_default());
            }
        }
    }

    /// A week for the rest of this one: where it can be had, one that had stood still until this day as this one has, or had not.
    fn alike(&mut self) -> (Drawn, usize) {
        let whole = self.past.weeks.len();
        let so_far = self.past.weekday;
        let stood_still = |week: &Week| week.iter().take(so_far).all(|day| day.run_ms == 0);
        let is_still = stood_still(&self.past.this_week);
        let mut found = self.next(whole);
        for _ in 0..3 {
            if found.0.factor <= 0.0 || stood_still(&self.week(found.0)) == is_still {
                break;
            }
            found = self.next(whole);
        }
        found
    }

    /// One more week, and its place in the row.
    fn next(&mut self, follows: usize) -> (Drawn, usize) {
        let (whole, ahead) = (self.past.weeks.len(), self.row.len());
        let prior = float(prior_weeks(whole));
        if self.rng.random::<f64>() < (prior / (prior + float(ahead))).max(self.params.prior_share) {
            return self.prior();
        }
        let follow = self.rng.random::<f64>() < self.params.follow_share && follows < ahead;
        let place = if follow { follows } else { ahead - self.back(ahead) };
        (self.row.get(place).copied().unwrap_or(Drawn { week: 0, factor: 1.0, shift: 0 }), place)
    }

    /// A prior week, with the days of one of the maker's own that ran.
    fn prior(&mut self) -> (Drawn, usize) {
        let times = PRIOR_WEEKS.get(self.below(PRIOR_WEEKS.len())).copied().unwrap_or(1.0);
        let place = self.below(self.working.len());
        let own = self.working.get(place).copied();
        let anew = self.rng.random::<f64>() < 1.0 / float(self.working.len() + 1);
        let shift = if anew { 1 + self.below(WEEK - 1) } else { 0 };
        own.map_or((Drawn { week: 0, factor: 0.0, shift: 0 }, 0), |(week, run)| {
            (Drawn { week, factor: times * self.habit.usual_run_ms / run, shift }, week)
        })
    }

    /// How many weeks back; from 1 to `most`.
    fn back(&mut self, most: usize) -> usize {
        let is_near = self.rng.random::<f64>() < self.params.near_share;
        if !is_near && self.rng.random::<f64>() < self.params.any_share {
            return 1 + self.below(most);
        }
        let mean = if is_near { self.params.near_weeks } else { self.params.far_weeks };
        // A geometric number, cut off at the beginning of the row.
        let kept = 1.0 - 1.0 / mean.max(1.01);
        let within = 1.0 - kept.powf(float(most));
        let steps = (1.0 - self.rng.random::<f64>() * within).ln() / kept.ln();
        1 + whole_number(steps).min(most.saturating_sub(1))
    }

    /// A whole number below `end`; 0 when that is 0.
    fn below(&mut self, end: usize) -> usize {
        self.rng.random_range(0..end.max(1))
    }

    fn week(&self, drawn: Drawn) -> Week {
        let mut week = self.past.weeks.get(drawn.week).copied().unwrap_or(self.this_week);
        week.rotate_right(drawn.shift % WEEK);
        week
    }

    /// The drawn week with what is still to come of today; remembers this week as it will have been, so that it can be drawn.
    fn rest_of_this_week(&mut self, drawn: Drawn) -> Week {
        let mut week = self.week(drawn);
        let rest = self.past.rests.get(drawn.week).filter(|_| drawn.shift == 0);
        if let (Some(today), Some(rest)) = (week.get_mut(self.past.weekday), rest) {
            *today = *rest;
        }
        self.this_week = self.past.this_week;
        let to_come = self.this_week.iter_mut().zip(week).skip(self.past.weekday);
        for (day, more) in to_come.filter(|_| drawn.factor > 0.0) {
            day.run_ms = day.run_ms.saturating_add(times(more.run_ms, drawn.factor));
            day.sessions = day.sessions.saturating_add(more.sessions);
        }
        week
    }
}

/// How fast one future goes by, against what its weeks say.
struct Pace {
    now: f64,
    growth: f64,
    wander: f64,
    jump: (f64, f64),
}

impl Pace {
    fn drawn(params: &ResamplingParams, habit: &Habit, rng: &mut ChaCha8Rng) -> Self {
        let deviation = params.pace.hypot(params.pace_of_mean * habit.mean_variance.sqrt());
        Self {
            now: (params.lift * habit.mean_variance + deviation * normal(rng)).exp(),
            growth: (habit.growth + habit.growth_deviation * normal(rng)).exp(),
            wander: params.wander * habit.unrest,
            jump: (params.jump.0 * habit.unrest, params.jump.1),
        }
    }

    fn next(&mut self, rng: &mut ChaCha8Rng) -> f64 {
        self.now *= self.growth * (self.wander * normal(rng)).exp();
        if rng.random::<f64>() < self.jump.0 {
            self.now *= (self.jump.1 * normal(rng)).exp();
        }
        self.now
    }
}

/// A standard normal number.
fn normal(rng: &mut ChaCha8Rng) -> f64 {
    rng.sample(StandardNormal)
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
fn times(run_ms: u64, factor: f64) -> u64 {
    (as_float(run_ms) * factor) as u64
}

#[cfg(test)]
#[path = "resample_tests.rs"]
mod tests;
