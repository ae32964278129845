//! What stands in a sector besides its entries: a header, twice, and the mark of a finished erase.
//!
//! ```text
//! 0        84     96                                  4012      4096
//! | header | mark | entries ...                       | header |
//! ```
//! Numbers are low byte first; the checks are CRC-32/ISO-HDLC.

use crc::{CRC_32_ISO_HDLC, Crc};
use shared_types::{BootId, Edges, LogId, LoggerId, RunMillis, Totals, UptimeMillis};

use super::bytes::{ByteReader, ByteWriter};

/// Bytes of one sector, the smallest piece of flash that can be erased.
pub const SECTOR_SIZE: u32 = 4096;

/// Bytes of one header.
pub(crate) const HEADER_SIZE: usize = 84;
/// Bytes of the mark that a finished erase leaves.
pub(crate) const MARK_SIZE: usize = 12;
/// Where the mark stands.
pub(crate) const MARK_AT: u32 = 84;
/// Where the entries begin.
pub(crate) const ENTRIES_AT: u32 = 96;
/// Where the entries end and the second header begins.
pub(crate) const ENTRIES_END: u32 = 4012;

const _: () = assert!(MARK_AT as usize == HEADER_SIZE && ENTRIES_AT as usize == HEADER_SIZE + MARK_SIZE);
const _: () = assert!(ENTRIES_END as usize + HEADER_SIZE == SECTOR_SIZE as usize);

/// Format 1. A later format takes other bytes, so that neither firmware takes the other's log for its own.
const HEADER_MAGIC: [u8; 4] = [0x6E, 0x48, 0x4C, 0x01];
const MARK_MAGIC: [u8; 4] = [0x6E, 0x48, 0x45, 0x01];
const CHECK: Crc<u32> = Crc::<u32>::new(&CRC_32_ISO_HDLC);

/// The head of a sector: where its entries stand in the log, and what the totals were when it began.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Header {
    pub(crate) logger: LoggerId,
    pub(crate) log: LogId,
    /// Grows by one with each sector opened, and tells the sector's place in the ring; the first is 1.
    pub(crate) number: u32,
    /// Sequence of the sector's first record.
    pub(crate) first_seq: u32,
    /// Where the records of the sector before end: what stands behind that was never true.
    pub(crate) previous_end: u32,
    /// The chain of checks behind the last of them, to know it by.
    pub(crate) previous_chain: u32,
    /// Everything below is acknowledged.
    pub(crate) acknowledged: u32,
    pub(crate) boot: BootId,
    /// The moment that the first entry counts from.
    pub(crate) uptime: UptimeMillis,
    pub(crate) totals: Totals,
    pub(crate) formatted_with: Totals,
}

impl Header {
    pub(crate) fn encode(&self) -> Option<[u8; HEADER_SIZE]> {
        let mut bytes = [0; HEADER_SIZE];
        let mut writer = ByteWriter::new(&mut bytes);
        writer.put(&HEADER_MAGIC)?;
        writer.put_u64(self.logger.0)?;
        for number in [self.log.0, self.number, self.first_seq, self.previous_end, self.previous_chain] {
            writer.put_u32(number)?;
        }
        writer.put_u32(self.acknowledged)?;
        writer.put_u32(self.boot.0)?;
        writer.put_u64(self.uptime.0)?;
        for totals in [self.totals, self.formatted_with] {
            writer.put_u64(totals.run.0)?;
            writer.put_u64(totals.edges.0)?;
        }
        seal(bytes)
    }

    pub(crate) fn decode(bytes: &[u8; HEADER_SIZE]) -> Option<Self> {
        let mut reader = open(bytes, HEADER_MAGIC)?;
        let header = Self {
            logger: LoggerId(reader.take_u64()?),
            log: LogId(reader.take_u32()?),
            number: reader.take_u32()?,
            first_seq: reader.take_u32()?,
            previous_end: reader.take_u32()?,
            previous_chain: reader.take_u32()?,
            acknowledged: reader.take_u32()?,
            boot: BootId(reader.take_u32()?),
            uptime: UptimeMillis(reader.take_u64()?),
            totals: take_totals(&mut reader)?,
            formatted_with: take_totals(&mut reader)?,
        };
        (header.number > 0).then_some(header)
    }
}

fn take_totals(reader: &mut ByteReader<'_>) -> Option<Totals> {
    Some(Totals { run: RunMillis(reader.take_u64()?), edges: Edges(reader.take_u64()?) })
}

/// The mark of a finished erase, for the use of the sector under this number and no other.
pub(crate) fn encode_mark(number: u32) -> Option<[u8; MARK_SIZE]> {
    let mut bytes = [0; MARK_SIZE];
    let mut writer = ByteWriter::new(&mut bytes);
    writer.put(&MARK_MAGIC)?;
    writer.put_u32(number)?;
    seal(bytes)
}

/// The number for which the sector was made clean.
pub(crate) fn decode_mark(bytes: &[u8; MARK_SIZE]) -> Option<u32> {
    open(bytes, MARK_MAGIC)?.take_u32()
}

fn seal<const N: usize>(mut bytes: [u8; N]) -> Option<[u8; N]> {
    let (written, place) = bytes.split_last_chunk_mut::<4>()?;
    *place = CHECK.checksum(written).to_le_bytes();
    Some(bytes)
}

fn open(bytes: &[u8], magic: [u8; 4]) -> Option<ByteReader<'_>> {
    let (written, check) = bytes.split_last_chunk::<4>()?;
    let mut reader = ByteReader::new(written);
    // The magic first: of nearly five hundred headers read at a start, the unwritten ones need no check.
    (reader.take::<4>()? == magic && CHECK.checksum(written) == u32::from_le_bytes(*check)).then_some(reader)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn header() -> Header {
        Header {
            logger: LoggerId(0x0102_0304_0506_0708),
            log: LogId(9),
            number: 471,
            first_seq: 170_000,
            previous_end: 169_999,
            previous_chain: 0xDEAD_BEEF,
            acknowledged: 12,
            boot: BootId(77),
            uptime: UptimeMillis(86_400_000),
            totals: Totals { run: RunMillis(u64::MAX), edges: Edges(1) },
            formatted_with: Totals { run: RunMillis(5), edges: Edges(6) },
        }
    }

    #[test]
    fn a_header_comes_back_as_written() {
        assert_eq!(Header::decode(&header().encode().unwrap()), Some(header()));
    }

    #[test]
    fn a_header_with_any_bit_flipped_is_refused() {
        let bytes = header().encode().unwrap();
        for bit in 0..HEADER_SIZE * 8 {
            let mut flipped = bytes;
            flipped[bit / 8] ^= 1 << (bit % 8);
            assert_eq!(Header::decode(&flipped), None, "bit {bit}");
        }
    }

    #[test]
    fn the_check_of_a_mark_is_the_catalogued_one() {
        // CRC catalogue (Cook): CRC-32/ISO-HDLC of "123456789" is 0xCBF43926.
        assert_eq!(seal(*b"123456789....").unwrap()[9..], 0xCBF4_3926_u32.to_le_bytes());
        assert_eq!(decode_mark(&encode_mark(3).unwrap()), Some(3));
        assert_eq!(decode_mark(&[0xFF; MARK_SIZE]), None);
    }
}
