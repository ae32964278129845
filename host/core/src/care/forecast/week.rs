//! A week of work, as it was or may be.

/// Days in a week.
pub const WEEK: usize = 7;

/// Whole weeks below which there is no date.
pub const LEAST_WEEKS: usize = 4;

/// What ran on one day.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Day {
    /// Run time.
    pub run_ms: u64,
    /// Sessions begun.
    pub sessions: u32,
}

/// A week, Monday first.
pub type Week = [Day; WEEK];

/// Run time of a week, in milliseconds.
pub(super) fn run_in(week: &Week) -> f64 {
    week.iter().map(|day| as_float(day.run_ms)).sum()
}

#[expect(clippy::cast_precision_loss, reason = "run times stay far below 2^53 ms")]
pub(super) fn as_float(value: u64) -> f64 {
    value as f64
}

#[expect(clippy::cast_precision_loss, reason = "a number of weeks, days or draws")]
pub(super) fn float(value: usize) -> f64 {
    value as f64
}
