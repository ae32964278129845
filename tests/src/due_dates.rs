//! Are due dates honest? Made-up makers live on after the forecast was made, and it is looked up when the hours were really used
//! up, and how often that lay before and after the range that was told.

use firmware::split_mix::SplitMix64;
use host_core::care::forecast::{
    DRAWS, Day, Goal, Past, Places, PredictionInterval, RESAMPLING_PARAMS, WEEK, Week, futures,
};

use crate::due_habits::{self, Habit};
use crate::due_judges::{self, Kind};
use crate::two_threads::each;

/// Weeks that a maker lives on: as far as the forecaster looks, and one more.
const WEEKS_AHEAD: u32 = 157;
/// What is reached with the last of a day's running is reached on that day.
const END_OF_DAY: f64 = 0.999_999;

/// Whole weeks of history, at least and at most.
pub const HISTORIES: [(u32, u32); 4] = [(4, 7), (8, 15), (26, 26), (52, 52)];
/// Hours left.
pub const HOURS_LEFT: [f64; 3] = [1.0, 4.0, 20.0];
/// The tenths of the draws, for comparison.
pub const TENTHS: Places = Places { early: 0.1, late: 0.9 };

/// "26" or "4-7".
#[must_use]
pub fn weeks_of((least, most): (u32, u32)) -> String {
    if least == most { least.to_string() } else { format!("{least}-{most}") }
}

/// A made-up maker.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Maker {
    /// The places were chosen on these.
    ChosenOn(Habit),
    /// Nothing was chosen on these.
    JudgeOnly(Kind),
}

impl Maker {
    /// All on which the places were chosen.
    #[must_use]
    pub fn chosen_on() -> Vec<Self> {
        Habit::ALL.map(Self::ChosenOn).to_vec()
    }

    /// All that judge only.
    #[must_use]
    pub fn judges() -> Vec<Self> {
        Kind::ALL.map(Self::JudgeOnly).to_vec()
    }

    /// Whether anything is promised of them.
    #[must_use]
    pub const fn is_promised(self) -> bool {
        match self {
            Self::ChosenOn(_) => true,
            Self::JudgeOnly(kind) => kind.is_promised(),
        }
    }

    /// In words.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::ChosenOn(habit) => habit.name(),
            Self::JudgeOnly(kind) => kind.name(),
        }
    }

    fn life(self, weeks: u32, rng: &mut SplitMix64) -> Vec<f64> {
        match self {
            Self::ChosenOn(habit) => due_habits::life(habit, weeks, rng),
            Self::JudgeOnly(kind) => due_judges::life(kind, weeks, rng),
        }
    }
}

/// How often the truth lay outside of the ranges of one cell of the table.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Cell {
    /// The maker.
    pub maker: Maker,
    /// Whole weeks of history, at least and at most.
    pub history: (u32, u32),
    /// Hours left.
    pub hours_left: f64,
    /// Where the ranges were read.
    pub places: Places,
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
    /// The median length of the range, in days.
    pub median_days: f64,
}

/// Forecasts for each maker, history and hours left, each read at all of the places; the same for the same seed. In this order,
/// the places last.
#[must_use]
pub fn simulated(makers: &[Maker], places: &[Places], runs: u64, seed: u64) -> Vec<Cell> {
    let lines: Vec<(Maker, (u32, u32))> =
        makers.iter().flat_map(|maker| HISTORIES.map(|history| (*maker, history))).collect();
    each(&lines, |(maker, history)| line(*maker, *history, places, runs, seed))
        .into_iter()
        .flatten()
        .collect()
}

fn line(maker: Maker, history: (u32, u32), places: &[Places], runs: u64, seed: u64) -> Vec<Cell> {
    let mut cells: Vec<(Cell, Vec<f64>)> = HOURS_LEFT
        .into_iter()
        .flat_map(|hours_left| places.iter().map(move |places| (hours_left, *places)))
        .map(|(hours_left, places)| (Cell::empty(maker, history, hours_left, places), Vec::new()))
        .collect();
    for run in 0..runs {
        let seed = seed.wrapping_add(run.wrapping_mul(0xD134_2543_DE82_EF95));
        for (cells, outcome) in cells.chunks_mut(places.len()).zip(forecasts(maker, history, seed)) {
            for (cell, lengths) in cells {
                lengths.extend(cell.add(&outcome));
            }
        }
    }
    let finished = cells.into_iter().map(|(mut cell, mut lengths)| {
        lengths.sort_by(f64::total_cmp);
        cell.median_days = lengths.get(lengths.len() / 2).copied().unwrap_or(f64::NAN);
        cell
    });
    finished.collect()
}

impl Cell {
    const fn empty(maker: Maker, history: (u32, u32), hours_left: f64, places: Places) -> Self {
        Self {
            maker,
            history,
            hours_left,
            places,
            runs: 0,
            early: 0,
            late: 0,
            early_by_days: 0,
            late_by_days: 0,
            median_days: f64::NAN,
        }
    }

    /// Counts one forecast; the length of its range in days.
    fn add(&mut self, Forecast { reached, truth }: &Forecast) -> Option<f64> {
        let PredictionInterval { low, high, .. } = PredictionInterval::of(reached, self.places)?;
        self.runs += 1;
        self.early += u64::from(*truth < low);
        self.late += u64::from(*truth > high);
        self.early_by_days += u64::from(truth.floor() < low.floor());
        self.late_by_days += u64::from(truth.floor() > high.floor());
        Some(high - low)
    }
}

/// A forecast and what came true; moments in days after the beginning of the day of the forecast.
#[derive(Clone, Debug, PartialEq)]
struct Forecast {
    /// The moment in each of the drawn futures, in order.
    reached: Vec<f64>,
    /// The moment that came true; infinite when the maker never got there.
    truth: f64,
}

/// One life, and the forecast for each of [`HOURS_LEFT`].
fn forecasts(maker: Maker, (least, most): (u32, u32), seed: u64) -> Vec<Forecast> {
    let mut rng = SplitMix64::new(seed);
    let weeks = least + u32::try_from(rng.below(u64::from(most - least + 1))).unwrap_or(0);
    let lived = maker.life(weeks + WEEKS_AHEAD, &mut rng);
    let weekday = usize::try_from(rng.below(7)).unwrap_or(0);
    let now = usize::try_from(weeks).unwrap_or(0) * WEEK + weekday;
    let (before, after) = lived.split_at(now);
    let goals = HOURS_LEFT.map(|hours| Goal { run_ms: Some(run_ms(hours)), ..Goal::default() });
    let reached = futures(&past(before, weekday), &goals, &RESAMPLING_PARAMS, DRAWS, rng.next_u64());
    let known = reached.into_iter().zip(HOURS_LEFT);
    known.map(|(reached, hours)| Forecast { reached, truth: truth(after, hours) }).collect()
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
