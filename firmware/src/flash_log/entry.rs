//! How one entry stands in a sector: head, body, check.
//!
//! | head | meaning |
//! |---|---|
//! | `FF` | nothing written here, if the rest is blank too |
//! | `1xxxxxxx` | an entry that was never finished: nothing behind it counts |
//! | `00` | one byte of padding, without a check |
//! | `0ccccccp`, code 1 to 47 | a segment, in the form of that code (see `forms.rs`) |
//! | `0ccccccp` `length`, code 48 to 63 | another kind, and the length of its body |
//!
//! **The top bit is programmed last**, in a programming of its own, after the rest has been read back. Therefore a torn
//! entry never counts, whatever its check says, and the check has to find only what age does to bits.
//! `p` makes the number of ones in the head even: no head is one bit away from `FF`, from `00` or from another head, so
//! that one flipped bit never moves the place where the check is looked for.
//!
//! A segment has one byte of check, CRC-8/AUTOSAR: any three flipped bits in up to 119 are found (Koopman and
//! Chakravarty 2004, polynomial 0x97 in their notation). All other kinds have two, CRC-16/IBM-3740. Both start from the
//! *chain*, a CRC-32 over the log, the sector's number and all entries before: so an entry vouches for those before it,
//! and nothing from an earlier use of the sector passes.

use crc::{CRC_8_AUTOSAR, CRC_16_IBM_3740, CRC_32_ISO_HDLC, Crc};
use shared_types::LogId;
use shared_types::limits::MAX_RECORD_BODY;

use super::forms::FORMS;

const SHORT_CHECK: Crc<u8> = Crc::<u8>::new(&CRC_8_AUTOSAR);
const LONG_CHECK: Crc<u16> = Crc::<u16>::new(&CRC_16_IBM_3740);
const CHAIN: Crc<u32> = Crc::<u32>::new(&CRC_32_ISO_HDLC);

/// Longest entry: a two-byte head, the longest record body, the check.
pub(crate) const MAX_ENTRY: usize = 2 + MAX_RECORD_BODY + 2;
/// Shortest entry of a record: head, one byte, check.
pub(crate) const MIN_RECORD: u32 = 3;
/// What unwritten flash reads as.
pub(crate) const BLANK: u8 = 0xFF;
/// Padding: every bit of the byte firmly programmed.
pub(crate) const PADDING: u8 = 0x00;
/// Set in a head as long as its entry is not finished.
pub(crate) const UNFINISHED: u8 = 0x80;
/// The first code whose body tells its length.
pub(crate) const FIRST_LONG: u8 = 48;

const _: () = assert!(FORMS.len() < FIRST_LONG as usize, "a segment's form has a code of its own");

/// What the first two bytes of a place promise.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Shape {
    Blank,
    Padding,
    /// A finished entry of so many bytes, check included.
    Entry(usize),
    /// Unfinished, or nonsense.
    Nothing,
}

/// The finished head of a code from 1 to 63.
pub(crate) const fn head_of(code: u8) -> u8 {
    let code = code & 0x3F;
    (code << 1) | (code.count_ones() & 1 == 1) as u8
}

/// The code of a finished head.
pub(crate) const fn code_of(head: u8) -> Option<u8> {
    if head & UNFINISHED == 0 && head != PADDING && head.count_ones() & 1 == 0 {
        Some(head >> 1)
    } else {
        None
    }
}

pub(crate) fn shape(bytes: &[u8]) -> Shape {
    let (&head, rest) = match bytes.split_first() {
        None | Some((&BLANK, _)) => return Shape::Blank,
        Some((&PADDING, _)) => return Shape::Padding,
        Some(split) => split,
    };
    match (code_of(head), rest.first()) {
        (Some(code), Some(&length)) if code >= FIRST_LONG => Shape::Entry(2 + usize::from(length) + 2),
        (Some(code), _) => form_length(code).map_or(Shape::Nothing, |bytes| Shape::Entry(1 + bytes + 1)),
        _ => Shape::Nothing,
    }
}

fn form_length(code: u8) -> Option<usize> {
    FORMS.get(usize::from(code).checked_sub(1)?).map(|form| form.bytes())
}

/// Bytes of the check behind an entry with this head.
pub(crate) const fn check_size(head: u8) -> usize {
    if head >> 1 >= FIRST_LONG { 2 } else { 1 }
}

/// The chain in front of a sector's first entry.
pub(crate) fn first_chain(log: LogId, number: u32) -> u32 {
    let mut digest = CHAIN.digest();
    digest.update(&log.0.to_le_bytes());
    digest.update(&number.to_le_bytes());
    digest.finalize()
}

/// The chain behind a whole entry.
pub(crate) fn next_chain(chain: u32, entry: &[u8]) -> u32 {
    let mut digest = CHAIN.digest();
    digest.update(&chain.to_le_bytes());
    digest.update(entry);
    digest.finalize()
}

fn check_of(head_and_body: &[u8], chain: u32) -> [u8; 2] {
    if head_and_body.first().is_some_and(|head| check_size(*head) == 2) {
        let mut digest = LONG_CHECK.digest();
        digest.update(&chain.to_le_bytes());
        digest.update(head_and_body);
        return digest.finalize().to_le_bytes();
    }
    let mut digest = SHORT_CHECK.digest();
    digest.update(&chain.to_le_bytes());
    digest.update(head_and_body);
    [digest.finalize(), 0]
}

/// Writes the check behind the first `used` bytes and returns the length of the whole.
pub(crate) fn seal(entry: &mut [u8], used: usize, chain: u32) -> Option<usize> {
    let size = check_size(*entry.first()?);
    let check = check_of(entry.get(..used)?, chain);
    entry.get_mut(used..used + size)?.copy_from_slice(check.get(..size)?);
    Some(used + size)
}

/// Head and body of a whole entry.
pub(crate) fn head_and_body(entry: &[u8]) -> Option<&[u8]> {
    let size = check_size(*entry.first()?);
    entry.get(..entry.len().checked_sub(size)?)
}

/// Whether a whole entry passes its check.
pub(crate) fn is_sound(entry: &[u8], chain: u32) -> bool {
    head_and_body(entry).is_some_and(|written| {
        let check = check_of(written, chain);
        entry.get(written.len()..) == check.get(..entry.len() - written.len())
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_checks_are_the_catalogued_ones() {
        // CRC catalogue (Cook), of "123456789": CRC-8/AUTOSAR is 0xDF, CRC-16/IBM-3740 is 0x29B1, CRC-32/ISO-HDLC is
        // 0xCBF43926.
        assert_eq!(SHORT_CHECK.checksum(b"123456789"), 0xDF);
        assert_eq!(LONG_CHECK.checksum(b"123456789"), 0x29B1);
        assert_eq!(next_chain(u32::from_le_bytes(*b"1234"), b"56789"), 0xCBF4_3926);
    }

    #[test]
    fn no_head_is_one_bit_away_from_another_or_from_blank_or_padding() {
        for code in 1..64 {
            let head = head_of(code);
            assert_eq!(code_of(head), Some(code));
            for bit in 0..8 {
                let near = head ^ (1 << bit);
                assert_eq!(code_of(near), None, "code {code}, bit {bit}");
                assert!(near != BLANK && near != PADDING, "code {code}, bit {bit}");
            }
        }
    }

    #[test]
    fn up_to_three_flipped_bits_in_a_segment_are_found() {
        let mut entry = [0x55; 9];
        entry[0] = head_of(1);
        assert_eq!(seal(&mut entry, 8, 7), Some(9));
        assert!(is_sound(&entry, 7) && !is_sound(&entry, 6));
        for first in 0..72 {
            for second in first..72 {
                for third in second..72 {
                    let mut flipped = entry;
                    for bit in [first, second, third] {
                        flipped[bit / 8] ^= 1 << (bit % 8);
                    }
                    // Two of the three may be the same place: then one is left, and it is never none. Bits of the head
                    // choose the check; they are watched by its parity.
                    assert!(first < 8 || !is_sound(&flipped, 7), "bits {first}, {second}, {third}");
                }
            }
        }
    }
}
