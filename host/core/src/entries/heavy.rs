//! What the maker says of heavy use: limits and the duty rating of the plate.

use serde::{Deserialize, Serialize};
use shared_types::MachineTag;

/// One limit that the maker can set.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum HeavyLimit {
    /// The longest run without any pause, in minutes.
    RunMinutes,
    /// The longest stretch with nothing but short pauses, in minutes.
    StretchMinutes,
    /// A pause up to this long does not end a stretch, in seconds.
    PauseSeconds,
    /// The sliding window of the duration factor, in minutes.
    WindowMinutes,
    /// The highest place of the knob that the maker accepts, in percent of its travel.
    KnobCeilingPercent,
    /// The longest run time of one day, in hours.
    DayHours,
    /// Below this many strokes a second running is very slow.
    SlowStrokesPerSecond,
    /// Very slow running is a habit from this share of the run time on, in percent.
    SlowSharePercent,
    /// The stroke rate at the same knob place may fall by this much, in percent; read and judged by no more.
    SagPercent,
}

/// A limit that the maker set; of several for the same limit the last one counts.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct HeavyLimitSet {
    /// The machine.
    pub machine: MachineTag,
    /// Which limit.
    pub limit: HeavyLimit,
    /// Its value in thousandths of its unit; zero switches it off.
    pub thousandths: u32,
}

/// How the motor may be loaded, as its plate or manual says.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum DutyRating {
    /// Continuous running.
    S1,
    /// So many minutes of running, then rest until it is cold.
    S2 {
        /// Minutes, 1 to 240.
        minutes: u32,
    },
    /// Cycles of running and rest, of which running is at most such a share.
    S3 {
        /// The cyclic duration factor in percent, 1 to 100.
        percent: u32,
        /// The length of a cycle in minutes, where the rating names it.
        cycle_minutes: Option<u32>,
    },
}

/// The duty rating that the maker entered; the last entry counts.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct DutyRated {
    /// The machine.
    pub machine: MachineTag,
    /// Its rating; none takes an earlier one back.
    pub rating: Option<DutyRating>,
}
