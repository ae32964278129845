//! Current-status data: each look says dirty or clean, and when it became dirty is never seen. The probability of dirty after `t` is
//! Weibull, `1 - exp(-(t / scale)^shape)`.
//!
//! A few looks say little about the shape, so it has a stated prior: its logarithm is normal around ln 2 with deviation 0.5
//! (a shape between 0.75 and 5.3 in 19 of 20). The time by which a given share is dirty is itself the second parameter, so that
//! its limits come from its own profile. For a given shape the likelihood has one top (the logarithm of a complementary
//! log-log binomial likelihood is concave), and the shape is searched over its whole range before the top is closed in on.

use super::root::{Side, limit, root};
use super::tails::normal_distance;
use super::weibull::Weibull;
use super::{Estimate, Level, finite, number};

/// One look.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Look {
    /// Time since it was last clean, in the caller's unit; above zero.
    pub time: f64,
    /// Whether it was dirty.
    pub dirty: bool,
}

/// The middle of the prior of the logarithm of the shape: ln 2.
pub const PRIOR_LN_SHAPE: f64 = std::f64::consts::LN_2;
/// The standard deviation of that prior.
pub const PRIOR_LN_SHAPE_DEVIATION: f64 = 0.5;

/// How far from the prior's middle the logarithm of the shape is searched: ten deviations.
const FARTHEST_LN_SHAPE: f64 = 5.0;
/// Into how many cells that range is cut before the best one is closed in on.
const CELLS: u32 = 24;

/// The fitted curve.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DirtyCurve {
    /// Shape and scale at the top of likelihood times prior.
    pub best: Weibull,
    /// The time by which the asked share is dirty, with profile-likelihood limits.
    pub time_of_share: Estimate,
}

/// Whether one time parts the dirty looks from the clean ones, so that an ever steeper curve fits ever better (or, where the
/// dirty ones are the earlier, no rising curve fits at all). Also true when there is only one kind.
#[must_use]
pub fn are_separated(looks: &[Look]) -> bool {
    let range = |dirty: bool| {
        let times = || looks.iter().filter(move |look| look.dirty == dirty).map(|look| look.time);
        (times().fold(f64::INFINITY, f64::min), times().fold(f64::NEG_INFINITY, f64::max))
    };
    let ((first_dirty, last_dirty), (first_clean, last_clean)) = (range(true), range(false));
    last_clean <= first_dirty || last_dirty <= first_clean
}

/// Fits the curve and the time by which `share` (above 0, below 1) is dirty; nothing when the looks are separated.
#[must_use]
pub fn dirty_curve(looks: &[Look], share: f64, level: Level) -> Option<DirtyCurve> {
    let is_usable = |look: &Look| look.time.is_finite() && look.time > 0.0;
    if are_separated(looks) || !looks.iter().all(is_usable) || !(share > 0.0 && share < 1.0) {
        return None;
    }
    let model = Model::of(looks, share);
    let ln_shape = best_of(|ln_shape| model.best_time(ln_shape).map(|at| model.at(ln_shape, at)))?;
    let ln_time = model.best_time(ln_shape)?;
    let top = model.at(ln_shape, ln_time).value;
    let z = normal_distance(level.tail())?;
    let deviance = |ln_time: f64| {
        let best = best_of(|ln_shape| Some(model.at(ln_shape, ln_time)));
        best.map_or(f64::NAN, |ln_shape| 2.0 * (top - model.at(ln_shape, ln_time).value))
    };
    let back = |ln_time: f64| finite((ln_time + model.middle).exp());
    let at = |side| limit(ln_time, side, z * z, deviance).and_then(back);
    let time_of_share = Estimate { estimate: back(ln_time), low: at(Side::Below), high: at(Side::Above) };
    let scale = (ln_time + model.middle - model.ln_odds / ln_shape.exp()).exp();
    Some(DirtyCurve { best: Weibull::new(ln_shape.exp(), scale)?, time_of_share })
}

/// Looks by distinct time: how many dirty, how many clean.
struct Model {
    /// Logarithm of the time less the middle one, dirty, clean.
    rows: Vec<(f64, f64, f64)>,
    /// The middle of the logarithms of the times.
    middle: f64,
    /// The logarithm of the cumulative hazard at which the asked share is dirty.
    ln_odds: f64,
    looks: f64,
}

/// The logarithm of likelihood times prior, and how it changes.
#[derive(Clone, Copy)]
struct Height {
    value: f64,
    /// With the logarithm of the shape.
    by_shape: f64,
    /// With the logarithm of the time of the asked share.
    by_time: f64,
}

impl Model {
    fn of(looks: &[Look], share: f64) -> Self {
        let mut sorted = looks.to_vec();
        sorted.sort_by(|one, other| one.time.total_cmp(&other.time));
        let count = |looks: &[Look], dirty: bool| {
            number(u64::try_from(looks.iter().filter(|look| look.dirty == dirty).count()).unwrap_or(0))
        };
        let looks = number(u64::try_from(sorted.len()).unwrap_or(u64::MAX));
        let middle = sorted.iter().map(|look| look.time.ln() / looks).sum();
        let rows = sorted
            .chunk_by(|one, other| one.time == other.time)
            .filter_map(|tied| {
                Some((tied.first()?.time.ln() - middle, count(tied, true), count(tied, false)))
            })
            .collect();
        Self { rows, middle, ln_odds: (-(-share).ln_1p()).ln(), looks }
    }

    fn at(&self, ln_shape: f64, ln_time: f64) -> Height {
        let shape = ln_shape.exp();
        let off = (ln_shape - PRIOR_LN_SHAPE) / PRIOR_LN_SHAPE_DEVIATION;
        let mut height =
            Height { value: -0.5 * off * off, by_shape: -off / PRIOR_LN_SHAPE_DEVIATION, by_time: 0.0 };
        for &(ln_look, dirty, clean) in &self.rows {
            let ln_hazard = self.ln_odds + shape * (ln_look - ln_time);
            // A hazard beyond e^600 would overflow sums; its sign and size are plain enough.
            let hazard = ln_hazard.min(600.0).exp();
            let ln_dirty = if ln_hazard < -30.0 { ln_hazard } else { (-(-hazard).exp_m1()).ln() };
            height.value += dirty * ln_dirty - clean * hazard;
            let pull = if hazard > 700.0 {
                0.0
            } else if hazard < 1e-300 {
                1.0
            } else {
                hazard / hazard.exp_m1()
            };
            let slope = dirty * pull - clean * hazard;
            height.by_shape += slope * shape * (ln_look - ln_time);
            height.by_time -= slope * shape;
        }
        height
    }

    /// The best logarithm of the time for a shape. Far enough to either side one kind of look outweighs all of the other.
    fn best_time(&self, ln_shape: f64) -> Option<f64> {
        let reach = (self.looks.ln() + 3.0 + self.ln_odds.abs()) / ln_shape.exp();
        let first = self.rows.first()?.0 - reach;
        let last = self.rows.last()?.0 + reach;
        root(first, last, |ln_time| -self.at(ln_shape, ln_time).by_time)
    }
}

/// The logarithm of the shape at the highest top: the best of a grid, closed in on by the sign of the slope.
fn best_of(height: impl Fn(f64) -> Option<Height>) -> Option<f64> {
    let width = 2.0 * FARTHEST_LN_SHAPE / f64::from(CELLS);
    let first = PRIOR_LN_SHAPE - FARTHEST_LN_SHAPE;
    let places = (0..=CELLS).map(|cell| first + width * f64::from(cell));
    let valued = places.filter_map(|place| Some((place, height(place)?.value)));
    let (best, _) = valued.max_by(|one, other| one.1.total_cmp(&other.1))?;
    let falling = |ln_shape: f64| height(ln_shape).map_or(f64::NAN, |height| -height.by_shape);
    root(best - width, best, falling).or_else(|| root(best, best + width, falling))
}

#[cfg(test)]
#[path = "current_status_tests.rs"]
mod tests;
