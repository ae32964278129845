//! Units of time in milliseconds, for run time and for civil spans without a zone.

use super::number;

/// A minute.
pub const MINUTE_MS: u64 = 60_000;
/// An hour.
pub const HOUR_MS: u64 = 60 * MINUTE_MS;
/// A day of 24 hours.
pub const DAY_MS: u64 = 24 * HOUR_MS;

/// Milliseconds as hours.
#[must_use]
pub fn hours(ms: u64) -> f64 {
    number(ms) / number(HOUR_MS)
}

/// Milliseconds as days of 24 hours.
#[must_use]
pub fn days(ms: u64) -> f64 {
    number(ms) / number(DAY_MS)
}
