//! When will so much run time be used up? The maker's own whole weeks are drawn again, over and over, and laid end to end.
//!
//! A week is drawn as a whole, so its days keep their places and its idle days stay idle. The next week is one of the weeks
//! before it, a recent one more probably than an old one; weeks that were drawn count as weeks before, too. So a rush, a rest
//! or a new habit lasts for a while in what is drawn, as it does in a life, and how little a short history tells widens the range
//! by itself. Now and then the week after the one drawn last follows, so that what came in a row comes in a row again.

use super::chance::Chance;

/// Days in a week.
pub const WEEK: usize = 7;
/// Whole weeks below which there is no date.
pub const LEAST_WEEKS: usize = 4;
/// Whole weeks from which on no prior week is mixed in.
pub const ENOUGH_WEEKS: usize = 8;
/// How many futures are drawn.
pub const DRAWS: usize = 500;
/// Weeks after which a future is given up: about three years.
pub const HORIZON_WEEKS: usize = 156;

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

/// How the past weighs. The values are found by simulation, see `STATISTICS.md`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Memory {
    /// The chance that the next week is like one of the last few.
    pub near_share: f64,
    /// How many weeks "the last few" are, on the average.
    pub near_weeks: f64,
    /// Of the other draws, the share that takes any week of the history alike.
    pub any_share: f64,
    /// How many weeks back the others reach, on the average.
    pub far_weeks: f64,
    /// The chance that the week after the one drawn last follows.
    pub follow_share: f64,
    /// The share of draws that are prior weeks once the history has eight weeks.
    pub prior_share: f64,
    /// How uncertain the pace is as a whole, as a deviation of its logarithm; and more so over the root of the whole weeks.
    pub pace: f64,
    pub pace_short: f64,
    /// Raises the logarithm of the pace, over the number of whole weeks.
    pub lift: f64,
    /// How far the pace wanders from week to week, as a deviation of its logarithm.
    pub wander: f64,
    /// The chance that the pace changes for good from one week to the next, and how much then.
    pub jump: f64,
    pub jump_size: f64,
    /// How strong trends are thought to be, as a deviation of the growth of the pace by week.
    pub growth: f64,
}

/// The memory in use.
pub const MEMORY: Memory = Memory {
    near_share: 0.25,
    near_weeks: 2.0,
    any_share: 0.2,
    far_weeks: 16.0,
    follow_share: 0.3,
    prior_share: 0.0,
    pace: 0.1,
    pace_short: 0.3,
    lift: 0.3,
    wander: 0.08,
    jump: 0.02,
    jump_size: 0.7,
    growth: 0.02,
};

/// Prior weeks, as multiples of a week of the maker's own. Our assumption, no source.
pub const PRIOR_WEEKS: [f64; 8] = [0.0, 0.0, 0.4, 0.7, 1.0, 1.4, 2.0, 2.8];

/// Run time of a usual week before anything is known, in milliseconds: three hours. Our assumption, no source.
pub const PRIOR_RUN_MS: f64 = 10_800_000.0;
/// For how many weeks of the maker's own that counts.
pub const PRIOR_WEIGHT: f64 = 1.0;

/// A week of a drawn future.
#[derive(Clone, Copy, Debug)]
struct Drawn {
    /// Which whole week; the number of whole weeks stands for this one.
    week: usize,
    /// Times this.
    factor: f64,
}

/// Moments at which the goal was reached, in days after the beginning of today, in order; infinite where it was not within the
/// horizon. Empty with fewer than [`LEAST_WEEKS`] whole weeks.
#[must_use]
pub fn futures(past: &Past, goal: &Goal, memory: Memory, draws: usize, seed: u64) -> Vec<f64> {
    if past.weeks.len() < LEAST_WEEKS {
        return Vec::new();
    }
    let mut future = Future::new(past, memory, Chance::new(seed));
    let mut reached: Vec<f64> = (0..draws).map(|_| future.draw(goal)).collect();
    reached.sort_by(f64::total_cmp);
    reached
}

struct Future<'a> {
    past: &'a Past,
    memory: Memory,
    chance: Chance,
    /// History, this week, and what was drawn.
    row: Vec<Drawn>,
    /// This week, its rest drawn.
    this_week: Week,
    prior_weeks: f64,
    /// Whole weeks that ran, with their run time.
    working: Vec<(usize, f64)>,
    /// A usual week's run time.
    usual: f64,
    growth: (f64, f64),
    drift: f64,
}

/// How far a future has come.
struct Count {
    run_ms: f64,
    sessions: f64,
    still_since: f64,
}

impl<'a> Future<'a> {
    fn new(past: &'a Past, memory: Memory, chance: Chance) -> Self {
        let whole = past.weeks.len();
        let working: Vec<(usize, f64)> = past.weeks.iter().map(run_in).enumerate().filter(|(_, run)| *run > 0.0).collect();
        let all: f64 = working.iter().map(|(_, run)| run).sum();
        Self {
            working,
            usual: (all + PRIOR_WEIGHT * PRIOR_RUN_MS) / (float(whole) + PRIOR_WEIGHT),
            past,
            memory,
            chance,
            row: (0..whole).map(|week| Drawn { week, factor: 1.0 }).collect(),
            this_week: past.this_week,
            prior_weeks: float(ENOUGH_WEEKS.saturating_sub(whole)),
            growth: growth_of(&past.weeks, memory.growth),
            drift: 0.0,
        }
    }

    fn draw(&mut self, goal: &Goal) -> f64 {
        let fixed = goal.fixed_days.unwrap_or(f64::INFINITY);
        let whole = self.past.weeks.len();
        self.row.truncate(whole);
        let mut count = Count {
            run_ms: 0.0,
            sessions: 0.0,
            still_since: goal.still.map_or(f64::NEG_INFINITY, |still| still.since_days),
        };
        let mut follows = whole;
        let weeks = float(whole);
        let deviation = self.memory.pace.hypot(self.memory.pace_short / weeks.sqrt());
        let mut pace = (self.memory.lift / weeks + deviation * self.normal()).exp();
        self.drift = self.growth.0 + self.growth.1 * self.normal();
        for ahead in 0..HORIZON_WEEKS {
            let start = float(ahead * WEEK) - float(self.past.weekday);
            if start > fixed {
                break;
            }
            let (drawn, at) = if ahead == 0 { self.alike() } else { self.next(follows) };
            follows = at + 1;
            let week = if ahead == 0 { self.rest_of_this_week(drawn) } else { self.week(drawn) };
            self.row.push(if ahead == 0 { Drawn { week: whole, factor: 1.0 } } else { drawn });
            pace *= (self.memory.wander * self.normal()).exp();
            if self.chance.unit() < self.memory.jump {
                pace *= (self.memory.jump_size * self.normal()).exp();
            }
            let factor = drawn.factor * pace;
            let skip = if ahead == 0 { self.past.weekday } else { 0 };
            for (index, day) in week.iter().enumerate().skip(skip) {
                let over = if ahead == 0 && index == skip { self.past.today_over } else { 0.0 };
                if let Some(at) = count.day(*day, factor, start + float(index), over, goal) {
                    return at.min(fixed);
                }
            }
        }
        fixed
    }

    /// A week for the rest of this one: where it can be had, one that had stood still until this day as this one has, or had not.
    fn alike(&mut self) -> (Drawn, usize) {
        let stood_still = |week: &Week| week.iter().take(self.past.weekday).all(|day| day.run_ms == 0);
        let is_still = stood_still(&self.past.this_week);
        let mut found = self.next(self.past.weeks.len());
        for _ in 0..3 {
            let looks_alike = stood_still(&self.week(found.0)) == is_still || found.0.factor == 0.0;
            if looks_alike {
                break;
            }
            found = self.next(self.past.weeks.len());
        }
        found
    }

    /// One more week, and its place in the row.
    fn next(&mut self, follows: usize) -> (Drawn, usize) {
        let whole = self.past.weeks.len();
        let ahead = self.row.len();
        let prior_chance = (self.prior_weeks / (self.prior_weeks + float(ahead))).max(self.memory.prior_share);
        if prior_chance > 0.0 && self.chance.unit() < prior_chance {
            let prior = PRIOR_WEEKS.get(self.chance.below(PRIOR_WEEKS.len())).copied().unwrap_or(1.0);
            let week = self.working.get(self.chance.below(self.working.len())).copied();
            let (week, run) = week.unwrap_or((self.chance.below(whole), 0.0));
            let factor = if run > 0.0 { prior * self.usual / run } else { 0.0 };
            return (Drawn { week, factor }, week);
        }
        let which = self.chance.unit();
        let place = if which < self.memory.follow_share && follows < ahead {
            follows
        } else {
            let back = self.back(ahead);
            ahead - back
        };
        let mut drawn = self.row.get(place).copied().unwrap_or(Drawn { week: 0, factor: 1.0 });
        drawn.factor *= (self.drift * float(ahead - place)).exp();
        (drawn, place)
    }

    /// How many weeks back; from 1 to `most`.
    fn back(&mut self, most: usize) -> usize {
        let which = self.chance.unit();
        let near = self.memory.near_share;
        if which >= near && self.chance.unit() < self.memory.any_share {
            return 1 + self.chance.below(most);
        }
        let mean = if which < near { self.memory.near_weeks } else { self.memory.far_weeks };
        // A geometric number, cut off at the whole row by folding what is beyond back into it.
        let kept = (1.0 - 1.0 / mean).max(0.0);
        let cut = kept.powf(float(most));
        let steps = (1.0 - self.chance.unit() * (1.0 - cut)).ln() / kept.ln();
        1 + whole_number(steps).min(most - 1)
    }

    /// A standard normal number (Box and Muller 1958).
    fn normal(&mut self) -> f64 {
        let (one, other) = (1.0 - self.chance.unit(), self.chance.unit());
        (-2.0 * one.ln()).sqrt() * (std::f64::consts::TAU * other).cos()
    }

    fn week(&self, drawn: Drawn) -> Week {
        self.past.weeks.get(drawn.week).copied().unwrap_or(self.this_week)
    }

    /// This week as it is, with the drawn one's days from now on; remembers it, so that it can be drawn.
    fn rest_of_this_week(&mut self, drawn: Drawn) -> Week {
        let source = self.week(drawn);
        let mut week = source;
        if let (Some(today), Some(rest)) =
            (week.get_mut(self.past.weekday), self.past.rests.get(drawn.week))
        {
            *today = *rest;
        }
        let mut whole = self.past.this_week;
        for (at, day) in whole.iter_mut().enumerate().skip(self.past.weekday) {
            let more = week.get(at).copied().unwrap_or_default();
            day.run_ms += times(more.run_ms, drawn.factor);
            day.sessions += if drawn.factor > 0.0 { more.sessions } else { 0 };
        }
        self.this_week = whole;
        week
    }
}

impl Count {
    /// Lets one day pass; the moment at which the goal was reached, if it was.
    fn day(&mut self, day: Day, factor: f64, start: f64, over: f64, goal: &Goal) -> Option<f64> {
        let run = run_of(day) * factor;
        let begins = start + over;
        let at = |share: f64| begins + (1.0 - over) * share.clamp(0.0, 1.0);
        let mut first: Option<f64> = None;
        let mut reached = |moment: f64| first = Some(first.map_or(moment, |found: f64| found.min(moment)));
        if let Some(still) = goal.still {
            let due = self.still_since + still.limit_days;
            // A day that runs is not a day of standing still, at whatever hour it ran.
            if due <= if run > 0.0 { begins } else { start + 1.0 } {
                reached(due.max(begins));
            }
        }
        if let Some(left) = goal.run_ms {
            let left = as_float(left);
            if run > 0.0 && self.run_ms + run >= left {
                reached(at((left - self.run_ms) / run));
            }
        }
        if let Some(left) = goal.sessions
            && run > 0.0
        {
            let (left, begun) = (as_float(left), f64::from(day.sessions));
            if self.sessions + begun >= left && begun > 0.0 {
                reached(at((left - self.sessions) / (begun + 1.0)));
            }
        }
        self.run_ms += run;
        if run > 0.0 {
            self.sessions += f64::from(day.sessions);
            self.still_since = start + 1.0;
        }
        first
    }
}

/// Growth of the pace by week: its mean and deviation, after a normal prior about none of deviation `prior`.
fn growth_of(weeks: &[Week], prior: f64) -> (f64, f64) {
    let sums: Vec<f64> = weeks.iter().map(|week| week.iter().map(|day| run_of(*day)).sum()).collect();
    let count = float(sums.len());
    let mean = sums.iter().sum::<f64>() / count;
    let middle = (count - 1.0) / 2.0;
    let (mut slope, mut square) = (0.0, 0.0);
    for (at, sum) in sums.iter().enumerate() {
        slope += (float(at) - middle) * (sum / mean - 1.0);
        square += (float(at) - middle).powi(2);
    }
    if !(mean > 0.0) || prior <= 0.0 {
        return (0.0, 0.0);
    }
    let slope = slope / square;
    let error: f64 = sums.iter().enumerate().map(|(at, sum)| (sum / mean - 1.0 - slope * (float(at) - middle)).powi(2)).sum();
    let variance = error / (count - 2.0) / square;
    let kept = prior * prior / (prior * prior + variance);
    (kept * slope, (kept * variance).sqrt())
}

fn run_in(week: &Week) -> f64 {
    week.iter().map(|day| run_of(*day)).sum()
}

fn run_of(day: Day) -> f64 {
    as_float(day.run_ms)
}

#[expect(clippy::cast_precision_loss, reason = "run times stay far below 2^53 ms")]
fn as_float(value: u64) -> f64 {
    value as f64
}

#[expect(clippy::cast_precision_loss, reason = "a number of weeks or days")]
fn float(value: usize) -> f64 {
    value as f64
}

#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "held at zero and far below 2^53")]
fn whole_number(value: f64) -> usize {
    value.clamp(0.0, 1e6) as usize
}

#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a run time times a small factor")]
fn times(run_ms: u64, factor: f64) -> u64 {
    (as_float(run_ms) * factor) as u64
}

/// How many prior weeks a history of so many whole weeks is filled up with.
#[must_use]
pub const fn prior_weeks(whole_weeks: usize) -> usize {
    ENOUGH_WEEKS.saturating_sub(whole_weeks)
}

/// The place, in so many values in order, below which this share of them lies; nearest whole place.
#[must_use]
pub fn rank(count: usize, share: f64) -> usize {
    whole_number((float(count.saturating_sub(1)) * share).round())
}
