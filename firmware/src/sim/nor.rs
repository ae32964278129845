//! A serial NOR flash chip that can lose its power at any byte.
//!
//! Programming only clears bits, one byte after the other; erasing takes several steps and sets all bits of a sector. A cut
//! in the middle leaves the byte partly programmed, or anything at all in the whole sector under erase; and bits left
//! half-way are *weak*: at every power-on they read one way or the other, until programmed or erased again. This is
//! harsher than what data sheets say, which is nothing.

use std::collections::BTreeMap;
use std::vec;
use std::vec::Vec;

use embedded_storage::nor_flash::{ErrorType, NorFlash, NorFlashError, NorFlashErrorKind, ReadNorFlash};

use crate::split_mix::SplitMix64;

/// Bytes that one erase erases.
pub const SECTOR: usize = 4096;
/// Steps in one erase, at each of which the power can go. An erase takes as long as programming some thousand bytes;
/// this is enough for many cuts to fall into it.
pub const ERASE_STEPS: u64 = 256;

/// Why the chip did not do it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NorError {
    /// The power is off, or went off during this operation.
    PowerOff,
    /// The address is outside the chip.
    OutOfBounds,
    /// An erase that is not of whole sectors.
    NotAligned,
}

impl core::fmt::Display for NorError {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str(match self {
            Self::PowerOff => "the power is off",
            Self::OutOfBounds => "outside the chip",
            Self::NotAligned => "not whole sectors",
        })
    }
}

impl core::error::Error for NorError {}

impl NorFlashError for NorError {
    fn kind(&self) -> NorFlashErrorKind {
        match self {
            Self::PowerOff => NorFlashErrorKind::Other,
            Self::OutOfBounds => NorFlashErrorKind::OutOfBounds,
            Self::NotAligned => NorFlashErrorKind::NotAligned,
        }
    }
}

/// What the chip has done so far.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct NorCounts {
    /// Calls and bytes read.
    pub reads: u64,
    /// Bytes read.
    pub read_bytes: u64,
    /// Programming calls.
    pub programs: u64,
    /// Bytes programmed.
    pub programmed_bytes: u64,
    /// Sectors erased.
    pub erases: u64,
    /// Byte-steps of programming and steps of erasing, at each of which the power can go.
    pub steps: u64,
}

/// The chip.
#[derive(Clone, Debug)]
pub struct Nor {
    bytes: Vec<u8>,
    /// Bits that are neither programmed nor erased, by address.
    weak: BTreeMap<usize, u8>,
    erases: Vec<u32>,
    wipes: Vec<u32>,
    last_program: u32,
    counts: NorCounts,
    cut_after: Option<u64>,
    cut_in_erase: Option<u64>,
    is_on: bool,
    misprogram_one_in: Option<u64>,
    leaves_weak_bits: bool,
    joins_first_sectors: bool,
    rng: SplitMix64,
}

impl Nor {
    /// A blank chip of so many sectors; `seed` decides what cuts leave behind.
    #[must_use]
    pub fn new(sectors: usize, seed: u64) -> Self {
        Self {
            bytes: vec![0xFF; sectors * SECTOR],
            weak: BTreeMap::new(),
            erases: vec![0; sectors],
            wipes: vec![0; sectors],
            last_program: 0,
            counts: NorCounts::default(),
            cut_after: None,
            cut_in_erase: None,
            is_on: true,
            misprogram_one_in: None,
            leaves_weak_bits: true,
            joins_first_sectors: false,
            rng: SplitMix64::new(seed),
        }
    }

    /// The power will go after so many more steps.
    pub const fn cut_after(&mut self, steps: u64) {
        self.cut_after = Some(steps);
    }

    /// The power will go after so many steps of the next erase.
    pub const fn cut_in_erase(&mut self, steps: u64) {
        self.cut_in_erase = Some(steps);
    }

    /// Whether the power is on.
    #[must_use]
    pub const fn is_on(&self) -> bool {
        self.is_on
    }

    /// Power comes (back) on and stays; weak bits settle one way or the other for this time. Warmth and voltage move all
    /// of them alike, so often they all read as erased, or all as programmed.
    pub fn power_on(&mut self) {
        self.is_on = true;
        self.cut_after = None;
        self.cut_in_erase = None;
        let mood = self.rng.below(3);
        for (address, mask) in &self.weak {
            let reads = match mood {
                0 => 0xFF,
                1 => 0x00,
                _ => self.rng.next_u8(),
            };
            if let Some(byte) = self.bytes.get_mut(*address) {
                *byte = (*byte & !mask) | (reads & mask);
            }
        }
    }

    /// From now on about one byte in so many is not programmed, and the chip does not say so. None: a good chip.
    pub const fn misprogram_one_in(&mut self, bytes: Option<u64>) {
        self.misprogram_one_in = bytes;
    }

    /// From now on what a cut leaves is junk, but reads the same every time: a kinder chip.
    pub const fn leave_no_weak_bits(&mut self) {
        self.leaves_weak_bits = false;
    }

    /// From now on the second sector is the first one under another address: settings have one place instead of two.
    pub const fn join_first_sectors(&mut self) {
        self.joins_first_sectors = true;
    }

    /// Flips one bit, as age or radiation would.
    pub fn flip(&mut self, bit: u64) {
        let place = usize::try_from(bit / 8).unwrap_or(usize::MAX);
        if let Some(byte) = self.bytes.get_mut(place) {
            *byte ^= 1 << (bit % 8);
        }
    }

    /// What stands in the chip.
    #[must_use]
    pub fn bytes(&self) -> &[u8] {
        &self.bytes
    }

    /// Puts bytes into the chip, as a programming tool would.
    pub fn load(&mut self, at: usize, content: &[u8]) {
        if let Some(place) = self.bytes.get_mut(at..at.saturating_add(content.len())) {
            place.copy_from_slice(content);
        }
    }

    /// What was done so far.
    #[must_use]
    pub const fn counts(&self) -> NorCounts {
        self.counts
    }

    /// Starts counting afresh.
    pub fn reset_counts(&mut self) {
        self.counts = NorCounts::default();
    }

    /// How often the erase of a sector was begun.
    #[must_use]
    pub fn erases_of(&self, sector: usize) -> u32 {
        self.erases.get(sector).copied().unwrap_or(0)
    }

    /// How often a sector was erased or something in it overwritten with zeros: after that its old content may be gone.
    #[must_use]
    pub fn wipes_of(&self, sector: usize) -> u32 {
        self.wipes.get(sector).copied().unwrap_or(0)
    }

    /// The sector of the last programming call.
    #[must_use]
    pub const fn last_programmed_sector(&self) -> u32 {
        self.last_program
    }

    fn range(&self, offset: u32, length: usize) -> Result<core::ops::Range<usize>, NorError> {
        if !self.is_on {
            return Err(NorError::PowerOff);
        }
        let mut start = usize::try_from(offset).map_err(|_| NorError::OutOfBounds)?;
        if self.joins_first_sectors && (SECTOR..2 * SECTOR).contains(&start) {
            start -= SECTOR;
        }
        let end = start.checked_add(length).ok_or(NorError::OutOfBounds)?;
        if end > self.bytes.len() { Err(NorError::OutOfBounds) } else { Ok(start..end) }
    }

    /// One step; false when the power goes during it.
    fn step(&mut self) -> bool {
        self.counts.steps += 1;
        match self.cut_after.as_mut() {
            Some(0) => {
                self.is_on = false;
                false
            }
            Some(left) => {
                *left -= 1;
                true
            }
            None => true,
        }
    }

    fn weaken(&mut self, address: usize, mask: u8) {
        if mask != 0 && self.leaves_weak_bits {
            *self.weak.entry(address).or_insert(0) |= mask;
        }
    }

    fn program_byte(&mut self, address: usize, wanted: u8) -> Result<(), NorError> {
        let on = self.step();
        let Some(&old) = self.bytes.get(address) else { return Err(NorError::OutOfBounds) };
        let to_clear = if on { !wanted } else { !wanted & self.rng.next_u8() };
        if on && self.misprogram_one_in.is_some_and(|count| self.rng.one_in(count)) {
            return Ok(());
        }
        if let Some(byte) = self.bytes.get_mut(address) {
            *byte = old & !to_clear;
        }
        if let Some(mask) = self.weak.get_mut(&address) {
            *mask &= !to_clear;
        }
        if on {
            return Ok(());
        }
        // Of the bits that were on their way, some read either way from now on.
        let weak = old & !wanted & self.rng.next_u8();
        self.weaken(address, weak);
        Err(NorError::PowerOff)
    }

    /// What a cut erase leaves: anything. Four ways are taken in turn, because no one of them is the worst for all.
    fn half_erase(&mut self, start: usize) {
        let way = self.rng.below(4);
        let likely = self.rng.uniform();
        // From many weak bits to one or two: few enough for the sector to look blank for a while.
        let weak_one_in = 40 << self.rng.below(8);
        let border = usize::try_from(self.rng.below(SECTOR as u64)).unwrap_or(0);
        for place in 0..SECTOR {
            let address = start + place;
            let Some(&old) = self.bytes.get(address) else { continue };
            let noise = self.rng.next_u8();
            let mut raised = 0;
            for bit in 0..8 {
                if self.rng.uniform() < likely {
                    raised |= 1 << bit;
                }
            }
            let (new, weak) = match way {
                // Noise all over.
                0 => (noise, 0),
                // Some bits are erased already.
                1 => (old | raised, !old & self.rng.next_u8() & self.rng.next_u8()),
                // It looks erased, but some bits are weak.
                2 => (0xFF, if self.rng.one_in(weak_one_in) { 1 << self.rng.below(8) } else { 0 }),
                // One part is erased, the other not at all.
                _ if place < border => (0xFF, 0),
                _ => (old, 0),
            };
            if let Some(byte) = self.bytes.get_mut(address) {
                *byte = new;
            }
            self.weaken(address, weak);
        }
    }
}

impl ErrorType for Nor {
    type Error = NorError;
}

impl ReadNorFlash for Nor {
    const READ_SIZE: usize = 1;

    fn read(&mut self, offset: u32, bytes: &mut [u8]) -> Result<(), NorError> {
        let range = self.range(offset, bytes.len())?;
        let found = self.bytes.get(range).ok_or(NorError::OutOfBounds)?;
        bytes.copy_from_slice(found);
        self.counts.reads += 1;
        self.counts.read_bytes += bytes.len() as u64;
        Ok(())
    }

    fn capacity(&self) -> usize {
        self.bytes.len()
    }
}

impl NorFlash for Nor {
    const WRITE_SIZE: usize = 1;
    const ERASE_SIZE: usize = SECTOR;

    fn erase(&mut self, from: u32, to: u32) -> Result<(), NorError> {
        let length = usize::try_from(to.checked_sub(from).ok_or(NorError::NotAligned)?)
            .map_err(|_| NorError::OutOfBounds)?;
        let range = self.range(from, length)?;
        if range.start % SECTOR != 0 || length % SECTOR != 0 {
            return Err(NorError::NotAligned);
        }
        for start in range.step_by(SECTOR) {
            let sector = start / SECTOR;
            self.counts.erases += 1;
            for counters in [&mut self.erases, &mut self.wipes] {
                if let Some(count) = counters.get_mut(sector) {
                    *count += 1;
                }
            }
            if let Some(steps) = self.cut_in_erase.take() {
                self.cut_after = Some(steps);
            }
            for _ in 0..ERASE_STEPS {
                if !self.step() {
                    self.half_erase(start);
                    return Err(NorError::PowerOff);
                }
            }
            if let Some(bytes) = self.bytes.get_mut(start..start + SECTOR) {
                bytes.fill(0xFF);
            }
            self.weak.retain(|address, _| address / SECTOR != sector);
        }
        Ok(())
    }

    fn write(&mut self, offset: u32, bytes: &[u8]) -> Result<(), NorError> {
        let range = self.range(offset, bytes.len())?;
        let sector = range.start / SECTOR;
        self.last_program = u32::try_from(sector).unwrap_or(u32::MAX);
        if bytes.len() >= 4
            && bytes.iter().all(|byte| *byte == 0)
            && let Some(count) = self.wipes.get_mut(sector)
        {
            *count += 1;
        }
        self.counts.programs += 1;
        for (address, byte) in range.zip(bytes) {
            self.program_byte(address, *byte)?;
            self.counts.programmed_bytes += 1;
        }
        Ok(())
    }
}
