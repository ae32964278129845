//! The weights of the places at which a range is read; our assumption, learned on made-up makers (`STATISTICS.md`, section 21).

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
    always: 1.7348,
    ahead: -1.2344,
    ahead_squared: 0.0226,
    signs: [
        // history
        weight(0.1505, 0.4458, -0.1973),
        // noise
        weight(1.6674, -0.2047, -0.5364),
        // month_off
        weight(-0.2749, 0.2078, 0.4494),
        // month
        weight(-5.8759, 0.11, 1.5006),
        // swing
        weight(-2.1967, -1.1448, 0.9807),
        // trend
        weight(2.5221, 0.131, -0.6383),
        // trend_off
        weight(3.6088, 0.9565, -1.1296),
        // idle
        weight(-10.0831, 1.706, 2.4987),
        // change
        weight(-1.7809, -0.255, 0.4448),
    ],
};
