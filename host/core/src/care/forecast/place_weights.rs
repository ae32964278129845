//! The weights of the places at which a range is read; our assumption, learned on made-up makers (`host/core/STATISTICS/care.md`).

use super::signs::SIGNS;

/// What one sign adds to the score.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Weight {
    /// Times the sign.
    pub alone: f64,
    /// The same, times the logarithm of the weeks ahead.
    pub with_ahead: f64,
    /// The same, times the logarithm of the weeks of history.
    pub with_history: f64,
}

/// How the place of one end of the range is worked out: a score, which `places.rs` turns into a share of futures.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct End {
    /// In any case.
    pub always: f64,
    /// Times the logarithm of the weeks ahead.
    pub ahead: f64,
    /// Times its square.
    pub ahead_squared: f64,
    /// For each sign, in the order of [`Signs::all`](super::signs::Signs::all).
    pub signs: [Weight; SIGNS],
}

const fn weight(alone: f64, with_ahead: f64, with_history: f64) -> Weight {
    Weight { alone, with_ahead, with_history }
}

/// The early end.
pub const EARLY: End = End {
    always: 3.3533,
    ahead: 0.3286,
    ahead_squared: -0.3975,
    signs: [
        // history
        weight(-1.5491, 0.2156, 0.0058),
        // noise
        weight(1.3056, -0.3451, -0.7173),
        // month_off
        weight(-1.2721, -0.0688, 2.2457),
        // month
        weight(3.4137, 4.5295, -0.4744),
        // swing
        weight(-2.0219, -3.4241, 0.8315),
        // trend
        weight(-4.0315, -0.6539, 0.9666),
        // trend_off
        weight(1.1442, 1.1884, -0.4338),
        // idle
        weight(-9.369, 6.614, 2.7191),
        // change
        weight(-1.0887, 0.1393, 0.1979),
    ],
};

/// The late end.
pub const LATE: End = End {
    always: 2.3363,
    ahead: -1.116,
    ahead_squared: -0.0127,
    signs: [
        // history
        weight(-0.0373, 0.509, -0.2997),
        // noise
        weight(2.1706, -0.1494, -0.7494),
        // month_off
        weight(5.6854, -0.6738, -1.8689),
        // month
        weight(-2.2986, -0.5925, 0.0122),
        // swing
        weight(-4.8489, -1.2604, 2.4369),
        // trend
        weight(2.7141, 0.2172, -0.6412),
        // trend_off
        weight(4.1276, 1.1438, -1.4419),
        // idle
        weight(-15.3898, 2.3438, 4.5845),
        // change
        weight(-2.0586, -0.3071, 0.482),
    ],
};
