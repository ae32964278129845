//! Frames on the wire: a message, its CRC-32, stuffed with COBS, closed by a zero byte.
//!
//! The check is CRC-32/ISO-HDLC, low byte first. A frame that fails is dropped, and reading goes on at the
//! next zero byte, so noise costs at most the frame it hits and its neighbour.

use crc::{CRC_32_ISO_HDLC, Crc};

use crate::limits::{FRAME_CHECK, MAX_FRAME, MAX_MESSAGE};

const CHECK: Crc<u32> = Crc::<u32>::new(&CRC_32_ISO_HDLC);

/// Why a frame could not be written or read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[non_exhaustive]
pub enum FrameError {
    /// The message is longer than [`MAX_MESSAGE`], or the buffer too small for its frame.
    TooLong,
    /// The byte stuffing is broken.
    Stuffing,
    /// Fewer bytes than a check has.
    TooShort,
    /// The check does not fit the content.
    Check,
}

impl core::fmt::Display for FrameError {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str(match self {
            Self::TooLong => "the frame is too long",
            Self::Stuffing => "the frame's byte stuffing is broken",
            Self::TooShort => "the frame is too short to hold a check",
            Self::Check => "the frame's check does not fit its content",
        })
    }
}

impl core::error::Error for FrameError {}

/// Writes `message` as one frame with its closing zero into `out` and returns the bytes used.
///
/// # Errors
/// [`FrameError::TooLong`] when the message is over [`MAX_MESSAGE`] bytes or `out` is too small; [`MAX_FRAME`] + 1 bytes
/// always suffice.
pub fn encode_frame<'out>(message: &[u8], out: &'out mut [u8]) -> Result<&'out [u8], FrameError> {
    if message.len() > MAX_MESSAGE || out.len() < cobs::max_encoding_length(message.len() + FRAME_CHECK) + 1 {
        return Err(FrameError::TooLong);
    }
    let mut stuffing = cobs::CobsEncoder::new(out);
    stuffing.push(message).map_err(|_| FrameError::TooLong)?;
    stuffing.push(&CHECK.checksum(message).to_le_bytes()).map_err(|_| FrameError::TooLong)?;
    let used = stuffing.finalize();
    *out.get_mut(used).ok_or(FrameError::TooLong)? = 0;
    out.get(..=used).ok_or(FrameError::TooLong)
}

/// Takes one frame apart in place, without its closing zero, and returns the message.
///
/// # Errors
/// Says what is wrong with the frame; nothing of it is to be used then.
pub fn decode_frame(frame: &mut [u8]) -> Result<&[u8], FrameError> {
    if frame.len() > MAX_FRAME {
        return Err(FrameError::TooLong);
    }
    let used = cobs::decode_in_place(frame).map_err(|_| FrameError::Stuffing)?;
    let content = frame.get(..used).ok_or(FrameError::Stuffing)?;
    let (message, check) = content.split_last_chunk::<FRAME_CHECK>().ok_or(FrameError::TooShort)?;
    if u32::from_le_bytes(*check) == CHECK.checksum(message) { Ok(message) } else { Err(FrameError::Check) }
}

/// Collects bytes as they come and hands out whole messages.
#[derive(Debug)]
pub struct FrameReader {
    buffer: [u8; MAX_FRAME],
    filled: usize,
    overflowed: bool,
}

impl Default for FrameReader {
    fn default() -> Self {
        Self::new()
    }
}

impl FrameReader {
    /// An empty reader.
    #[must_use]
    pub const fn new() -> Self {
        Self { buffer: [0; MAX_FRAME], filled: 0, overflowed: false }
    }

    /// Whether bytes of an unfinished frame are waiting.
    #[must_use]
    pub const fn is_midway(&self) -> bool {
        self.filled > 0 || self.overflowed
    }

    /// Forgets an unfinished frame, for example when the other end has gone.
    pub const fn reset(&mut self) {
        self.filled = 0;
        self.overflowed = false;
    }

    /// Takes one byte; at the end of a frame returns its message or what was wrong with it. Two zeros in a row are
    /// no frame: a sender may begin with a zero to end whatever noise stands before.
    pub fn push(&mut self, byte: u8) -> Option<Result<&[u8], FrameError>> {
        if byte != 0 {
            match self.buffer.get_mut(self.filled) {
                Some(place) => {
                    *place = byte;
                    self.filled += 1;
                }
                None => self.overflowed = true,
            }
            return None;
        }
        let (filled, overflowed) = (self.filled, self.overflowed);
        self.reset();
        if overflowed {
            return Some(Err(FrameError::TooLong));
        }
        match self.buffer.get_mut(..filled) {
            Some([]) | None => None,
            Some(frame) => Some(decode_frame(frame)),
        }
    }
}
