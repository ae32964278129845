//! What the logger answers.

use heapless::String;
use serde::{Deserialize, Serialize};

use crate::limits::MAX_BUILD_NAME;
use crate::log::{FirmwareVersion, Settings, StartReason};
use crate::units::{BootId, LogId, LoggerId, RawAngle, RecordSeq, Totals, UptimeMillis};

/// An answer. New ones are added at the end only.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Reply<'a> {
    /// Identity and state of the logger.
    LoggerStatus(LoggerStatus),
    /// Some records.
    #[serde(borrow)]
    Records(RecordBatch<'a>),
    /// Done, and safe in flash where that matters.
    Done,
    /// A sample of the inputs.
    Live(Live),
    /// Not done, and why.
    Refused(Refusal),
    /// What the logger had to put up with.
    Diagnostics(Diagnostics),
}

/// Identity and state of a logger. A newer firmware may append fields.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct LoggerStatus {
    /// The version byte that its record bodies carry.
    pub record_version: u8,
    /// Its firmware.
    pub firmware: FirmwareVersion,
    /// The name of the build, for reports of trouble.
    pub build: String<MAX_BUILD_NAME>,
    /// Which logger.
    pub logger: LoggerId,
    /// The state of its log.
    pub log: LogState,
    /// The running boot.
    pub boot: BootId,
    /// Its uptime now.
    pub uptime: UptimeMillis,
    /// Lifetime totals: the sum of all segments recorded, also of those that are no longer there.
    pub totals: Totals,
    /// The settings in force.
    pub settings: Settings,
    /// The faults present, see [`crate::log::Fault::bit`].
    pub faults: u16,
}

/// Whether there is a log and how far it goes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum LogState {
    /// A log that can be read and written.
    Ready {
        /// Which log.
        log: LogId,
        /// The oldest number still there; equal to `next` when it is empty.
        oldest: RecordSeq,
        /// The number that the next record will get.
        next: RecordSeq,
        /// Everything below is acknowledged.
        acknowledged: RecordSeq,
        /// Lifetime totals when this log was formatted.
        formatted_with: Totals,
    },
    /// The flash holds something that is no log of this firmware. Nothing is written over it unasked.
    Unreadable,
    /// The log is being formatted: the flash is emptied in pauses, sector by sector, about eight in a second.
    Formatting {
        /// Sectors that are still to be looked at.
        sectors_left: u32,
    },
}

/// A run of records.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct RecordBatch<'a> {
    /// The log they belong to.
    pub log: LogId,
    /// Where to go on reading.
    pub next: RecordSeq,
    /// Whether there was nothing more when this was sent.
    pub end: bool,
    /// Link records, one after the other; see [`link_records`].
    pub records: &'a [u8],
}

/// One record on the link: its number, and its body with a length, so that unknown kinds can be kept unread.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct LinkRecord<'a> {
    /// Its number.
    pub seq: RecordSeq,
    /// Version byte and postcard, see [`crate::log`].
    pub body: &'a [u8],
}

/// Takes a batch's bytes apart. A malformed rest is yielded once as `Err` with its length, and ends the run.
pub fn link_records(bytes: &[u8]) -> impl Iterator<Item = Result<LinkRecord<'_>, usize>> {
    let mut rest = bytes;
    core::iter::from_fn(move || {
        if rest.is_empty() {
            return None;
        }
        match postcard::take_from_bytes::<LinkRecord<'_>>(rest) {
            Ok((record, left)) => {
                rest = left;
                Some(Ok(record))
            }
            Err(_) => {
                let unread = rest.len();
                rest = &[];
                Some(Err(unread))
            }
        }
    })
}

/// One sample of the inputs.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Live {
    /// Uptime now.
    pub uptime: UptimeMillis,
    /// Edges since the start of this boot.
    pub edges_since_start: u32,
    /// The knob's angle; none while the sensor has a fault.
    pub angle: Option<RawAngle>,
    /// The knob sensor's gain, 0 to 255, where it tells one: middle values mean a well-placed magnet.
    pub gain: Option<u8>,
    /// The faults present, as in [`LoggerStatus::faults`].
    pub faults: u16,
}

/// Diagnostic counters since the start. A newer firmware may
/// append fields.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Diagnostics {
    /// The flash chip's own number; none when it tells none. The logger's id is drawn from it and from random bits.
    pub flash_id: Option<u64>,
    /// Size of the flash chip as it says itself, in bytes; none when it does not say.
    pub flash_bytes: Option<u32>,
    /// The longest erase of one sector, in milliseconds; zero when there was none.
    pub slowest_erase_ms: u32,
    /// Writes that did not read back as written and were done again elsewhere.
    pub failed_writes: u32,
    /// Entries of the log in which a flipped bit was put right while reading.
    pub repaired_bits: u32,
    /// Edges that were stamped and not counted.
    pub stamps_alone: u32,
    /// Edges that were counted and not stamped.
    pub counts_alone: u32,
    /// Transfers on the two-wire bus that came to no end in time.
    pub bus_timeouts: u32,
    /// Why this boot started.
    pub reason: StartReason,
    /// Starts by the watchdog or after a panic since power came on.
    pub resets_since_power_on: u32,
    /// The place of the last panic since power came on, see [`StartReason::Panic`].
    pub last_panic: Option<u32>,
    /// Bytes of the stack that were never used since the start; none where the board cannot tell.
    pub free_stack_bytes: Option<u32>,
}

/// Why the logger did not do what was asked.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Refusal {
    /// The request was not understood.
    NotUnderstood,
    /// The log named in the request is not the log that is there.
    OtherLog,
    /// There is no readable log.
    NoLog,
    /// A number beyond what was ever written.
    BeyondEnd,
    /// The flash did not take the write.
    FlashFailed,
    /// A readable log is never formatted.
    LogIsReadable,
}
