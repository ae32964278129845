//! Weibull lives: the survival function is `exp(-(t / scale)^shape)`. Fitted by maximum likelihood to lives of which some
//! were cut short; limits by profile likelihood.
//!
//! For a given shape the best scale is known in closed form, and what is left rises with the shape from minus infinity: one root,
//! inside a bracket. Times are taken relative to the longest one, so that no power overflows whatever the unit.

use statrs::function::gamma::ln_gamma;

use super::root::{Side, limit, root};
use super::tails::normal_distance;
use super::{Estimate, Level, finite, number};

/// One life, in the caller's unit of time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Life {
    /// How long; not negative, finite, and above zero where it ended.
    pub time: f64,
    /// Whether it ended by wear; else it only is known to have lasted that long.
    pub ended: bool,
}

/// A Weibull distribution.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Weibull {
    /// Above 1: the longer it has run, the more likely it ends in the next hour.
    pub shape: f64,
    /// The time by which 63.2 % have ended.
    pub scale: f64,
}

impl Weibull {
    /// A distribution with these parameters; nothing unless both are finite and above zero.
    #[must_use]
    pub fn new(shape: f64, scale: f64) -> Option<Self> {
        let is_usable = |value: f64| value.is_finite() && value > 0.0;
        (is_usable(shape) && is_usable(scale)).then_some(Self { shape, scale })
    }

    /// The mean life; nothing where it is too large for a number.
    #[must_use]
    pub fn mean(self) -> Option<f64> {
        finite((self.scale.ln() + ln_gamma(1.0 + 1.0 / self.shape)).exp())
    }

    /// The share that lasts beyond `time`.
    #[must_use]
    pub fn surviving(self, time: f64) -> f64 {
        if time <= 0.0 { 1.0 } else { (-(self.shape * (time.ln() - self.scale.ln())).exp()).exp() }
    }

    /// The time by which this share has ended; the share above 0 and below 1.
    #[must_use]
    pub fn time_of_share(self, ended: f64) -> Option<f64> {
        finite((self.scale.ln() + (-(-ended).ln_1p()).ln() / self.shape).exp())
    }
}

/// A fit with what it is worth.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WeibullFit {
    /// The distribution under which the lives are most likely.
    pub best: Weibull,
    /// The logarithm of the likelihood there; densities in the caller's unit of time.
    pub log_likelihood: f64,
    /// Lives that ended.
    pub ended: u64,
}

/// Searched shapes, as logarithms: lives spread over 300 powers of ten, to lives alike to the twelfth figure.
const LN_SHAPES: (f64, f64) = (-8.0, 28.0);

/// Prepared lives.
#[derive(Clone, Debug)]
pub struct Lives {
    /// Logarithm of each time over the longest time, zero or below; times of zero say nothing and are left out.
    ln_relative: Vec<f64>,
    /// The sum of those that ended.
    sum_ended: f64,
    ended: f64,
    ended_count: u64,
    ln_longest: f64,
}

impl Lives {
    /// Prepares lives; nothing when none ended.
    #[must_use]
    pub fn new(lives: &[Life]) -> Option<Self> {
        let longest = lives.iter().map(|life| life.time).fold(0.0, f64::max);
        let ended_count = u64::try_from(lives.iter().filter(|life| life.ended).count()).ok()?;
        let is_fit = |life: &Life| life.time.is_finite() && (life.time > 0.0 || !life.ended);
        if ended_count == 0 || longest <= 0.0 || !lives.iter().all(is_fit) {
            return None;
        }
        let ln_of = |life: &Life| ln_relative(life.time, longest);
        let sum_ended = lives.iter().filter(|life| life.ended).map(ln_of).sum();
        let ln_relative = lives.iter().filter(|life| life.time > 0.0).map(ln_of).collect();
        Some(Self {
            ln_relative,
            sum_ended,
            ended: number(ended_count),
            ended_count,
            ln_longest: longest.ln(),
        })
    }

    /// The best fit; nothing when fewer than two lives ended, or when all that ended are the longest of all, so that an ever
    /// steeper curve fits ever better.
    #[must_use]
    pub fn fit(&self) -> Option<WeibullFit> {
        if self.ended_count < 2 || self.sum_ended >= 0.0 {
            return None;
        }
        let ln_shape = root(LN_SHAPES.0, LN_SHAPES.1, |ln_shape| self.slope(ln_shape.exp()))?;
        let shape = ln_shape.exp();
        let best = Weibull::new(shape, self.ln_scale(shape).exp())?;
        Some(WeibullFit { best, log_likelihood: finite(self.profile(shape))?, ended: self.ended_count })
    }

    /// The shape with profile-likelihood limits.
    #[must_use]
    pub fn shape_limits(&self, fit: &WeibullFit, level: Level) -> Estimate {
        let ln_best = fit.best.shape.ln();
        let at = |side| normal_distance(level.tail()).and_then(|z| self.shape_limit(ln_best, side, z * z));
        Estimate { estimate: Some(fit.best.shape), low: at(Side::Below), high: at(Side::Above) }
    }

    /// The one-sided lower limit of the shape by likelihood ratio: the true shape lies above it with the given confidence.
    #[must_use]
    pub fn shape_at_least(&self, fit: &WeibullFit, confidence: Level) -> Option<f64> {
        let z = normal_distance(1.0 - confidence.share())?;
        // Below one half the one-sided limit lies above the best value; no caller wants that.
        if confidence.share() <= 0.5 {
            return None;
        }
        self.shape_limit(fit.best.shape.ln(), Side::Below, z * z)
    }

    fn shape_limit(&self, ln_best: f64, side: Side, allowed: f64) -> Option<f64> {
        let top = self.profile(ln_best.exp());
        let deviance = |ln_shape: f64| 2.0 * (top - self.profile(ln_shape.exp()));
        limit(ln_best, side, allowed, deviance).and_then(|ln_shape| finite(ln_shape.exp()))
    }

    /// The scale with profile-likelihood limits.
    #[must_use]
    pub fn scale_limits(&self, fit: &WeibullFit, level: Level) -> Estimate {
        let ln_best = fit.best.scale.ln();
        let top = self.profile(fit.best.shape);
        let deviance =
            |ln_scale: f64| self.best_at_scale(ln_scale).map_or(f64::NAN, |value| 2.0 * (top - value));
        let at = |side| {
            let z = normal_distance(level.tail())?;
            limit(ln_best, side, z * z, deviance).and_then(|ln_scale| finite(ln_scale.exp()))
        };
        Estimate { estimate: Some(fit.best.scale), low: at(Side::Below), high: at(Side::Above) }
    }

    /// Rises with the shape; zero where the likelihood is largest.
    fn slope(&self, shape: f64) -> f64 {
        let (mut sum, mut weighted) = (0.0, 0.0);
        for ln_time in &self.ln_relative {
            let power = (shape * ln_time).exp();
            sum += power;
            weighted += power * ln_time;
        }
        weighted / sum - 1.0 / shape - self.sum_ended / self.ended
    }

    fn sum_of_powers(&self, shape: f64) -> f64 {
        self.ln_relative.iter().map(|ln_time| (shape * ln_time).exp()).sum()
    }

    /// The logarithm of the best scale for a shape.
    fn ln_scale(&self, shape: f64) -> f64 {
        self.ln_longest + (self.sum_of_powers(shape) / self.ended).ln() / shape
    }

    /// The logarithm of the likelihood at a shape and its best scale.
    fn profile(&self, shape: f64) -> f64 {
        let spread = (self.sum_of_powers(shape) / self.ended).ln();
        self.ended * (shape.ln() - spread - self.ln_longest - 1.0) + (shape - 1.0) * self.sum_ended
    }

    /// The logarithm of the likelihood at a scale and its best shape.
    fn best_at_scale(&self, ln_scale: f64) -> Option<f64> {
        let away = self.ln_longest - ln_scale;
        let falling = |ln_shape: f64| {
            let shape = ln_shape.exp();
            let term = |ln_time: &f64| {
                let ln_ratio = ln_time + away;
                (shape * ln_ratio).exp() * ln_ratio
            };
            let ended = self.sum_ended + self.ended * away;
            self.ln_relative.iter().map(term).sum::<f64>() - self.ended / shape - ended
        };
        // The upper end may overflow; the sign there is plain, so a large number stands for infinity.
        let bounded = |ln_shape: f64| falling(ln_shape).clamp(-1e300, 1e300);
        let shape = root(LN_SHAPES.0, LN_SHAPES.1, bounded)?.exp();
        let sum: f64 = self.ln_relative.iter().map(|ln_time| (shape * (ln_time + away)).exp()).sum();
        let ended = (shape - 1.0) * (self.sum_ended + self.ended * away);
        finite(self.ended * (shape.ln() - ln_scale) + ended - sum)
    }
}

/// The logarithm of `time / longest`, exact also where both are nearly alike and where the quotient would vanish.
pub(super) fn ln_relative(time: f64, longest: f64) -> f64 {
    if time > longest / 2.0 { ((time - longest) / longest).ln_1p() } else { time.ln() - longest.ln() }
}

#[cfg(test)]
#[path = "weibull_tests.rs"]
mod tests;
