//! Prior and posterior distribution of the effect of speed and of the tear rate.
//!
//! The logarithm of the tears per stroke is a rug's own effect plus *b* for each doubling of the stroke rate. Before any tear *b* is
//! normal with mean 0 and deviation 0.5. Rug effects are conditioned out, as in the primary question: given how many tears a rug
//! had, only where they lay says something of *b*. The mean tears per stroke, given *b*, follow a gamma distribution that starts
//! with half a tear in one rug; where rugs scatter more than chance, the tears count for less.
//!
//! One number is left, so that the belief is a grid of points over it, and everything else is summed over the grid.

use super::PLACES;
use super::running::Running;
use crate::stats::{Observed, gamma_above, number, root};

/// The deviation of *b* before any tear: a doubling of the speed that makes 0.6 to 1.6 times as many tears is within one of it.
/// A choice of this program; no source.
pub const PRIOR_DEVIATION: f64 = 0.5;
/// Tears that the belief about the rate starts with, in one rug. A guess for planning, from memory.
pub const PRIOR_TEARS: f64 = 0.5;
/// No effect beyond this is looked at: ten deviations of the prior.
const FARTHEST: f64 = 5.0;
/// Points of the first, wide grid and of the second, narrow one.
const WIDE: u32 = 400;
const NARROW: u32 = 240;
/// Points that are less likely than the best one by this factor, as a logarithm, are left out.
const NEGLIGIBLE: f64 = 20.0;

/// One possible effect of speed.
#[derive(Clone, Debug, PartialEq)]
pub struct Point {
    /// The growth of the logarithm of the tears per stroke for each doubling of the stroke rate.
    pub b: f64,
    /// Posterior probability; all points sum to 1.
    pub weight: f64,
    /// The factor on the tears per stroke at each place of the running.
    pub factors: Vec<f64>,
    /// The gamma distribution of the tears per stroke at the mean speed: its shape ...
    pub shape: f64,
    /// ... and its rate, in strokes.
    pub rate: f64,
}

impl Point {
    /// The probability that the tears per stroke at the mean speed are above a value.
    #[must_use]
    pub fn above(&self, tears_per_stroke: f64) -> f64 {
        gamma_above(self.shape, tears_per_stroke * self.rate)
    }

    /// Their mean.
    #[must_use]
    pub fn mean(&self) -> f64 {
        self.shape / self.rate
    }
}

/// A belief.
#[derive(Clone, Debug, PartialEq)]
pub struct Posterior {
    /// Possible effects with their weights, from the lowest.
    pub points: Vec<Point>,
}

/// The tears of one rug, or cloth, by place of the running; and its strokes.
pub type Stratum = Vec<Observed>;

impl Posterior {
    /// Before any tear.
    #[must_use]
    pub fn prior(running: &Running) -> Option<Self> {
        let nothing = Running { tears: 0, strokes: 0.0, ..running.clone() };
        Self::of(&[], &nothing)
    }

    /// After the tears. None without a rug or running.
    #[must_use]
    pub fn of(strata: &[Stratum], running: &Running) -> Option<Self> {
        let strokes_per_rug = running.strokes_per_rug.filter(|_| !running.places.is_empty())?;
        let factors_at =
            |b: f64| -> Vec<f64> { running.places.iter().map(|place| (b * place.doublings).exp()).collect() };
        let informative: Vec<&Stratum> = strata
            .iter()
            .filter(|stratum| stratum.iter().any(|part| part.events > 0))
            .filter(|stratum| stratum.iter().any(|part| part.exposure > 0.0))
            .collect();
        let ln = |b: f64| {
            let factors = factors_at(b);
            let told: f64 =
                informative.iter().map(|stratum| ln_likelihood(stratum, b, running, &factors)).sum();
            told - 0.5 * (b / PRIOR_DEVIATION).powi(2)
        };
        let wide = grid(-FARTHEST, FARTHEST, WIDE, &ln);
        let best = highest(&wide);
        let near: Vec<f64> = wide.iter().filter(|(_, ln)| *ln > best - NEGLIGIBLE).map(|(b, _)| *b).collect();
        let step = 2.0 * FARTHEST / f64::from(WIDE);
        let (low, high) = (near.first()? - step, near.last()? + step);
        let fine = grid(low, high, NARROW, &ln);
        let best = highest(&fine);
        let all: f64 = fine.iter().map(|(_, ln)| (ln - best).exp()).sum();
        let weigh = 1.0 / running.scatter.max(1.0);
        let shape = PRIOR_TEARS + number(running.tears) * weigh;
        let points = fine.into_iter().map(|(b, ln)| {
            let factors = factors_at(b);
            let shares = running.places.iter().map(|place| place.share);
            let mean: f64 = shares.zip(&factors).map(|(share, factor)| share * factor).sum();
            let rate = strokes_per_rug + running.strokes * mean * weigh;
            Point { b, weight: (ln - best).exp() / all, factors, shape, rate }
        });
        Some(Self { points: points.collect() })
    }

    /// The mean of something over the belief.
    #[must_use]
    pub fn mean(&self, value: impl Fn(&Point) -> f64) -> f64 {
        self.points.iter().map(|point| point.weight * value(point)).sum()
    }

    /// Effects with the share of the belief below each; half of a point's weight lies at either side of it.
    fn shares_below(&self) -> Vec<(f64, f64)> {
        let below = self.points.iter().scan(0.0, |sum, point| {
            let here = (point.b, *sum + point.weight / 2.0);
            *sum += point.weight;
            Some(here)
        });
        below.collect()
    }

    /// The effect below which so much of the belief lies.
    #[must_use]
    pub fn effect_quantile(&self, share: f64) -> Option<f64> {
        between(self.shares_below().iter().map(|(b, below)| (*below, *b)), share)
    }

    /// Posterior probability above an effect.
    #[must_use]
    pub fn share_above(&self, b: f64) -> Option<f64> {
        between(self.shares_below().into_iter(), b).map(|below| 1.0 - below)
    }

    /// The tears per stroke at a place of the running below which so much of the belief lies.
    #[must_use]
    pub fn rate_quantile(&self, place: usize, share: f64) -> Option<f64> {
        let below = |rate: f64| {
            self.mean(|point| {
                let factor = point.factors.get(place).copied().unwrap_or(1.0);
                1.0 - point.above(rate / factor)
            })
        };
        let mean = self.mean(|point| point.mean() * point.factors.get(place).copied().unwrap_or(1.0));
        let (mut low, mut high) = (0.0, mean);
        for _ in 0..60 {
            if below(high) >= share {
                break;
            }
            (low, high) = (high, high * 2.0);
        }
        root(low, high, |rate| below(rate) - share)
    }
}

/// The value at a place between rising points, on the straight line; at the ends that of the nearest point.
fn between(points: impl Iterator<Item = (f64, f64)>, at: f64) -> Option<f64> {
    let mut before: Option<(f64, f64)> = None;
    for (place, value) in points {
        if place >= at {
            return Some(before.map_or(value, |(earlier, low)| {
                low + (value - low) * (at - earlier) / (place - earlier).max(f64::MIN_POSITIVE)
            }));
        }
        before = Some((place, value));
    }
    before.map(|(_, value)| value)
}

/// What a rug's tears say of one effect, given how many it had.
fn ln_likelihood(stratum: &Stratum, b: f64, running: &Running, factors: &[f64]) -> f64 {
    let expected: f64 = stratum.iter().zip(factors).map(|(part, factor)| part.exposure * factor).sum();
    let tears = stratum.iter().zip(&running.places);
    tears.map(|(part, place)| number(part.events) * (b * place.doublings - expected.ln())).sum()
}

fn grid(low: f64, high: f64, steps: u32, ln: &dyn Fn(f64) -> f64) -> Vec<(f64, f64)> {
    let at = |step: u32| low + (high - low) * f64::from(step) / f64::from(steps);
    (0..=steps).map(at).map(|b| (b, ln(b))).filter(|(_, ln)| ln.is_finite()).collect()
}

fn highest(points: &[(f64, f64)]) -> f64 {
    points.iter().map(|(_, ln)| *ln).fold(f64::NEG_INFINITY, f64::max)
}

/// Gathers a rug's parts of the whole travel into the places at which the machine ran.
#[must_use]
pub fn stratum(parts: &[Observed; PLACES], running: &Running) -> Stratum {
    let mut own = vec![Observed::default(); running.places.len()];
    for (part, seen) in parts.iter().enumerate() {
        if let Some(place) = running.nearest(part).and_then(|place| own.get_mut(place)) {
            *place = place.plus(*seen);
        }
    }
    own
}

#[cfg(test)]
#[path = "posterior_tests.rs"]
pub(super) mod tests;
