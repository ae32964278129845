//! Persistent state outside the log: identity, boot count, settings, floors of numbers and totals.
//!
//! Slots with a checksum, each written twice, in sequence through the sectors of the region. A sector is erased only while
//! another holds the newest slot, so that the old state stands until the new one does. A boot writes a slot before its first
//! record, so that its number is never given out again.

use core::ops::Range;

use crc::{CRC_32_ISO_HDLC, Crc};
use embedded_storage::nor_flash::NorFlash;
use serde::{Deserialize, Serialize};
use shared_types::log::Settings;
use shared_types::{BootId, LogId, LoggerId, RecordSeq, Totals};

use crate::flash_log::SECTOR_SIZE;
use crate::flash_log::ring::{holds, last_written};
use crate::store_error::StoreError;

/// Bytes of one copy of a slot, and of the two together.
const COPY_SIZE: usize = 128;
const SLOT_SIZE: u32 = 256;
const SLOTS_PER_SECTOR: u32 = SECTOR_SIZE / SLOT_SIZE;
/// Format 1; a later format takes other bytes.
const MAGIC: [u8; 4] = [0x6E, 0x48, 0x53, 0x01];
/// Magic and order in front, check behind.
const BODY_AT: usize = 8;
const BODY_SIZE: usize = COPY_SIZE - BODY_AT - 4;
const CHECK: Crc<u32> = Crc::<u32>::new(&CRC_32_ISO_HDLC);

/// The content of a slot.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) struct Kept {
    pub(crate) logger: LoggerId,
    pub(crate) boot: BootId,
    /// The log that belongs to this logger, once there is one.
    pub(crate) log: Option<LogId>,
    /// A log is being made: what the log's region holds may be erased.
    pub(crate) formatting: bool,
    /// Numbers below may have been given out.
    pub(crate) next: RecordSeq,
    /// Totals that must not be gone below.
    pub(crate) totals: Totals,
    pub(crate) settings: Settings,
}

/// The slots, and where the newest stands.
#[derive(Debug)]
pub(crate) struct Slots {
    region: Range<u32>,
    /// The place of the newest slot, counted through the region; none while there is no slot.
    newest: Option<u32>,
    order: u32,
}

impl Slots {
    /// Looks through the region for the newest slot that passes its check.
    pub(crate) fn find<F: NorFlash>(
        flash: &mut F,
        region: Range<u32>,
    ) -> Result<(Self, Option<Kept>), F::Error> {
        let mut slots = Self { region, newest: None, order: 0 };
        let mut kept = None;
        for place in 0..slots.places() {
            if let Some((order, found)) = read_slot(flash, slots.address(place))?
                && (kept.is_none() || order >= slots.order)
            {
                slots.newest = Some(place);
                slots.order = order;
                kept = Some(found);
            }
        }
        Ok((slots, kept))
    }

    fn places(&self) -> u32 {
        self.region.end.saturating_sub(self.region.start) / SLOT_SIZE
    }

    const fn address(&self, place: u32) -> u32 {
        self.region.start + place * SLOT_SIZE
    }

    /// Writes a slot behind the newest; on `Ok` it has been read back. True when a sector was erased for it.
    pub(crate) fn write<F: NorFlash>(
        &mut self,
        flash: &mut F,
        kept: &Kept,
    ) -> Result<bool, StoreError<F::Error>> {
        let places = self.places();
        let mut place = self.newest;
        let mut erased = false;
        for _ in 0..places {
            let next = place.map_or(0, |place| (place + 1) % places);
            place = Some(next);
            // A place that is passed over may hold a torn slot of the order that it would have had.
            self.order = self.order.saturating_add(1);
            if next.is_multiple_of(SLOTS_PER_SECTOR) {
                let start = self.address(next);
                flash.erase(start, start + SECTOR_SIZE)?;
                erased = true;
            }
            let at = self.address(next);
            if last_written(flash, at, at + SLOT_SIZE)?.is_none() && self.put(flash, at, kept)? {
                self.newest = Some(next);
                return Ok(erased);
            }
        }
        Err(StoreError::NotKept)
    }

    fn put<F: NorFlash>(&self, flash: &mut F, at: u32, kept: &Kept) -> Result<bool, StoreError<F::Error>> {
        let copy = encode(self.order, kept).ok_or(StoreError::TooLong)?;
        let mut stands = true;
        for at in [at, at + SLOT_SIZE / 2] {
            flash.write(at, &copy)?;
            stands &= holds(flash, at, &copy)?;
        }
        Ok(stands)
    }
}

fn read_slot<F: NorFlash>(flash: &mut F, at: u32) -> Result<Option<(u32, Kept)>, F::Error> {
    let mut copy = [0; COPY_SIZE];
    flash.read(at, &mut copy)?;
    if let Some(found) = decode(&copy) {
        return Ok(Some(found));
    }
    flash.read(at + SLOT_SIZE / 2, &mut copy)?;
    Ok(decode(&copy))
}

fn encode(order: u32, kept: &Kept) -> Option<[u8; COPY_SIZE]> {
    let mut body = [0; BODY_SIZE];
    postcard::to_slice(kept, &mut body).ok()?;
    let mut copy = [0; COPY_SIZE];
    let (written, check) = copy.split_last_chunk_mut::<4>()?;
    let (front, place) = written.split_first_chunk_mut::<BODY_AT>()?;
    let (magic, order_place) = front.split_first_chunk_mut::<4>()?;
    *magic = MAGIC;
    order_place.copy_from_slice(&order.to_le_bytes());
    place.copy_from_slice(&body);
    *check = CHECK.checksum(written).to_le_bytes();
    Some(copy)
}

fn decode(copy: &[u8; COPY_SIZE]) -> Option<(u32, Kept)> {
    let (written, check) = copy.split_last_chunk::<4>()?;
    let (magic, rest) = written.split_first_chunk::<4>()?;
    let (order, body) = rest.split_first_chunk::<4>()?;
    if *magic != MAGIC || CHECK.checksum(written) != u32::from_le_bytes(*check) {
        return None;
    }
    Some((u32::from_le_bytes(*order), postcard::take_from_bytes::<Kept>(body).ok()?.0))
}

#[cfg(test)]
mod tests {
    use shared_types::log::{Ceiling, Limits};
    use shared_types::{Edges, MachineTag, RawAngle, RunMillis};

    use super::*;

    fn largest() -> Kept {
        let run = Some(RunMillis(u64::MAX));
        let ceiling = Some(Ceiling { from: RawAngle::new(4095), to: RawAngle::new(4095) });
        Kept {
            logger: LoggerId(u64::MAX),
            boot: BootId(u32::MAX),
            log: Some(LogId(u32::MAX)),
            formatting: true,
            next: RecordSeq(u32::MAX),
            totals: Totals { run: RunMillis(u64::MAX), edges: Edges(u64::MAX) },
            settings: Settings {
                machine: MachineTag(u32::MAX),
                knob_step: u16::MAX,
                limits: Limits {
                    look_at: run,
                    stop_at: run,
                    retension_at: run,
                    retension_every: run,
                    ceiling,
                },
            },
        }
    }

    #[test]
    fn the_largest_content_fits_and_comes_back() {
        assert_eq!(decode(&encode(u32::MAX, &largest()).unwrap()), Some((u32::MAX, largest())));
    }

    #[test]
    fn a_slot_with_any_bit_flipped_is_refused() {
        let copy = encode(7, &largest()).unwrap();
        for bit in 0..COPY_SIZE * 8 {
            let mut flipped = copy;
            flipped[bit / 8] ^= 1 << (bit % 8);
            assert_eq!(decode(&flipped), None, "bit {bit}");
        }
    }
}
