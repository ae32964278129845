//! Ring of sectors: addresses, headers, verified writes.

use embedded_storage::nor_flash::NorFlash;

use super::entry::{BLANK, UNFINISHED};
use super::sector::{
    ENTRIES_AT, ENTRIES_END, HEADER_SIZE, Header, MARK_AT, MARK_SIZE, SECTOR_SIZE, decode_mark,
};

/// Bytes of one read.
pub(crate) const CHUNK: usize = 64;

/// No chip lives to open so many sectors; a header that tells more tells nothing, and numbers need not be feared to run out.
const LAST_NUMBER: u32 = 1 << 30;

/// The sectors of the log. The sector of number n is the (n - 1) mod `sectors`-th, so that no number can stand in two.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Ring {
    pub(crate) start: u32,
    pub(crate) sectors: u32,
}

impl Ring {
    pub(crate) const fn address(&self, number: u32) -> u32 {
        // Two sectors at least, checked when the store is opened.
        match number.wrapping_sub(1).checked_rem(self.sectors) {
            Some(place) => self.start + place * SECTOR_SIZE,
            None => self.start,
        }
    }

    /// How often the ring had been gone round when the sector of `number` was opened.
    pub(crate) const fn round_of(&self, number: u32) -> u32 {
        match number.saturating_sub(1).checked_div(self.sectors) {
            Some(round) => round,
            None => 0,
        }
    }

    pub(crate) const fn end(&self) -> u32 {
        self.start + self.sectors * SECTOR_SIZE
    }

    /// The header that stands in the sector of `number`, whatever its own number.
    pub(crate) fn header_at<F: NorFlash>(
        &self,
        flash: &mut F,
        number: u32,
    ) -> Result<Option<Header>, F::Error> {
        let address = self.address(number);
        let belongs =
            |header: &Header| header.number <= LAST_NUMBER && self.address(header.number) == address;
        let mut bytes = [0; HEADER_SIZE];
        flash.read(address, &mut bytes)?;
        let mut header = Header::decode(&bytes).filter(belongs);
        if header.is_none() {
            flash.read(address + ENTRIES_END, &mut bytes)?;
            header = Header::decode(&bytes).filter(belongs);
        }
        Ok(header)
    }

    /// The header of exactly this number.
    pub(crate) fn header_of<F: NorFlash>(
        &self,
        flash: &mut F,
        number: u32,
    ) -> Result<Option<Header>, F::Error> {
        Ok(self.header_at(flash, number)?.filter(|header| header.number == number))
    }

    /// Whether the sector waits, erased for good, to be used under this number.
    pub(crate) fn is_clean<F: NorFlash>(&self, flash: &mut F, number: u32) -> Result<bool, F::Error> {
        let address = self.address(number);
        // However blank it looks: an erase that was cut can leave it so.
        let mut mark = [0; MARK_SIZE];
        flash.read(address + MARK_AT, &mut mark)?;
        if decode_mark(&mark) != Some(number) {
            return Ok(false);
        }
        Ok(last_written(flash, address, address + MARK_AT)?.is_none()
            && last_written(flash, address + ENTRIES_AT, address + SECTOR_SIZE)?.is_none())
    }

    /// Programs `bytes` and reads them back. False when they do not stand there as written.
    pub(crate) fn put<F: NorFlash>(&self, flash: &mut F, at: u32, bytes: &[u8]) -> Result<bool, F::Error> {
        flash.write(at, bytes)?;
        holds(flash, at, bytes)
    }

    /// Programs an entry, or padding, so that it does not count before all of it stands: the top bit of its first byte
    /// comes last. `bytes` may be changed on the way.
    pub(crate) fn put_entry<F: NorFlash>(
        &self,
        flash: &mut F,
        at: u32,
        bytes: &mut [u8],
    ) -> Result<bool, F::Error> {
        let Some(head) = bytes.first().copied() else { return Ok(false) };
        if let Some(first) = bytes.first_mut() {
            *first |= UNFINISHED;
        }
        if !self.put(flash, at, bytes)? {
            return Ok(false);
        }
        self.put(flash, at, &[head])
    }
}

/// Whether exactly `bytes` stand at `at`.
pub(crate) fn holds<F: NorFlash>(flash: &mut F, mut at: u32, bytes: &[u8]) -> Result<bool, F::Error> {
    let mut chunk = [0; CHUNK];
    for wanted in bytes.chunks(CHUNK) {
        let Some(found) = chunk.get_mut(..wanted.len()) else { return Ok(false) };
        flash.read(at, found)?;
        if found != wanted {
            return Ok(false);
        }
        at = at.saturating_add(u32::try_from(wanted.len()).unwrap_or(u32::MAX));
    }
    Ok(true)
}

/// The address of the last byte in `from..to` that is not blank.
pub(crate) fn last_written<F: NorFlash>(flash: &mut F, from: u32, to: u32) -> Result<Option<u32>, F::Error> {
    let mut chunk = [0; CHUNK];
    let mut last = None;
    let mut at = from;
    while at < to {
        let wanted = usize::try_from(to - at).unwrap_or(CHUNK).min(CHUNK);
        let Some(found) = chunk.get_mut(..wanted) else { break };
        flash.read(at, found)?;
        for byte in found {
            if *byte != BLANK {
                last = Some(at);
            }
            at += 1;
        }
    }
    Ok(last)
}
