//! Made-up makers, day by day. None of them lives by the forecaster's rule: their days are drawn from distributions, not from
//! weeks that were, and nothing here knows the forecaster. All numbers are made up.

use firmware::split_mix::SplitMix64;

/// How a maker lives.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Habit {
    /// Seven of ten weekdays, never at the weekend.
    Weekdays,
    /// Three of four days of the weekend.
    Weekends,
    /// Six to ten weeks of rush, then twelve to twenty at two fifths of that, and so on.
    RushThenQuiet,
    /// As on weekdays, but two to four weeks off after every eight to 26.
    Holidays,
    /// As on weekdays; twice as much within a year.
    TrendUp,
    /// As on weekdays; half as much within a year.
    TrendDown,
    /// A third of all weeks idle, often several in a row; the others very different from each other, on any day.
    Irregular,
}

impl Habit {
    /// All of them.
    pub const ALL: [Self; 7] = [
        Self::Weekdays,
        Self::Weekends,
        Self::RushThenQuiet,
        Self::Holidays,
        Self::TrendUp,
        Self::TrendDown,
        Self::Irregular,
    ];

    /// In words.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Weekdays => "weekdays",
            Self::Weekends => "weekends",
            Self::RushThenQuiet => "rush, then quiet",
            Self::Holidays => "holidays",
            Self::TrendUp => "twice in a year",
            Self::TrendDown => "half in a year",
            Self::Irregular => "irregular",
        }
    }
}

/// Hours of running on each day of so many weeks, from a Monday on.
#[must_use]
pub fn life(habit: Habit, weeks: u32, rng: &mut SplitMix64) -> Vec<f64> {
    // Makers differ: four hours a week, a third more or less.
    let level = 4.0 * (0.35 * rng.normal()).exp();
    let mut season = Season::drawn(rng);
    let mut is_idle = rng.uniform() < 1.0 / 3.0;
    let mut hours = Vec::new();
    for week in 0..weeks {
        let years = f64::from(week) / 52.0;
        let pace = match habit {
            Habit::RushThenQuiet => season.next(rng),
            Habit::TrendUp => 2.0_f64.powf(years - 0.5),
            Habit::TrendDown => 2.0_f64.powf(0.5 - years),
            Habit::Irregular => {
                is_idle = rng.uniform() < if is_idle { 0.5 } else { 0.25 };
                if is_idle { 0.0 } else { 1.5 * (0.6 * rng.normal() - 0.18).exp() }
            }
            Habit::Weekdays | Habit::Weekends | Habit::Holidays => 1.0,
        };
        hours.extend((0..7).map(|day| pace * level * share_of_week(habit, day, rng)));
    }
    if habit == Habit::Holidays {
        take_holidays(&mut hours, rng);
    }
    hours
}

/// What runs on a day, as a share of a mean week; 0 on Monday to 6 on Sunday.
fn share_of_week(habit: Habit, day: u32, rng: &mut SplitMix64) -> f64 {
    // The chance that it runs, on how many days of the week it may, and the variance of how long.
    let (chance, days, variance) = match habit {
        Habit::Weekends if day >= 5 => (0.75, 2.0, 0.5),
        Habit::Irregular => (0.4, 7.0, 0.5),
        Habit::Weekends => return 0.0,
        _ if day >= 5 => return 0.0,
        _ => (0.7, 5.0, 1.0 / 3.0),
    };
    if rng.uniform() < chance { rng.gamma_of_mean_one(variance) / (chance * days) } else { 0.0 }
}

/// A rush or a quiet time, and how many of its weeks are left.
struct Season {
    is_rush: bool,
    left: u64,
}

impl Season {
    fn drawn(rng: &mut SplitMix64) -> Self {
        let is_rush = rng.uniform() < 0.33;
        let whole = Self::weeks(is_rush, rng);
        Self { is_rush, left: rng.below(whole + 1) }
    }

    fn weeks(is_rush: bool, rng: &mut SplitMix64) -> u64 {
        if is_rush { 6 + rng.below(5) } else { 12 + rng.below(9) }
    }

    fn next(&mut self, rng: &mut SplitMix64) -> f64 {
        if self.left == 0 {
            self.is_rush = !self.is_rush;
            self.left = Self::weeks(self.is_rush, rng);
        }
        self.left -= 1;
        if self.is_rush { 1.75 } else { 0.7 }
    }
}

fn take_holidays(hours: &mut [f64], rng: &mut SplitMix64) {
    // The first one may have begun before the first day.
    let days = |weeks: u64| usize::try_from(weeks * 7).unwrap_or(0);
    let mut at = 0;
    let mut off = days(rng.below(4));
    if rng.uniform() > 0.15 {
        (at, off) = (days(rng.below(17)), days(2) + days(rng.below(3)));
    }
    while at < hours.len() {
        hours.iter_mut().skip(at).take(off).for_each(|hours| *hours = 0.0);
        at += off + days(8 + rng.below(19));
        off = days(2) + usize::try_from(rng.below(15)).unwrap_or(0);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn mean_week(habit: Habit, from: usize, to: usize) -> f64 {
        let mut rng = SplitMix64::new(11);
        let lives = 400;
        let sum: f64 =
            (0..lives).map(|_| life(habit, 52, &mut rng)[from * 7..to * 7].iter().sum::<f64>()).sum();
        sum / f64::from(lives) / f64::from(u32::try_from(to - from).unwrap_or(1))
    }

    #[test]
    fn makers_run_about_as_much_as_was_made_up() {
        // 4 h times exp(0.35^2 / 2) = 4.25 h a week on the average.
        for habit in [Habit::Weekdays, Habit::Weekends] {
            let mean = mean_week(habit, 0, 52);
            assert!((mean - 4.25).abs() < 0.25, "{habit:?}: {mean}");
        }
        // Two thirds of the weeks at 1.5 times: the same.
        let irregular = mean_week(Habit::Irregular, 0, 52);
        assert!((irregular - 4.25).abs() < 0.4, "{irregular}");
        let growth = mean_week(Habit::TrendUp, 48, 52) / mean_week(Habit::TrendUp, 0, 4);
        assert!((growth - 2.0_f64.powf(48.0 / 52.0)).abs() < 0.25, "{growth}");
        // Three of about twenty weeks are off.
        let holidays = mean_week(Habit::Holidays, 0, 52) / mean_week(Habit::Weekdays, 0, 52);
        assert!((0.78..0.92).contains(&holidays), "{holidays}");
    }

    #[test]
    fn weekday_makers_rest_at_the_weekend_and_weekend_makers_on_weekdays() {
        let mut rng = SplitMix64::new(3);
        let (weekdays, weekends) = (life(Habit::Weekdays, 30, &mut rng), life(Habit::Weekends, 30, &mut rng));
        let on = |hours: &[f64], days: std::ops::Range<usize>| -> f64 {
            hours.chunks(7).map(|week| week[days.clone()].iter().sum::<f64>()).sum()
        };
        assert!(on(&weekdays, 0..5) > 0.0 && on(&weekends, 5..7) > 0.0);
        assert!(on(&weekdays, 5..7) == 0.0 && on(&weekends, 0..5) == 0.0);
    }
}
