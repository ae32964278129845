//! Readings of a wall clock on the axis of powered time.

use serde::Serialize;
use shared_types::log::ClockSource;
use shared_types::{BootId, RecordSeq, UptimeMillis, UtcMillis};

use crate::stats::MINUTE_MS;

/// Readings that differ by no more than this tell the same time. Milliseconds; less than the gap that ends a session.
pub const CLOCKS_AGREE_WITHIN_MS: i64 = 5 * MINUTE_MS.cast_signed();
/// No logger can have been at work earlier: 2024-01-01T00:00:00Z. A clock chip without a battery starts in 2000.
pub const FIRST_PLAUSIBLE: UtcMillis = UtcMillis(1_704_067_200_000);
/// Elapsed time divided by this is what two good quartz clocks may drift apart (100 parts in a million).
pub const DRIFT_DIVISOR: i64 = 10_000;

/// One reading of a wall clock.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct ClockReading {
    /// The record that holds it.
    pub seq: RecordSeq,
    /// The boot.
    pub boot: BootId,
    /// Uptime at the reading, in milliseconds.
    #[serde(rename = "uptime_ms")]
    pub at: UptimeMillis,
    /// What the clock said.
    #[serde(rename = "utc_ms")]
    pub utc: UtcMillis,
    /// Which clock.
    #[serde(serialize_with = "source_in_words")]
    pub source: ClockSource,
}

fn source_in_words<S: serde::Serializer>(source: &ClockSource, out: S) -> Result<S::Ok, S::Error> {
    out.serialize_str(match source {
        ClockSource::ClockChip => "clock_chip",
        ClockSource::Host => "host",
    })
}

/// A reading with its place on the axis of powered time.
#[derive(Clone, Copy, Debug)]
pub struct Mark {
    /// What the clock said.
    pub reading: ClockReading,
    /// Powered time of the log at it, in milliseconds.
    pub powered: i64,
    /// Wall clock less powered time, in milliseconds.
    pub offset: i64,
    /// Whether it may date anything.
    pub trusted: bool,
}

/// A span of milliseconds in the unit of [`Mark::with_drift`].
pub fn in_drift(ms: i64) -> i128 {
    i128::from(ms) * i128::from(DRIFT_DIVISOR)
}

impl Mark {
    /// The offset, risen by all the drift that is allowed up to here: of two readings, `earlier` before `later`, the offset
    /// falls by more than `ms` and drift exactly if `earlier.with_drift() - in_drift(ms) > later.with_drift()`.
    pub fn with_drift(&self) -> i128 {
        in_drift(self.offset) + i128::from(self.powered)
    }

    /// The offset, fallen by it: the offset rises by more than `ms` and drift exactly if
    /// `later.less_drift() - in_drift(ms) > earlier.less_drift()`.
    pub fn less_drift(&self) -> i128 {
        in_drift(self.offset) - i128::from(self.powered)
    }
}

/// Whether two readings, `earlier` before `later`, break the rule of the offsets by more than clocks may differ.
pub fn contradict(earlier: &Mark, later: &Mark) -> bool {
    let elapsed = later.powered.saturating_sub(earlier.powered);
    let tolerance = CLOCKS_AGREE_WITHIN_MS + elapsed / DRIFT_DIVISOR;
    let rise = later.offset.saturating_sub(earlier.offset);
    rise < -tolerance || (earlier.reading.boot == later.reading.boot && rise > tolerance)
}
