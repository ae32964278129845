//! How one entry stands in a sector: head, body, check.
//!
//! | head | meaning |
//! |---|---|
//! | `FF` | nothing written here, if the rest is blank too |
//! | `00` | one byte of padding, without a check |
//! | `01caalll` | a segment: continues, angle code 1 to 3, body length less 3 |
//! | `1kkkk000` `length` | kind 1 to 14 and the length of its body |
//!
//! No legal head is one bit away from `FF` or `00`, so that a flipped bit never turns an entry into an end or into padding.
//! The check is CRC-24/OPENPGP over the sector's number, head and body, low byte first: the number keeps what an earlier
//! use of the sector left behind from passing as new. Sixteen bits were too few: in the torture about one torn entry in
//! 65,536 passed by chance, and a record that nobody wrote is worse than a byte less room.

use crc::{CRC_24_OPENPGP, Crc};
use shared_types::limits::MAX_RECORD_BODY;

use super::bytes::ByteWriter;

const CHECK: Crc<u32> = Crc::<u32>::new(&CRC_24_OPENPGP);

/// Bytes of the check.
pub(crate) const CHECK_SIZE: usize = 3;
/// Longest entry: a two-byte head, the longest record body, the check.
pub(crate) const MAX_ENTRY: usize = 2 + MAX_RECORD_BODY + CHECK_SIZE;
/// Shortest entry of a record: a segment with a body of three bytes.
pub(crate) const MIN_RECORD: u32 = 7;
/// Shortest body of a segment: start, run and edges, one byte each.
pub(crate) const MIN_SEGMENT_BODY: usize = 3;
/// Longest body of a segment in the short form.
pub(crate) const MAX_SEGMENT_BODY: usize = 10;
/// What unwritten flash reads as.
pub(crate) const BLANK: u8 = 0xFF;
/// Padding: every bit of the byte firmly programmed.
pub(crate) const PADDING: u8 = 0x00;

/// What the first two bytes of a place promise.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Shape {
    Blank,
    Padding,
    /// An entry of so many bytes, check included.
    Entry(usize),
    Nonsense,
}

pub(crate) fn shape(bytes: &[u8]) -> Shape {
    match *bytes {
        [BLANK, ..] => Shape::Blank,
        [PADDING, ..] => Shape::Padding,
        [head, ..] if head & 0xC0 == 0x40 && head & 0x18 != 0 => {
            Shape::Entry(1 + MIN_SEGMENT_BODY + usize::from(head & 7) + CHECK_SIZE)
        }
        [head, length, ..] if head & 0x87 == 0x80 && head != 0x80 => {
            Shape::Entry(2 + usize::from(length) + CHECK_SIZE)
        }
        _ => Shape::Nonsense,
    }
}

fn check_of(head_and_body: &[u8], sector_number: u32) -> [u8; CHECK_SIZE] {
    let mut digest = CHECK.digest();
    digest.update(&sector_number.to_le_bytes());
    digest.update(head_and_body);
    let [low, middle, high, _] = digest.finalize().to_le_bytes();
    [low, middle, high]
}

/// Writes the check behind the first `used` bytes and returns the length of the whole.
pub(crate) fn seal(entry: &mut [u8], used: usize, sector_number: u32) -> Option<usize> {
    let check = check_of(entry.get(..used)?, sector_number);
    let mut writer = ByteWriter::new(entry.get_mut(used..)?);
    writer.put(&check)?;
    Some(used + writer.used())
}

/// Whether a whole entry passes its check.
pub(crate) fn is_sound(entry: &[u8], sector_number: u32) -> bool {
    entry
        .split_last_chunk::<CHECK_SIZE>()
        .is_some_and(|(written, check)| check_of(written, sector_number) == *check)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test may stop at the first surprise")]
    use super::*;

    #[test]
    fn the_check_is_the_catalogued_one() {
        // CRC catalogue (Cook): CRC-24/OPENPGP of "123456789" is 0x21CF02. The first four digits stand for the number.
        let mut entry = *b"56789...";
        assert_eq!(seal(&mut entry, 5, u32::from_le_bytes(*b"1234")), Some(8));
        assert_eq!(entry[5..], [0x02, 0xCF, 0x21]);
        assert!(is_sound(&entry, u32::from_le_bytes(*b"1234")));
        assert!(!is_sound(&entry, u32::from_le_bytes(*b"1235")));
    }

    #[test]
    fn no_head_is_one_bit_away_from_blank_or_padding() {
        for bit in 0..8 {
            let near_blank = [BLANK ^ (1 << bit), 4];
            let near_padding = [PADDING ^ (1 << bit), 4];
            assert!(bit == 7 || shape(&near_blank) == Shape::Nonsense, "bit {bit}");
            assert_eq!(shape(&near_padding), Shape::Nonsense, "bit {bit}");
        }
    }
}
