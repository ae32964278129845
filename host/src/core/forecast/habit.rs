//! What a maker's whole weeks tell of habits: how much a usual week runs, how even weeks are, how often they stand idle, and
//! whether the day of the week matters.

use statrs::function::gamma::ln_gamma;

use super::memory::{Memory, USUAL_RUN_MS};
use super::pace::{EVENNESS, Seen};
use super::resample::{WEEK, Week, float, run_in};

/// Squared coefficient of variation of days that run, before anything is known; it counts as four days of the maker's own.
const DAY_NOISE: f64 = 0.4;
const NOISE_DAYS: f64 = 4.0;
/// The least squared coefficient of variation that a week is thought to have.
const LEAST_NOISE: f64 = 0.1;

/// What the whole weeks tell.
#[derive(Clone, Debug)]
pub(super) struct Habit {
    /// Whole weeks that ran, with their run time in milliseconds.
    pub working: Vec<(usize, f64)>,
    /// Run time of a usual week that ran, in milliseconds, with [`USUAL_RUN_MS`] as one week more.
    pub usual_run_ms: f64,
    /// How many times a week that ran was followed by an idle one, and by another that ran; with the prior belief.
    pub begins_idle: (f64, f64),
    /// How many times an idle week was followed by one that ran, and by another idle one; with the prior belief.
    pub ends_idle: (f64, f64),
    /// Whether the last whole week stood idle.
    pub is_idle: bool,
    /// How probable it is that this maker runs on any day of the week alike.
    pub any_day: f64,
    /// How even weeks would be if days were independent: the inverse of their squared coefficient of variation.
    pub evenness_of_days: f64,
}

impl Habit {
    /// Looks at whole weeks, the oldest first.
    pub fn of(weeks: &[Week], memory: &Memory) -> Self {
        let runs: Vec<f64> = weeks.iter().map(run_in).collect();
        let working: Vec<(usize, f64)> =
            runs.iter().copied().enumerate().filter(|(_, run)| *run > 0.0).collect();
        let all: f64 = runs.iter().sum();
        let (mut begins_idle, mut ends_idle) = (memory.begins_idle, memory.ends_idle);
        for (before, after) in runs.iter().zip(runs.iter().skip(1)) {
            let count = match (*before > 0.0, *after > 0.0) {
                (true, false) => &mut begins_idle.0,
                (true, true) => &mut begins_idle.1,
                (false, true) => &mut ends_idle.0,
                (false, false) => &mut ends_idle.1,
            };
            *count += 1.0;
        }
        let ran: Vec<&Week> = weeks.iter().filter(|week| run_in(week) > 0.0).collect();
        Self {
            usual_run_ms: (all + USUAL_RUN_MS) / (float(working.len()) + 1.0),
            working,
            begins_idle,
            ends_idle,
            is_idle: runs.last().is_none_or(|run| *run <= 0.0),
            any_day: any_day(&ran, memory.any_day_share),
            evenness_of_days: evenness_of_days(&ran),
        }
    }

    /// What the pace is to explain.
    pub fn seen(&self, whole_weeks: usize, memory: &Memory) -> Seen {
        let mut weeks = vec![None; whole_weeks];
        for (week, run) in &self.working {
            if let Some(week) = weeks.get_mut(*week) {
                *week = Some((run / self.usual_run_ms).ln());
            }
        }
        let weights = EVENNESS.map(|evenness| {
            let off = (evenness / self.evenness_of_days).ln();
            (-0.5 * (off / if off < 0.0 { memory.evenness.0 } else { memory.evenness.1 }).powi(2)).exp()
        });
        let all: f64 = weights.iter().sum();
        Seen {
            weeks,
            others: (USUAL_RUN_MS / self.usual_run_ms).ln(),
            evenness: weights.map(|weight| weight / all),
        }
    }
}

/// How probable it is that every day of the week runs with one and the same chance, against one chance for each; the chances
/// themselves are unknown, with Jeffreys' prior.
fn any_day(ran: &[&Week], before: f64) -> f64 {
    let ln_probable = |ran: f64, idle: f64| {
        let ln_beta = |one: f64, other: f64| ln_gamma(one) + ln_gamma(other) - ln_gamma(one + other);
        ln_beta(ran + 0.5, idle + 0.5) - ln_beta(0.5, 0.5)
    };
    let weeks = float(ran.len());
    let counts: Vec<f64> = (0..WEEK)
        .map(|day| float(ran.iter().filter(|week| week.get(day).is_some_and(|day| day.run_ms > 0)).count()))
        .collect();
    let all: f64 = counts.iter().sum();
    let alike = ln_probable(all, float(WEEK) * weeks - all);
    let each: f64 = counts.iter().map(|count| ln_probable(*count, weeks - count)).sum();
    let odds = before / (1.0 - before) * (alike - each).exp();
    if odds.is_finite() { odds / (1.0 + odds) } else { 1.0 }
}

/// A week of independent days varies by how much a day that runs varies, and by how many run out of those that ever do.
fn evenness_of_days(ran: &[&Week]) -> f64 {
    let (mut squares, mut free, mut days) = (DAY_NOISE * NOISE_DAYS, NOISE_DAYS, 0.0);
    for week in ran {
        let runs: Vec<f64> = week
            .iter()
            .filter(|day| day.run_ms > 0)
            .map(|day| super::resample::as_float(day.run_ms))
            .collect();
        let mean = runs.iter().sum::<f64>() / float(runs.len()).max(1.0);
        squares += runs.iter().map(|run| (run / mean - 1.0).powi(2)).sum::<f64>();
        free += float(runs.len()) - 1.0;
        days += float(runs.len());
    }
    let ever = (0..WEEK)
        .filter(|day| ran.iter().any(|week| week.get(*day).is_some_and(|day| day.run_ms > 0)))
        .count();
    let by_week = (days / float(ran.len()).max(1.0)).max(1.0);
    1.0 / ((1.0 + squares / free) / by_week - 1.0 / float(ever.max(1))).max(LEAST_NOISE)
}

#[cfg(test)]
mod tests {
    use super::super::memory::{MEMORY, PLAIN};
    use super::super::resample::Day;
    use super::*;

    const HOUR: u64 = 3_600_000;

    /// Weeks with so many hours, all on Monday.
    fn mondays(hours: &[u64]) -> Vec<Week> {
        let week = |hours: &u64| {
            let mut week = [Day::default(); WEEK];
            week[0] = Day { run_ms: hours * HOUR, sessions: u32::from(*hours > 0) };
            week
        };
        hours.iter().map(week).collect()
    }

    fn assert_near(one: f64, other: f64) {
        assert!((one - other).abs() < 1e-6, "{one} {other}");
    }

    #[test]
    fn a_usual_week_is_one_that_ran_and_one_of_others_counts_with_them() {
        let habit = Habit::of(&mondays(&[2, 4, 0, 8]), &MEMORY);
        // (14 h + 3.5 h) / 4
        assert_near(habit.usual_run_ms, 4.375 * 3_600_000.0);
        assert_eq!(habit.working.iter().map(|(week, _)| *week).collect::<Vec<_>>(), [0, 1, 3]);
        assert!(!habit.is_idle && Habit::of(&mondays(&[2, 0]), &MEMORY).is_idle);
    }

    #[test]
    fn idle_weeks_are_counted_by_what_came_before() {
        let habit = Habit::of(&mondays(&[2, 2, 0, 0, 0, 2, 0]), &MEMORY);
        let begun = (habit.begins_idle.0 - MEMORY.begins_idle.0, habit.begins_idle.1 - MEMORY.begins_idle.1);
        let ended = (habit.ends_idle.0 - MEMORY.ends_idle.0, habit.ends_idle.1 - MEMORY.ends_idle.1);
        for (found, expected) in [(begun.0, 2.0), (begun.1, 1.0), (ended.0, 1.0), (ended.1, 2.0)] {
            assert_near(found, expected);
        }
    }

    #[test]
    fn whether_the_day_of_the_week_matters_is_learned() {
        let always_monday = Habit::of(&mondays(&[2; 6]), &MEMORY);
        assert!(always_monday.any_day < 0.01, "{}", always_monday.any_day);
        // Each day as often as any other.
        let mut turning = mondays(&[2; 14]);
        turning.iter_mut().enumerate().for_each(|(at, week)| week.rotate_right(at % WEEK));
        let turning = Habit::of(&turning, &MEMORY);
        assert!(turning.any_day > 0.95, "{}", turning.any_day);
        assert_near(Habit::of(&mondays(&[2; 6]), &PLAIN).any_day, 0.0);
    }

    #[test]
    fn few_days_that_vary_make_uneven_weeks() {
        // One day a week of always two hours: (1 + 1.6 / 4) / 1 - 1 = 0.4.
        assert_near(Habit::of(&mondays(&[2; 6]), &MEMORY).evenness_of_days, 2.5);
        // Every day two hours: (1 + 1.6 / (4 + 10 * 6)) / 7 - 1 / 7, held to a tenth.
        let daily = vec![[Day { run_ms: 2 * HOUR, sessions: 1 }; WEEK]; 10];
        assert_near(Habit::of(&daily, &MEMORY).evenness_of_days, 10.0);
    }

    #[test]
    fn weeks_without_any_running_tell_nothing() {
        let idle = Habit::of(&mondays(&[0, 0, 0, 0, 0]), &MEMORY);
        assert_near(idle.usual_run_ms, USUAL_RUN_MS);
        assert!(idle.working.is_empty() && idle.any_day < 0.5);
        assert_near(idle.evenness_of_days, 1.0 / 0.4);
    }
}
