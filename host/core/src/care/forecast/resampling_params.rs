//! How the past weighs in what is drawn, and the prior weeks of a short history. All numbers here are our assumptions, no source;
//! they were chosen so that the futures are near the truth for makers of many habits (`host/core/STATISTICS/care.md`).

/// How the past weighs.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ResamplingParams {
    /// The chance that the week after the one drawn last follows it again.
    pub follow_share: f64,
    /// Otherwise the chance that the next week is like one of the last few.
    pub near_share: f64,
    /// How many weeks back the last few lie, on the average.
    pub near_weeks: f64,
    /// Of the other draws, the share that takes any week before alike.
    pub any_share: f64,
    /// How many weeks back the rest lies, on the average.
    pub far_weeks: f64,
    /// The least share of draws that are prior weeks, however long the history.
    pub prior_share: f64,
    /// How uncertain the pace as a whole is: a deviation of its logarithm, for any history.
    pub pace: f64,
    /// The same on top, times the deviation of the mean week that the history has.
    pub pace_of_mean: f64,
    /// Raises the logarithm of the pace by so many times the variance of the mean week, because few weeks rarely hold a large one.
    pub lift: f64,
    /// How far the pace wanders in a week, as a deviation of its logarithm.
    pub wander: f64,
    /// The chance that the pace changes for good from one week to the next, and the deviation of its logarithm then.
    pub jump: (f64, f64),
    /// For how many weeks of history the prior belief counts that the pace wanders and jumps as said above.
    pub unrest_weeks: f64,
    /// How strong trends are thought to be: a deviation of the growth of the pace by week.
    pub growth: f64,
}

/// The memory in use.
pub const RESAMPLING_PARAMS: ResamplingParams = ResamplingParams {
    follow_share: 0.6,
    near_share: 0.14,
    near_weeks: 1.05,
    any_share: 0.34,
    far_weeks: 26.0,
    prior_share: 0.01,
    pace: 0.06,
    pace_of_mean: 1.1,
    lift: 1.4,
    wander: 0.066,
    jump: (0.012, 1.3),
    unrest_weeks: 10.5,
    growth: 0.015,
};

/// Only the maker's own weeks, each as probable as any other, at the pace that they had: what textbooks assume. For checks.
pub const PLAIN: ResamplingParams = ResamplingParams {
    follow_share: 0.0,
    near_share: 0.0,
    near_weeks: 1.0,
    any_share: 1.0,
    far_weeks: 1.0,
    prior_share: 0.0,
    pace: 0.0,
    pace_of_mean: 0.0,
    lift: 0.0,
    wander: 0.0,
    jump: (0.0, 0.0),
    unrest_weeks: 1.0,
    growth: 0.0,
};

/// Prior weeks, as multiples of a usual week of the maker's own: one of eight stands idle, one nearly, one is a rush.
pub const PRIOR_WEEKS: [f64; 8] = [0.0, 0.2, 0.6, 0.85, 1.0, 1.25, 1.7, 2.5];

/// Run time of a usual week before anything is known, in milliseconds: three hours. It counts as one week of the maker's own.
pub const PRIOR_RUN_MS: f64 = 10_800_000.0;

/// Squared coefficient of variation of a week before anything is known.
pub const PRIOR_NOISE: f64 = 0.36;

/// As so many weeks of the maker's own [`PRIOR_NOISE`] counts.
pub const NOISE_WEEKS: f64 = 4.0;
