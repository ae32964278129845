//! Findings, and what to do about each.

use jiff::civil::Date;
use serde::Serialize;
use shared_types::log::Fault;

use super::limits::Source;
use crate::records::when::When;
use crate::slowing::Verdict;

/// What was looked at.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Looked {
    /// The longest run without any pause.
    LongestRun,
    /// The longest stretch with nothing but short pauses.
    LongestStretch,
    /// The cyclic duration factor of the busiest window.
    DutyFactor,
    /// The knob above the accepted ceiling.
    KnobAboveCeiling,
    /// The longest day.
    LongDay,
    /// Habitual very slow running.
    SlowRunning,
    /// Whether the stroke rate at the same place of the knob has fallen, as `slowing` judges it.
    StrokeRateSag,
    /// Faults of the logger's sensors.
    SensorFaults,
}

/// How a finding is judged.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Judgement {
    /// Within the limit.
    Fine,
    /// Above the limit.
    TooMuch,
    /// Worth a look; several things may be behind it.
    Hint,
    /// Shown only: there is no limit or rating to judge it by.
    NotJudged,
    /// Too little is recorded to say anything.
    CannotTellYet,
}

/// The unit of a finding's numbers.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Unit {
    /// Minutes of running.
    Minutes,
    /// Hours of running.
    Hours,
    /// Percent.
    Percent,
    /// A count.
    Times,
}

/// One kind of fault of a sensor.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct FaultSeen {
    /// Which.
    #[serde(serialize_with = "fault_as_text")]
    pub fault: Fault,
    /// How often it appeared.
    pub times: u64,
    /// When it last appeared.
    pub last: When,
    /// Whether it has not gone away since.
    pub is_still_there: bool,
}

fn fault_as_text<S: serde::Serializer>(fault: &Fault, out: S) -> Result<S::Ok, S::Error> {
    out.serialize_str(match fault {
        Fault::MagnetMissing => "magnet_missing",
        Fault::MagnetTooWeak => "magnet_too_weak",
        Fault::MagnetTooStrong => "magnet_too_strong",
        Fault::KnobSilent => "knob_silent",
        Fault::DialTooLow => "dial_too_low",
        Fault::DialTooHigh => "dial_too_high",
        Fault::ImplausibleRate => "implausible_rate",
        Fault::StampsAlone => "stamps_alone",
        Fault::CountsAlone => "counts_alone",
        Fault::KnobShakes => "knob_shakes",
        _ => "other",
    })
}

/// One thing that was looked at, with its evidence.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Finding {
    /// What.
    pub looked_at: Looked,
    /// How it is judged.
    pub judgement: Judgement,
    /// What was found, in `unit`; none where nothing is known.
    pub found: Option<f64>,
    /// The limit, in `unit`; none where there is none.
    pub limit: Option<f64>,
    /// Of both.
    pub unit: Unit,
    /// How often the limit was passed.
    pub times: u64,
    /// Run time above the limit, in milliseconds, where that is known apart.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub run_time_above_ms: Option<u64>,
    /// When it was worst, or last.
    pub when: Option<When>,
    /// On which local day it was worst, where that is what was looked at.
    #[serde(serialize_with = "crate::entries::day_as_text", skip_serializing_if = "Option::is_none")]
    pub day: Option<Date>,
    /// The faults, where these were looked at.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub faults: Vec<FaultSeen>,
    /// Of the stroke rate: what `slowing` says.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub slowing: Option<Verdict>,
    /// Where the limit comes from.
    pub source: Source,
    /// The same in words.
    pub source_in_words: &'static str,
    /// What to do; empty where all is well.
    pub what_to_do: &'static str,
}

impl Looked {
    /// What to do when there is too much of it, the caution first.
    #[must_use]
    pub const fn what_to_do(self) -> &'static str {
        match self {
            Self::LongestRun | Self::LongestStretch => {
                "Finish this line, then stop: switch off, unplug, and let the machine cool down; keep its vents free of lint. Too hot to hold, or a \
                 smell of burning: do not use it again before somebody qualified has looked at it."
            }
            Self::DutyFactor => {
                "Finish this line, then give it longer rests, or a second machine in turn. Too hot to hold: switch off, unplug, wait until \
                 it is cool."
            }
            Self::KnobAboveCeiling => "Turn the knob down to the place that you chose as the highest.",
            Self::LongDay => {
                "Spread the work over more days or machines. Rest your hands too: long days are hard on wrists and back."
            }
            Self::SlowRunning => {
                "If the motor has carbon brushes, running it very slowly lets carbon settle in it, and its fan hardly cools. \
                 Work a little faster where the cloth allows it. The repair trade clears it with some minutes at full speed, \
                 unloaded and unthreaded; if it stays weak: switch off, unplug, and have the brushes looked at by somebody qualified."
            }
            Self::StrokeRateSag => {
                "Switch off, unplug (or shut the air off and take the hose off), wait until it stands still; \
                 then brush out the lint and oil the points. Thicker yarn, denser cloth or a worn belt can do the same, so this is a hint, not a verdict."
            }
            Self::SensorFaults => {
                "Switch off, unplug (or shut the air off and take the hose off), wait until it stands still; \
                 then look at the sensor's magnet and wires. `needlehours \
                 doctor` tells how the logger stands now. While a sensor is at fault, its numbers are missing here."
            }
        }
    }
}
