//! What the host may ask of the logger.

use serde::{Deserialize, Serialize};

use crate::log::Settings;
use crate::units::{LogId, MachineTag, RecordSeq, UtcMillis};

/// A question or an order from the host. New ones are added at the end only.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Request {
    /// Identity and state. Answered by `Reply::LoggerStatus`.
    LoggerStatus,
    /// Records from this number on, as many as fit. Answered by `Reply::Records`.
    ReadFrom {
        /// The log that is meant.
        log: LogId,
        /// The first number wanted; where it is gone, the answer starts with the oldest one there.
        from: RecordSeq,
    },
    /// Everything below this number is safe in the host's database. Only moves a cursor; nothing is erased.
    Acknowledge {
        /// The log that is meant.
        log: LogId,
        /// The first number that is not yet safe.
        below: RecordSeq,
    },
    /// The host's clock; becomes an anchor and sets the clock chip.
    SetClock {
        /// UTC now.
        utc: UtcMillis,
    },
    /// Use these settings from now on.
    Apply(Settings),
    /// The logger now sits on this machine.
    Fit(MachineTag),
    /// A sample of the inputs. Answered by `Reply::Live`.
    Live,
    /// Throw an unreadable log away and start a new one. Refused while the log is readable.
    FormatUnreadable,
    /// Diagnostic counters since the start. Answered by `Reply::Diagnostics`; firmware before 0.2.0 refuses it
    /// as not understood.
    Diagnostics,
}
