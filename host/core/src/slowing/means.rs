//! Means over the sessions of each rug.

use crate::stats::number;
use std::collections::BTreeMap;

/// The weight of the newest innovation in the moving average.
pub const EWMA_WEIGHT: f64 = 0.2;

/// A count of sessions or bursts as a number.
pub(super) fn as_number(count: usize) -> f64 {
    u64::try_from(count).map_or(f64::INFINITY, number)
}

pub(super) fn root_mean_square(values: &[f64]) -> f64 {
    (values.iter().map(|value| value * value).sum::<f64>() / as_number(values.len())).sqrt()
}

/// The mean level of each commission so far.
#[derive(Clone, Debug, Default)]
pub(super) struct Means {
    of_rugs: BTreeMap<usize, (f64, f64)>,
}

impl Means {
    /// Takes a level in and gives its innovation; none for the first of a commission.
    pub(super) fn innovation(&mut self, rug: usize, level: f64) -> Option<f64> {
        let (many, mean) = self.of_rugs.entry(rug).or_insert((0.0, 0.0));
        let innovation = (*many > 0.0).then(|| (level - *mean) * (*many / (*many + 1.0)).sqrt());
        *many += 1.0;
        *mean += (level - *mean) / *many;
        innovation
    }
}
