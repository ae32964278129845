//! How the two ends talk: one request, one reply, each in a frame.
//!
//! A message is one version byte and postcard. The host asks; the logger never speaks first.

pub mod frame;
mod reply;
mod request;

pub use reply::{
    Diagnostics, LinkRecord, Live, LogState, LoggerStatus, RecordBatch, Refusal, Reply, link_records,
};
pub use request::Request;

use serde::{Deserialize, Serialize};

/// The version byte in front of every link message.
pub const LINK_VERSION: u8 = 1;

/// Why a message could not be written or read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[non_exhaustive]
pub enum MessageError {
    /// No bytes at all.
    Empty,
    /// The other end speaks a link version that this end does not know.
    UnknownVersion(u8),
    /// The bytes are not a message of the stated version.
    Malformed,
    /// The buffer is too small for the message.
    TooLong,
}

impl core::fmt::Display for MessageError {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self {
            Self::Empty => write!(f, "the message has no bytes"),
            Self::UnknownVersion(version) => write!(f, "link version {version} is not known to this program"),
            Self::Malformed => write!(f, "the bytes are not a message that this program knows"),
            Self::TooLong => write!(f, "the message is too long"),
        }
    }
}

impl core::error::Error for MessageError {}

/// Writes a message into `out` and returns the bytes used.
///
/// # Errors
/// [`MessageError::TooLong`] when `out` is too small; [`crate::limits::MAX_MESSAGE`] bytes always suffice.
pub fn encode_message<'out, M: Serialize>(
    message: &M,
    out: &'out mut [u8],
) -> Result<&'out [u8], MessageError> {
    let (version, rest) = out.split_first_mut().ok_or(MessageError::TooLong)?;
    *version = LINK_VERSION;
    let used = postcard::to_slice(message, rest).map_err(|_| MessageError::TooLong)?.len();
    out.get(..=used).ok_or(MessageError::TooLong)
}

/// Reads a message. Bytes after a known message are ignored: a newer end may have appended fields.
///
/// # Errors
/// Says which of the ways in which bytes can fail to be a message it is.
pub fn decode_message<'bytes, M: Deserialize<'bytes>>(bytes: &'bytes [u8]) -> Result<M, MessageError> {
    let (&version, rest) = bytes.split_first().ok_or(MessageError::Empty)?;
    if version != LINK_VERSION {
        return Err(MessageError::UnknownVersion(version));
    }
    postcard::take_from_bytes(rest).map(|(message, _)| message).map_err(|_| MessageError::Malformed)
}
