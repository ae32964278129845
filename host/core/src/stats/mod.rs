//! Rates, ratios and trends of rare events, with what they assume and where they come from in `host/core/STATISTICS/stats.md`.
//!
//! Everything here takes counts and exposures and gives numbers; nothing knows tears, knobs or days. What does not exist or is
//! infinite is `None`, so that it becomes `null` in JSON and never a wrong number.

mod age_replacement;
mod cholesky;
mod count;
mod current_status;
mod ewma;
mod first_passage;
mod isotonic;
mod kaplan_meier;
mod log_normal;
mod mantel_haenszel;
mod matched;
mod odds;
mod power_law;
mod quantile;
mod ratio;
mod root;
mod share;
mod tails;
mod time_units;
mod trend;
mod waiting_time;
mod weibull;

use serde::Serialize;

pub use age_replacement::{Costs, NoAge, Replacement, best_age};
pub use cholesky::Square;
pub use count::{count_limits, rate};
pub use current_status::{
    DirtyCurve, Look, PRIOR_LN_SHAPE, PRIOR_LN_SHAPE_DEVIATION, are_separated, dirty_curve,
};
pub use ewma::{limit_distance, moved, moving_average};
pub use first_passage::{Drift, FirstPassage, first_passage};
pub use isotonic::{MonotoneCubic, isotonic};
pub use kaplan_meier::{SurvivalStep, survival};
pub use log_normal::{LEAST_VALUES, held_when_left_out, next_value, next_value_above};
pub use mantel_haenszel::{MantelHaenszel, mantel_haenszel};
pub use matched::{MatchedSet, Moment, Redrawn, matched_slope, redrawn};
pub use odds::logistic;
pub use power_law::{Ending, Faults, PowerLaw, TrendTest};
pub use quantile::quantile;
pub use ratio::{ExactP, ExactRatio, MAX_EVENTS, TooManyEvents, binomial, exact_p, exact_ratio};
pub use root::root;
pub use share::share_limits;
pub use tails::{gamma_above, student_distance};
pub use time_units::{DAY_MS, HOUR_MS, MINUTE_MS, days, hours};
pub use trend::{Trend, TrendRow, trend};
pub use waiting_time::waiting_time;
pub use weibull::{Life, Lives, Weibull, WeibullFit};

/// Events seen during an exposure: tears in strokes, breaks on looms, incidents in months at sea.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Observed {
    /// How many.
    pub events: u64,
    /// During how much, in the caller's unit; not negative, finite.
    pub exposure: f64,
}

impl Observed {
    /// Both of another added.
    #[must_use]
    pub fn plus(self, other: Self) -> Self {
        Self { events: self.events.saturating_add(other.events), exposure: self.exposure + other.exposure }
    }
}

/// One stratum of a comparison: the same rug, the same loom, the same age.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Pair {
    /// The one above the line of the ratio.
    pub upper: Observed,
    /// The one below the line.
    pub lower: Observed,
}

impl Pair {
    /// Whether the stratum says anything about the ratio: exposure on both sides, and at least one event.
    #[must_use]
    pub fn is_informative(&self) -> bool {
        self.upper.exposure > 0.0
            && self.lower.exposure > 0.0
            && self.upper.events.saturating_add(self.lower.events) > 0
    }
}

/// Confidence level of two-sided limits; above 0 and below 1.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Level(f64);

impl Level {
    /// The usual level, 0.95.
    pub const USUAL: Self = Self(0.95);

    /// Takes a share such as 0.95; nothing when it is not above 0 and below 1.
    #[must_use]
    pub fn new(share: f64) -> Option<Self> {
        (share > 0.0 && share < 1.0).then_some(Self(share))
    }

    /// The level as a share.
    #[must_use]
    pub const fn share(self) -> f64 {
        self.0
    }

    /// Probability of each of the two tails.
    #[must_use]
    pub fn tail(self) -> f64 {
        (1.0 - self.0) / 2.0
    }
}

/// A number with its limits; each is `None` where it does not exist or is infinite.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct Estimate {
    /// The best single number.
    pub estimate: Option<f64>,
    /// The lower limit.
    pub low: Option<f64>,
    /// The upper limit.
    pub high: Option<f64>,
}

impl Estimate {
    /// All three times a factor, for another unit.
    #[must_use]
    pub fn times(self, factor: f64) -> Self {
        let by = |value: Option<f64>| value.map(|value| value * factor);
        Self { estimate: by(self.estimate), low: by(self.low), high: by(self.high) }
    }
}

/// A count as a number for division and logarithms. Exact below 2^53, which no count of events here comes near.
#[must_use]
#[expect(clippy::cast_precision_loss, reason = "statistics are floating; counts and times stay below 2^53")]
pub fn number(count: u64) -> f64 {
    count as f64
}

/// The number when it is finite.
fn finite(value: f64) -> Option<f64> {
    value.is_finite().then_some(value)
}
