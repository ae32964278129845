//! Are due dates honest? Made-up makers live on after the forecast was made, and it is looked up when the hours were really used
//! up: each side of an 80 % range should be missed one time in ten.

use firmware::split_mix::SplitMix64;
use host_core::care::forecast::{DRAWS, Day, Goal, Past, RESAMPLING_PARAMS, WEEK, Week, futures, read};

use crate::due_habits::{Habit, life};

/// Weeks that a maker lives on: as far as the forecaster looks, and one more.
const WEEKS_AHEAD: u32 = 157;
/// What is reached with the last of a day's running is reached on that day.
const END_OF_DAY: f64 = 0.999_999;

/// Whole weeks of history, at least and at most.
pub const HISTORIES: [(u32, u32); 4] = [(4, 7), (8, 15), (26, 26), (52, 52)];
/// Hours left.
pub const HOURS_LEFT: [f64; 3] = [1.0, 4.0, 20.0];

/// Each side of the range may be missed in at least and at most this share of runs.
const MISSED: (f64, f64) = (0.05, 0.15);

/// Whether a side that is missed in this share of runs keeps the promise.
#[must_use]
pub fn is_kept(missed: f64) -> bool {
    (MISSED.0..=MISSED.1).contains(&missed)
}

/// "26" or "4-7".
#[must_use]
pub fn weeks_of((least, most): (u32, u32)) -> String {
    if least == most { least.to_string() } else { format!("{least}-{most}") }
}

/// One line and column of the table.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Cell {
    /// How the maker lives.
    pub habit: Habit,
    /// Whole weeks of history, at least and at most.
    pub history: (u32, u32),
    /// Hours left.
    pub hours_left: f64,
}

impl Cell {
    /// All of them.
    #[must_use]
    pub fn all() -> Vec<Self> {
        let histories = Habit::ALL.into_iter().flat_map(|habit| HISTORIES.map(|history| (habit, history)));
        histories
            .flat_map(|(habit, history)| HOURS_LEFT.map(|hours_left| Self { habit, history, hours_left }))
            .collect()
    }
}

/// How often the truth lay outside.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Missed {
    /// Forecasts.
    pub runs: u64,
    /// Used up before the range began; moments within a day counted by its running.
    pub early: u64,
    /// Used up after it ended.
    pub late: u64,
    /// The same in whole days, as they are shown: before the first day.
    pub early_by_days: u64,
    /// After the last day.
    pub late_by_days: u64,
    /// The middle length of the range, in days.
    pub median_days: f64,
}

/// Many forecasts of one cell; run by run the same for the same seed.
#[must_use]
pub fn missed(cell: &Cell, runs: u64, seed: u64) -> Missed {
    let mut missed = Missed { runs, ..Missed::default() };
    let mut lengths = Vec::new();
    let maker = Maker::of(cell);
    for seed in seeds(runs, seed) {
        let Forecast { weeks, reached, truth } = forecast(&maker, seed);
        let range = read(&reached, &weeks);
        let (low, high) = range.map_or((f64::NAN, f64::NAN), |range| (range.low, range.high));
        missed.early += u64::from(truth < low);
        missed.late += u64::from(truth > high);
        missed.early_by_days += u64::from(truth.floor() < low.floor());
        missed.late_by_days += u64::from(truth.floor() > high.floor());
        lengths.push(high - low);
    }
    lengths.sort_by(f64::total_cmp);
    missed.median_days = lengths.get(lengths.len() / 2).copied().unwrap_or(f64::NAN);
    missed
}

/// A seed for each run.
pub fn seeds(runs: u64, seed: u64) -> impl Iterator<Item = u64> {
    (0..runs).map(move |run| seed.wrapping_add(run.wrapping_mul(0xD134_2543_DE82_EF95)))
}

/// A maker about whom a forecast is made.
#[derive(Clone, Copy, Debug)]
pub struct Maker<Life> {
    /// Whole weeks of history, at least and at most.
    pub history: (u32, u32),
    /// Hours left.
    pub hours_left: f64,
    /// The hours of each day, for so many weeks before the forecast and so many in all.
    pub life: Life,
}

impl Maker<()> {
    /// One of a cell.
    pub fn of(cell: &Cell) -> Maker<impl Fn(u32, u32, &mut SplitMix64) -> Vec<f64> + use<>> {
        let Cell { habit, history, hours_left } = *cell;
        Maker { history, hours_left, life: move |_, in_all, dice: &mut SplitMix64| life(habit, in_all, dice) }
    }
}

/// A forecast and what came true; moments in days after the beginning of the day of the forecast.
#[derive(Clone, Debug, PartialEq)]
pub struct Forecast {
    /// The whole weeks that were known.
    pub weeks: Vec<Week>,
    /// The moment in each of the drawn futures, in order.
    pub reached: Vec<f64>,
    /// The moment that came true; infinite when the maker never got there.
    pub truth: f64,
}

/// Makes one forecast; the same for the same seed.
pub fn forecast(maker: &Maker<impl Fn(u32, u32, &mut SplitMix64) -> Vec<f64>>, seed: u64) -> Forecast {
    let mut dice = SplitMix64::new(seed);
    let (least, most) = maker.history;
    let weeks = least + u32::try_from(dice.below(u64::from(most - least + 1))).unwrap_or(0);
    let lived = (maker.life)(weeks, weeks + WEEKS_AHEAD, &mut dice);
    let weekday = usize::try_from(dice.below(7)).unwrap_or(0);
    let now = usize::try_from(weeks).unwrap_or(0) * WEEK + weekday;
    let (before, after) = lived.split_at(now);
    let goal = Goal { run_ms: Some(run_ms(maker.hours_left)), ..Goal::default() };
    let past = past(before, weekday);
    let reached = futures(&past, &goal, &RESAMPLING_PARAMS, DRAWS, dice.next_u64());
    Forecast { weeks: past.weeks, reached, truth: truth(after, maker.hours_left) }
}

/// What the program would know at the beginning of a day.
fn past(before: &[f64], weekday: usize) -> Past {
    let (weeks, this_week) = before.split_at(before.len() - weekday);
    let weeks: Vec<Week> = weeks.chunks(WEEK).map(week).collect();
    let rests = weeks.iter().filter_map(|week| week.get(weekday).copied()).collect();
    Past { weeks, rests, this_week: week(this_week), weekday, today_over: 0.0 }
}

fn week(hours: &[f64]) -> Week {
    let mut week = Week::default();
    for (day, hours) in week.iter_mut().zip(hours) {
        *day = Day { run_ms: run_ms(*hours), sessions: u32::from(*hours > 0.0) };
    }
    week
}

fn truth(after: &[f64], hours_left: f64) -> f64 {
    let mut left = hours_left;
    for (day, hours) in (0_u32..).zip(after) {
        if *hours > 0.0 && *hours >= left {
            return f64::from(day) + (left / hours).min(END_OF_DAY);
        }
        left -= hours;
    }
    f64::INFINITY
}

#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "some hours")]
fn run_ms(hours: f64) -> u64 {
    (hours * 3_600_000.0) as u64
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_came_true_is_read_off_the_days_that_were_lived() {
        // Two hours on the first day, nothing on the second, four on the third: three hours are used up a quarter into it.
        assert!((truth(&[2.0, 0.0, 4.0], 3.0) - 2.25).abs() < 1e-12);
        assert!((truth(&[2.0, 0.0, 4.0], 6.0) - 2.999_999).abs() < 1e-12);
        assert!(truth(&[2.0], 3.0).is_infinite());
    }

    #[test]
    fn the_past_ends_with_the_day_before() {
        let hours: Vec<f64> = (0..17).map(f64::from).collect();
        let past = past(&hours, 3);
        assert_eq!(past.weeks.len(), 2);
        assert_eq!(past.weeks[1][0].run_ms, 7 * 3_600_000);
        assert_eq!(past.this_week[2].run_ms, 16 * 3_600_000);
        assert_eq!(past.rests, [past.weeks[0][3], past.weeks[1][3]]);
    }
}
