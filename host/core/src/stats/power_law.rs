//! Power-law process of the faults of one repaired machine, and the test for a trend.
//!
//! Names differ between handbooks. Here `shape` is the power of time in the expected number of faults, `scale * t^shape`:
//! above 1 faults come ever more often, below 1 ever less often. (Some call one minus it the growth slope.) Two estimators
//! of the shape are in use: maximum likelihood, and one corrected for its bias; each stands under its own name.

use serde::Serialize;
use statrs::function::gamma::checked_gamma_lr;

use super::tails::{chi_square_above, gamma_quantile, gamma_upper_quantile};
use super::weibull::ln_relative;
use super::{Estimate, Level, finite, number};

/// Truncation of the observation, by time or by fault; the formulae differ by one fault.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ending {
    /// A moment that had nothing to do with a fault.
    Time,
    /// The last fault itself.
    Failure,
}

/// Faults of one machine since it began to be observed.
#[derive(Clone, Debug, PartialEq)]
pub struct Faults {
    times: Vec<f64>,
    end: f64,
    ending: Ending,
}

/// The power law; each number is none where it does not exist.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct PowerLaw {
    /// Maximum likelihood.
    pub shape: Option<f64>,
    /// Expected faults up to time 1, from the same; in the caller's unit of time.
    pub scale: Option<f64>,
    /// The shape corrected for its bias.
    pub shape_unbiased: Option<f64>,
    /// How far the faults stray from the curve; small is good.
    pub cramer_von_mises: Option<f64>,
}

/// Whether the faults have a trend, and how sure that is.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct TrendTest {
    /// Twice the sum of the logarithms of end over fault time; large when faults came early.
    pub chi_square: Option<f64>,
    /// Its degrees of freedom.
    pub degrees_of_freedom: Option<u64>,
    /// How surprising so large a value would be without a trend; small means they come less often.
    pub p_rarer: Option<f64>,
    /// How surprising so small a value would be; small means they come more often.
    pub p_more_often: Option<f64>,
}

impl Faults {
    /// Faults in rising order, all above zero and none after the end; nothing else is accepted. When a fault ended the
    /// observation, the end must be the last fault.
    #[must_use]
    pub fn new(times: Vec<f64>, end: f64, ending: Ending) -> Option<Self> {
        let is_rising = times.windows(2).all(|two| matches!(two, [one, next] if one <= next));
        let is_inside = times.iter().all(|&time| time > 0.0 && time <= end) && end.is_finite() && end > 0.0;
        let is_ended = ending == Ending::Time || times.last() == Some(&end);
        (is_rising && is_inside && is_ended).then_some(Self { times, end, ending })
    }

    /// How many.
    #[must_use]
    pub fn count(&self) -> u64 {
        u64::try_from(self.times.len()).unwrap_or(u64::MAX)
    }

    /// When the observation ended.
    #[must_use]
    pub const fn end(&self) -> f64 {
        self.end
    }

    /// When they happened.
    #[must_use]
    pub fn times(&self) -> &[f64] {
        &self.times
    }

    /// The faults whose moment was free: all of them, or all but the one that set the end.
    fn free(&self) -> &[f64] {
        match (self.ending, self.times.split_last()) {
            (Ending::Failure, Some((_, before))) => before,
            _ => &self.times,
        }
    }

    fn free_count(&self) -> u64 {
        u64::try_from(self.free().len()).unwrap_or(u64::MAX)
    }

    /// Laplace's test: how far the mean fault lies beyond the middle, in standard errors. Positive: they come more often.
    #[must_use]
    pub fn laplace(&self) -> Option<f64> {
        let free = number(self.free_count());
        let beyond: f64 = self.free().iter().map(|time| time / self.end - 0.5).sum();
        (free > 0.0).then(|| beyond * (12.0 / free).sqrt())
    }

    /// The test of the military handbook on reliability growth, the most powerful one against a power law.
    #[must_use]
    pub fn trend_test(&self) -> TrendTest {
        if self.free().is_empty() {
            return TrendTest::default();
        }
        let degrees = 2 * self.free_count();
        // An empty sum of floating numbers is minus nought.
        let chi_square = 2.0 * self.sum_of_logarithms() + 0.0;
        TrendTest {
            chi_square: Some(chi_square),
            degrees_of_freedom: Some(degrees),
            p_rarer: chi_square_above(chi_square, number(degrees)),
            p_more_often: chi_square_below(chi_square, number(degrees)),
        }
    }

    /// Fits the power law.
    #[must_use]
    pub fn power_law(&self) -> PowerLaw {
        let (count, sum) = (number(self.count()), self.sum_of_logarithms());
        let Some(shape) = finite(count / sum).filter(|_| sum > 0.0) else {
            return PowerLaw::default();
        };
        let scale = finite((count.ln() - shape * self.end.ln()).exp()).filter(|scale| *scale > 0.0);
        let lost = match self.ending {
            Ending::Time => 1.0,
            Ending::Failure => 2.0,
        };
        let shape_unbiased = Some(shape * (count - lost) / count).filter(|shape| *shape > 0.0);
        let cramer_von_mises = shape_unbiased.map(|shape| self.cramer_von_mises(shape));
        PowerLaw { shape: Some(shape), scale, shape_unbiased, cramer_von_mises }
    }

    fn cramer_von_mises(&self, shape: f64) -> f64 {
        let twice = 2.0 * number(self.free_count());
        let odd = (0_u64..).map(|place| number(2 * place + 1) / twice);
        // By the logarithm, because a quotient next to 1 loses the digits that a steep curve needs.
        let on_curve = |time: f64| (shape * ln_relative(time, self.end)).exp();
        let off = |(time, expected): (&f64, f64)| (on_curve(*time) - expected).powi(2);
        1.0 / (6.0 * twice) + self.free().iter().zip(odd).map(off).sum::<f64>()
    }

    /// The mean time between faults if it never changed, with two-sided chi-square limits; without any fault only the lower
    /// limit exists, and it is one-sided.
    #[must_use]
    pub fn mean_between(&self, level: Level) -> Estimate {
        let count = number(self.count());
        if self.times.is_empty() {
            return Estimate { low: finite(self.end / -(1.0 - level.share()).ln()), ..Estimate::default() };
        }
        let beyond = match self.ending {
            Ending::Time => count + 1.0,
            Ending::Failure => count,
        };
        let tail = level.tail();
        let most = gamma_upper_quantile(beyond, tail);
        let fewest = gamma_quantile(count, tail);
        let per = |expected: f64| finite(self.end / expected);
        Estimate { estimate: per(count), low: most.and_then(per), high: fewest.and_then(per) }
    }

    /// The mean time between faults at the end of the observation, by the power law with its maximum-likelihood shape.
    #[must_use]
    pub fn mean_between_now(&self) -> Option<f64> {
        self.power_law().shape.and_then(|shape| finite(self.end / (number(self.count()) * shape)))
    }

    /// Mean time between faults up to each fault: its time over its number. A plot of it is straight on double logarithmic
    /// paper when the power law holds.
    #[must_use]
    pub fn mean_between_up_to_each(&self) -> Vec<f64> {
        (1_u64..).zip(&self.times).map(|(count, time)| time / number(count)).collect()
    }

    fn sum_of_logarithms(&self) -> f64 {
        self.free().iter().map(|time| -ln_relative(*time, self.end)).sum()
    }
}

/// The probability of a chi-square value at most as large.
fn chi_square_below(value: f64, degrees_of_freedom: f64) -> Option<f64> {
    if value <= 0.0 {
        return Some(0.0);
    }
    checked_gamma_lr(degrees_of_freedom / 2.0, value / 2.0).ok()
}

#[cfg(test)]
#[path = "power_law_tests.rs"]
mod tests;
