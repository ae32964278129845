//! By what running is sorted: the knob's place or the measured stroke rate.

use crate::studio::StrokeRatio;
use serde::Serialize;

/// Tenths of a stroke per second, rounded; none without running.
#[must_use]
pub fn rate_in_tenths(periods: u64, run_ms: u64, ratio: StrokeRatio) -> Option<u32> {
    let (edges, strokes) = ratio.parts();
    let above = u128::from(periods) * u128::from(strokes) * 10_000;
    let below = u128::from(run_ms) * u128::from(edges);
    (above + below / 2).checked_div(below).and_then(|rate| u32::try_from(rate).ok())
}

/// By what running is sorted.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum SpeedBy {
    /// The knob's place.
    Knob,
    /// The measured stroke rate.
    Rate,
}
