//! The flash chip as the log wants it.
//!
//! What can surprise: the driver erases a whole range with interrupts off, 45 ms and more for each sector. Here a range is
//! erased sector by sector, so that interrupts get through in between, and the lamp is put out before. Words are one byte, as the chip's are; how the
//! log lays out its bytes is its own affair. The blocking driver is used for good: the other one reads in words, and a
//! log must never be opened with another word size.

use embassy_rp::flash::{Blocking, ERASE_SIZE, Error, Flash};
use embassy_rp::peripherals::FLASH;
use embedded_storage::nor_flash::{
    ErrorType, MultiwriteNorFlash, NorFlash, NorFlashError, NorFlashErrorKind, ReadNorFlash,
};
use shared_types::LoggerId;

use super::lamp;
use super::layout::{FLASH_BYTES, SETTINGS};

const SECTOR_BYTES: u32 = 4096;
const _: () = assert!(SECTOR_BYTES as usize == ERASE_SIZE, "the chip erases sectors of 4 KiB");

/// The board's flash chip.
pub struct Chip(Flash<'static, FLASH, Blocking, FLASH_BYTES>);

/// The chip refused: outside of it, or not at a sector.
#[derive(Clone, Copy, Debug, PartialEq, Eq, defmt::Format)]
pub struct ChipError(Error);

impl NorFlashError for ChipError {
    fn kind(&self) -> NorFlashErrorKind {
        self.0.kind()
    }
}

impl Chip {
    /// Takes the chip over.
    pub fn new(flash: Flash<'static, FLASH, Blocking, FLASH_BYTES>) -> Self {
        Self(flash)
    }

    /// The number that the chip's maker gave it; none when it has none (all zeros or all ones).
    pub fn unique_id(&mut self) -> Option<LoggerId> {
        let mut id = [0; 8];
        self.0.blocking_unique_id(&mut id).ok()?;
        let id = u64::from_be_bytes(id);
        (id != 0 && id != u64::MAX).then_some(LoggerId(id))
    }
}

/// Where a byte really lies.
const fn place_of(offset: u32) -> u32 {
    // Spoiled on purpose: the second settings slot is the first, so that old settings go before new ones stand.
    let second_slot = SETTINGS.start + SECTOR_BYTES;
    if cfg!(feature = "without-second-slot") && second_slot <= offset && offset < SETTINGS.end {
        offset - SECTOR_BYTES
    } else {
        offset
    }
}

impl ErrorType for Chip {
    type Error = ChipError;
}

impl ReadNorFlash for Chip {
    const READ_SIZE: usize = 1;

    fn read(&mut self, offset: u32, bytes: &mut [u8]) -> Result<(), ChipError> {
        self.0.blocking_read(place_of(offset), bytes).map_err(ChipError)
    }

    fn capacity(&self) -> usize {
        FLASH_BYTES
    }
}

impl NorFlash for Chip {
    const WRITE_SIZE: usize = 1;
    const ERASE_SIZE: usize = ERASE_SIZE;

    fn erase(&mut self, from: u32, to: u32) -> Result<(), ChipError> {
        if !from.is_multiple_of(SECTOR_BYTES) || !to.is_multiple_of(SECTOR_BYTES) {
            return Err(ChipError(Error::Unaligned));
        }
        let mut at = from;
        while at < to {
            let place = place_of(at);
            lamp::put_out_unless_saved();
            self.0.blocking_erase(place, place + SECTOR_BYTES).map_err(ChipError)?;
            at += SECTOR_BYTES;
        }
        Ok(())
    }

    fn write(&mut self, offset: u32, bytes: &[u8]) -> Result<(), ChipError> {
        self.0.blocking_write(place_of(offset), bytes).map_err(ChipError)
    }
}

// The chip takes further zeros into a byte that holds some already.
impl MultiwriteNorFlash for Chip {}
