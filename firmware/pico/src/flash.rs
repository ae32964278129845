//! Flash driver for the store.
//!
//! What can surprise: the driver erases a whole range with interrupts off, 45 ms and more for each sector. Here a range is
//! erased sector by sector, so that interrupts get through in between, and the lamp is put out before. Words are one byte, as the chip's are; how the
//! log lays out its bytes is its own affair. The blocking driver is used for good: the other one reads in words, and a
//! log must never be opened with another word size.

use embassy_rp::flash::{ERASE_SIZE, Error};
use embassy_time::Instant;
use embedded_storage::nor_flash::{
    ErrorType, MultiwriteNorFlash, NorFlash, NorFlashError, NorFlashErrorKind, ReadNorFlash,
};
use shared_types::LoggerId;

use super::chip::{self, BoardFlash};
use super::layout::FLASH_BYTES;
use super::{facts, lamp};

const SECTOR_BYTES: u32 = 4096;
const _: () = assert!(SECTOR_BYTES as usize == ERASE_SIZE, "the chip erases sectors of 4 KiB");

/// The board's flash chip.
pub struct Chip {
    flash: BoardFlash,
    /// Its size in bytes as it says itself; none when it says nothing that can be believed.
    size: Option<u32>,
}

/// The chip refused: outside of it, or not at a sector.
#[derive(Clone, Copy, Debug, PartialEq, Eq, defmt::Format)]
pub struct ChipError(Error);

impl NorFlashError for ChipError {
    fn kind(&self) -> NorFlashErrorKind {
        self.0.kind()
    }
}

impl Chip {
    /// Takes the chip over, and asks how large it is: past the end of a smaller one, its start would be written over.
    pub fn new(mut flash: BoardFlash) -> Self {
        let size = chip::flash_size(&mut flash);
        Self { flash, size }
    }

    /// Size of the chip in bytes, as it says itself.
    pub const fn size(&self) -> Option<u32> {
        self.size
    }

    /// A number that no other board has; none when there is none (all zeros or all ones).
    pub fn unique_id(&mut self) -> Option<LoggerId> {
        let id = chip::chip_id(&mut self.flash)?;
        (id != 0 && id != u64::MAX).then_some(LoggerId(id))
    }
}

impl ErrorType for Chip {
    type Error = ChipError;
}

impl ReadNorFlash for Chip {
    const READ_SIZE: usize = 1;

    fn read(&mut self, offset: u32, bytes: &mut [u8]) -> Result<(), ChipError> {
        self.flash.blocking_read(offset, bytes).map_err(ChipError)
    }

    fn capacity(&self) -> usize {
        let told = self.size.and_then(|size| usize::try_from(size).ok());
        told.map_or(FLASH_BYTES, |size| size.min(FLASH_BYTES))
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
            lamp::put_out_unless_saved();
            let began = Instant::now();
            self.flash.blocking_erase(at, at + SECTOR_BYTES).map_err(ChipError)?;
            facts::note_erase(began.elapsed());
            at += SECTOR_BYTES;
        }
        Ok(())
    }

    fn write(&mut self, offset: u32, bytes: &[u8]) -> Result<(), ChipError> {
        self.flash.blocking_write(offset, bytes).map_err(ChipError)
    }
}

// The chip takes further zeros into a byte that holds some already.
impl MultiwriteNorFlash for Chip {}
