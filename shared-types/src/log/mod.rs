//! What the logger remembers, and how one remembered thing is written as bytes for the link.
//!
//! A body is one version byte followed by the postcard encoding of that version's [`Record`]. Enums only ever grow at
//! their end. Bytes left over after a record are an error, because postcard itself would not notice a longer record.
//! How the logger packs records in flash is its own affair (`firmware::flash_log`) and never leaves it.

pub mod v1;

pub use v1::{
    Anchor, Ceiling, ClockSource, Event, Fault, FaultChange, FirmwareVersion, Limits, Press, PressKind,
    Record, Segment, Settings, StartReason, Started, Trace, TraceStep,
};

use crate::limits::MAX_RECORD_BODY;

/// The version byte that this crate writes in front of every record body.
pub const RECORD_VERSION: u8 = 1;

/// Why a record could not be written or read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[non_exhaustive]
pub enum RecordError {
    /// No bytes at all.
    Empty,
    /// A version that this program does not know; keep the bytes and ask for a newer program.
    UnknownVersion(u8),
    /// The bytes are not a record of the stated version, or of a kind added later.
    Malformed,
    /// A whole record, and then more: probably written by a newer firmware.
    TrailingBytes(usize),
    /// The buffer is too small, or the record longer than [`MAX_RECORD_BODY`].
    TooLong,
}

impl core::fmt::Display for RecordError {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self {
            Self::Empty => write!(f, "the record has no bytes"),
            Self::UnknownVersion(version) => {
                write!(f, "record version {version} is not known to this program")
            }
            Self::Malformed => write!(f, "the bytes are not a record that this program knows"),
            Self::TrailingBytes(count) => write!(f, "{count} bytes are left over after the record"),
            Self::TooLong => write!(f, "the record is longer than {MAX_RECORD_BODY} bytes"),
        }
    }
}

impl core::error::Error for RecordError {}

/// Writes `record` into `out` and returns the bytes used.
///
/// # Errors
/// [`RecordError::TooLong`] when `out` is too small; [`MAX_RECORD_BODY`] bytes always suffice.
pub fn encode_body<'out>(record: &Record, out: &'out mut [u8]) -> Result<&'out [u8], RecordError> {
    let (version, rest) = out.split_first_mut().ok_or(RecordError::TooLong)?;
    *version = RECORD_VERSION;
    let used = postcard::to_slice(record, rest).map_err(|_| RecordError::TooLong)?.len();
    out.get(..=used).ok_or(RecordError::TooLong)
}

/// Reads one record body. Never panics, whatever the bytes.
///
/// # Errors
/// Says which of the ways in which bytes can fail to be a record it is; the caller keeps the bytes in every case.
pub fn decode_body(body: &[u8]) -> Result<Record, RecordError> {
    let (&version, rest) = body.split_first().ok_or(RecordError::Empty)?;
    if body.len() > MAX_RECORD_BODY {
        return Err(RecordError::TooLong);
    }
    if version != RECORD_VERSION {
        return Err(RecordError::UnknownVersion(version));
    }
    match postcard::take_from_bytes::<Record>(rest) {
        Ok((record, [])) => Ok(record),
        Ok((_, left)) => Err(RecordError::TrailingBytes(left.len())),
        Err(_) => Err(RecordError::Malformed),
    }
}
