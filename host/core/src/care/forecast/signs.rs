//! What a maker's whole weeks show of how far the drawn futures can be trusted.

use super::line::Line;
use super::resampling_params::{NOISE_WEEKS, PRIOR_NOISE, PRIOR_RUN_MS};
use super::week::{Week, float, run_in};

/// How many signs there are.
pub const SIGNS: usize = 9;
/// Keeps a variance, relative to the square of the mean, off zero.
const LEAST_VARIANCE: f64 = 0.05;
/// Weeks in a month, as it is looked at.
const MONTH: usize = 4;
/// So many usual weeks are counted with the last month, so that its logarithm exists.
const WITH_MONTH: f64 = 0.15;

/// The signs that are read, each without a unit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Signs {
    /// The logarithm of the number of whole weeks.
    pub history: f64,
    /// The logarithm of the squared coefficient of variation of the weeks.
    pub noise: f64,
    /// How far the pace of the last month is from the mean, either way: a logarithm.
    pub month_off: f64,
    /// The same with its sign: above 0 when it was faster.
    pub month: f64,
    /// How far the sum of the weeks has been from what a steady pace would have brought, at most; in deviations (the CUSUM test
    /// of Ploberger and Kramer 1992, without its limits).
    pub swing: f64,
    /// The slope of a straight line through the weeks, in standard errors.
    pub trend: f64,
    /// The same without its sign.
    pub trend_off: f64,
    /// The share of weeks that stood idle.
    pub idle: f64,
    /// How much better two paces, one after the other, describe the weeks than one pace: half the logarithm of a likelihood ratio.
    pub change: f64,
}

impl Signs {
    /// Looks at whole weeks, the oldest first. Any number of them gives finite signs.
    #[must_use]
    pub fn of(weeks: &[Week]) -> Self {
        let sums: Vec<f64> = weeks.iter().map(run_in).collect();
        let (count, all) = (float(sums.len()).max(1.0), sums.iter().sum::<f64>());
        let usual = (all + PRIOR_RUN_MS) / (count + 1.0);
        let mean = (all / count).max(f64::MIN_POSITIVE);
        let off: Vec<f64> = sums.iter().map(|sum| sum / mean - 1.0).collect();
        let squares: f64 = off.iter().map(|off| off * off).sum();
        let line = Line::through(&off);
        let last = sums.get(sums.len().saturating_sub(MONTH)..).unwrap_or_default();
        let last = last.iter().sum::<f64>() / float(last.len()).max(1.0);
        let month = ((last + WITH_MONTH * usual) / ((1.0 + WITH_MONTH) * usual)).ln();
        let trend = line.slope / ((line.variance + LEAST_VARIANCE) / line.square).sqrt();
        Self {
            history: count.ln(),
            noise: ((PRIOR_NOISE * NOISE_WEEKS + squares) / (NOISE_WEEKS + count)).ln(),
            month_off: month.abs(),
            month,
            swing: farthest(&off) / ((line.variance + LEAST_VARIANCE) * count).sqrt(),
            trend,
            trend_off: trend.abs(),
            idle: float(sums.iter().filter(|sum| **sum <= 0.0).count()) / count,
            change: change(&sums, usual),
        }
    }

    /// All of them, in the order above.
    #[must_use]
    pub const fn all(&self) -> [f64; SIGNS] {
        [
            self.history,
            self.noise,
            self.month_off,
            self.month,
            self.swing,
            self.trend,
            self.trend_off,
            self.idle,
            self.change,
        ]
    }
}

/// How far the sum of values that are 0 on the average gets from 0.
fn farthest(values: &[f64]) -> f64 {
    let mut sum = 0.0_f64;
    values.iter().fold(0.0, |farthest: f64, value| {
        sum += value;
        farthest.max(sum.abs())
    })
}

/// Compares one pace with two, of the root of each week, whose variance depends little on its mean.
fn change(sums: &[f64], usual: f64) -> f64 {
    /// Keeps the ratio finite where all weeks are alike.
    const LEAST_SQUARES: f64 = 0.3;
    let roots: Vec<f64> = sums.iter().map(|sum| (sum / usual + 0.1).sqrt()).collect();
    let whole = squares(&roots) + LEAST_SQUARES;
    let parts = (2..roots.len().saturating_sub(1)).map(|place| {
        let (before, after) = roots.split_at(place);
        (whole / (squares(before) + squares(after) + LEAST_SQUARES)).ln()
    });
    parts.fold(0.0, f64::max) * float(roots.len()) / 2.0
}

/// Sum of the squared distances from the mean.
fn squares(values: &[f64]) -> f64 {
    let mean = values.iter().sum::<f64>() / float(values.len()).max(1.0);
    values.iter().map(|value| (value - mean).powi(2)).sum()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::care::forecast::week::Day;

    /// Weeks with so many hours, all on Monday.
    fn signs(hours: &[u64]) -> Signs {
        let week = |hours: &u64| {
            let mut week = Week::default();
            week[0] = Day { run_ms: hours * 3_600_000, sessions: 1 };
            week
        };
        Signs::of(&hours.iter().map(week).collect::<Vec<_>>())
    }

    #[track_caller]
    fn assert_near(found: f64, expected: f64) {
        assert!((found - expected).abs() < 1e-6, "{found} instead of {expected}");
    }

    #[test]
    fn weeks_that_grow_are_a_trend() {
        // Mean 5; relative to it -0.6 -0.2 0.2 0.6, squares 0.8; on a line of slope 0.4 with nothing left over, squares about the
        // middle week 5. Usual: 23 h in 5 weeks.
        let signs = signs(&[2, 4, 6, 8]);
        assert_near(signs.history, 4.0_f64.ln());
        assert_near(signs.noise, ((1.44 + 0.8) / 8.0_f64).ln());
        assert_near(signs.trend, 0.4 / (0.05 / 5.0_f64).sqrt());
        assert_near(signs.trend_off, signs.trend);
        // The sums -0.6, -0.8, -0.6, 0: at most 0.8, over the root of 0.05 times 4.
        assert_near(signs.swing, 0.8 / 0.2_f64.sqrt());
        assert_near(signs.month, ((5.0 + 0.69) / (1.15 * 4.6_f64)).ln());
        assert_near(signs.month_off, signs.month);
        assert_near(signs.idle, 0.0);
        // Two weeks before and two after (numpy).
        assert_near(signs.change, 0.798_930_086_8);
    }

    #[test]
    fn a_slow_month_is_below_zero_and_a_change_of_pace_is_seen() {
        let slower = signs(&[8, 0, 8, 1, 0, 0, 1, 1]);
        assert_near(slower.idle, 3.0 / 8.0);
        assert!(slower.month < 0.0 && slower.trend < 0.0, "{slower:?}");
        assert_near(slower.month_off, -slower.month);
        let (changed, mixed) = (signs(&[9, 9, 9, 9, 2, 2, 2, 2]), signs(&[9, 2, 9, 2, 9, 2, 9, 2]));
        assert!(changed.change > 2.0 * mixed.change, "{changed:?} {mixed:?}");
        assert!(changed.swing > 2.0 * mixed.swing, "{changed:?} {mixed:?}");
    }

    #[test]
    fn any_weeks_give_finite_signs() {
        for hours in [&[][..], &[0], &[5], &[0, 0, 0, 0, 0], &[3, 3, 3, 3], &[0, 0, 0, 168], &[168; 104]] {
            let signs = signs(hours);
            assert!(signs.all().iter().all(|sign| sign.is_finite()), "{hours:?}: {signs:?}");
        }
    }
}
