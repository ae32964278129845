//! What the place of an end of the range depends on, as a row of numbers; the weights are as long, in the same order.

use super::place_weights::{End, Weight};
use super::signs::{SIGNS, Signs};
use super::week::{WEEK, float};

/// How many numbers a row has: three of the weeks ahead, three of each sign.
pub const ROW: usize = 3 + 3 * SIGNS;

/// The row for a day, in whole days after today: 1, the logarithm of the weeks ahead and its square; then each sign alone, times
/// that logarithm, and times the logarithm of the weeks of history.
#[must_use]
pub fn row(signs: &Signs, day: f64) -> [f64; ROW] {
    let ahead = ((day + 0.5) / float(WEEK) + 0.5).ln();
    let by_sign = signs.all().into_iter().flat_map(|sign| [sign, sign * ahead, sign * signs.history]);
    filled([1.0, ahead, ahead * ahead].into_iter().chain(by_sign))
}

/// The sum of each number times its weight.
#[must_use]
pub fn score(weights: &[f64], row: &[f64; ROW]) -> f64 {
    weights.iter().zip(row).map(|(weight, number)| weight * number).sum()
}

impl End {
    /// The weights, each where [`row`] has what it belongs to.
    #[must_use]
    pub fn weights(&self) -> [f64; ROW] {
        let Self { always, ahead, ahead_squared, signs } = *self;
        let by_sign = signs
            .into_iter()
            .flat_map(|Weight { alone, with_ahead, with_history }| [alone, with_ahead, with_history]);
        filled([always, ahead, ahead_squared].into_iter().chain(by_sign))
    }
}

fn filled(numbers: impl Iterator<Item = f64>) -> [f64; ROW] {
    let mut row = [0.0; ROW];
    for (place, number) in row.iter_mut().zip(numbers) {
        *place = number;
    }
    row
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_weight_stands_where_the_row_has_its_number() {
        let weight = Weight { alone: 0.0, with_ahead: 0.0, with_history: 0.0 };
        let mut end = End { always: 1.0, ahead: 10.0, ahead_squared: 100.0, signs: [weight; SIGNS] };
        let last = &mut end.signs[SIGNS - 1];
        (last.alone, last.with_ahead, last.with_history) = (1_000.0, 10_000.0, 100_000.0);
        let signs = Signs {
            history: 8.0_f64.ln(),
            noise: -1.0,
            month_off: 0.2,
            month: -0.2,
            swing: 1.5,
            trend: -2.0,
            trend_off: 2.0,
            idle: 0.25,
            change: 3.0,
        };
        // The day that begins three days after today lies half a week and half a week ahead: the logarithm of 1.
        assert!(
            (score(&end.weights(), &row(&signs, 3.0)) - (1.0 + 3_000.0 + 300_000.0 * 8.0_f64.ln())).abs()
                < 1e-6
        );
        // Seven weeks later, of 8.
        let ahead = 8.0_f64.ln();
        let expected =
            1.0 + 10.0 * ahead + 100.0 * ahead * ahead + 3_000.0 + 30_000.0 * ahead + 300_000.0 * ahead;
        assert!((score(&end.weights(), &row(&signs, 52.0)) - expected).abs() < 1e-6);
    }
}
