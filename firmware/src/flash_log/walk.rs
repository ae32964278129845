//! Sequential reader of one sector's entries, with repair of single flipped bits.
//!
//! Every entry depends on those before it, so the first unreadable one ends its sector.

use embedded_storage::nor_flash::NorFlash;
use shared_types::RecordSeq;
use shared_types::log::Record;

use super::delta_base::DeltaBase;
use super::entry::{MAX_ENTRY, Shape, first_chain, head_and_body, is_sound, next_chain, shape};
use super::packing::{Packed, unpack};
use super::ring::Ring;
use super::sector::{ENTRIES_AT, ENTRIES_END, Header};

/// Most entries are shorter than this, and one read is enough for them.
const FIRST_READ: usize = 16;

/// Entries that must follow a repaired one for it to be beyond doubt.
const WITNESSES: u32 = 3;

/// Where a sector's records are known to end.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct SectorEnd {
    /// What the record behind the last would be called.
    pub(crate) seq: u32,
    /// The chain of checks behind the last.
    pub(crate) chain: u32,
}

/// A place among the entries of one sector.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Walk {
    pub(crate) number: u32,
    /// Of the next entry, from the sector's start.
    pub(crate) offset: u32,
    /// What the next record would be called.
    pub(crate) seq: u32,
    pub(crate) base: DeltaBase,
    /// The chain of checks in front of the next entry.
    pub(crate) chain: u32,
    /// Where the sector's records are known to end.
    pub(crate) known_end: Option<SectorEnd>,
    /// Flipped bits put right so far.
    pub(crate) repaired: u32,
    /// Records of a newer firmware that were stepped over so far.
    pub(crate) stepped_over: u32,
    /// Where the last entry stands and how long it is.
    pub(crate) last: Option<(u32, usize)>,
}

/// What stands at a place.
#[derive(Debug)]
pub(crate) enum Found {
    Record(RecordSeq, Record),
    Acknowledged(RecordSeq),
    /// A record that only a newer firmware knows. It passed every check, and it has a number.
    Unknown,
    /// Nothing that can be read, up to the sector's end.
    End,
}

impl Walk {
    pub(crate) fn new(header: &Header, known_end: Option<SectorEnd>) -> Self {
        Self {
            number: header.number,
            offset: ENTRIES_AT,
            seq: header.first_seq,
            base: DeltaBase::at_head(header.boot, header.uptime),
            chain: first_chain(header.log, header.number),
            known_end,
            repaired: 0,
            stepped_over: 0,
            last: None,
        }
    }

    /// Reads the next entry and moves behind it.
    pub(crate) fn step<F: NorFlash>(&mut self, flash: &mut F, ring: &Ring) -> Result<Found, F::Error> {
        let mut window = [0; MAX_ENTRY];
        loop {
            if self.offset >= ENTRIES_END || self.known_end.is_some_and(|end| self.seq >= end.seq) {
                return Ok(Found::End);
            }
            match load(flash, ring, self.number, self.offset, &mut window)? {
                Shape::Blank => return Ok(Found::End),
                Shape::Padding => self.offset += 1,
                Shape::Entry(length) if is_sound_at(&window, length, self.chain) => {
                    return Ok(self.take(&window, length));
                }
                _ => match self.repair(flash, ring, &mut window)? {
                    Some(Shape::Padding) => self.offset += 1,
                    Some(Shape::Entry(length)) => return Ok(self.take(&window, length)),
                    _ => return Ok(Found::End),
                },
            }
        }
    }

    fn take(&mut self, window: &[u8; MAX_ENTRY], length: usize) -> Found {
        let Some(entry) = window.get(..length) else { return Found::End };
        let found = match head_and_body(entry).and_then(|body| unpack(body, &self.base)) {
            Some(Packed::Acknowledged(below)) => Found::Acknowledged(below),
            Some(Packed::Record(record)) => {
                self.base = self.base.after(&record);
                Found::Record(RecordSeq(self.seq), record)
            }
            Some(Packed::Newer(moment)) => {
                if let Some((boot, at)) = moment {
                    self.base = self.base.in_boot(boot, at);
                }
                self.stepped_over += 1;
                Found::Unknown
            }
            // It passed its check by chance: no firmware writes such a body.
            None => return Found::End,
        };
        if !matches!(found, Found::Acknowledged(_)) {
            self.seq = self.seq.saturating_add(1);
        }
        self.chain = next_chain(self.chain, entry);
        self.last = Some((self.offset, length));
        self.offset = self.offset.saturating_add(u32::try_from(length).unwrap_or(ENTRIES_END));
        found
    }

    /// Looks for the one bit that, flipped back, makes the entry pass. A pass is not enough, because a torn entry is no
    /// flipped one: sound entries must follow, or the known end of the sector. Of several such bits it is the one that is
    /// borne out best. An entry that this firmware does not know is neither looked for nor believed: nearly any body would do.
    fn repair<F: NorFlash>(
        &mut self,
        flash: &mut F,
        ring: &Ring,
        window: &mut [u8; MAX_ENTRY],
    ) -> Result<Option<Shape>, F::Error> {
        let room = room_at(self.offset);
        let Some(bytes) = window.get_mut(..room) else { return Ok(None) };
        flash.read(ring.address(self.number) + self.offset, bytes)?;
        let mut best: Option<(u32, usize, Shape)> = None;
        for bit in 0..8 * room {
            flip(window, bit);
            let candidate = shape(window);
            let length = match candidate {
                Shape::Padding => 1,
                Shape::Entry(length) => length,
                Shape::Blank | Shape::Nothing => 0,
            };
            let witnesses = if bit < 8 * length && length <= room {
                self.witnesses(flash, ring, window, candidate)?
            } else {
                0
            };
            if witnesses > best.map_or(0, |(most, ..)| most) {
                best = Some((witnesses, bit, candidate));
            }
            flip(window, bit);
            // From here on the bits change the content of the entry, not what the entry is.
            if bit >= 16 && bit >= 8 * length {
                break;
            }
        }
        let Some((_, bit, candidate)) = best else { return Ok(None) };
        flip(window, bit);
        self.repaired += 1;
        Ok(Some(candidate))
    }

    /// How well a candidate is borne out: the sound entries that follow it, or that it ends its sector as known.
    fn witnesses<F: NorFlash>(
        &self,
        flash: &mut F,
        ring: &Ring,
        window: &[u8; MAX_ENTRY],
        candidate: Shape,
    ) -> Result<u32, F::Error> {
        let mut after = *self;
        match candidate {
            Shape::Padding => after.offset += 1,
            Shape::Entry(length) if is_sound_at(window, length, self.chain) => {
                if matches!(after.take(window, length), Found::End | Found::Unknown) {
                    return Ok(0);
                }
                if after.is_at_known_end() {
                    return Ok(WITNESSES);
                }
            }
            _ => return Ok(0),
        }
        let mut window = [0; MAX_ENTRY];
        let mut sound = 0;
        while sound < WITNESSES && after.offset < ENTRIES_END {
            match load(flash, ring, after.number, after.offset, &mut window)? {
                Shape::Padding => after.offset += 1,
                Shape::Entry(length) if is_sound_at(&window, length, after.chain) => {
                    match after.take(&window, length) {
                        Found::Record(..) | Found::Acknowledged(_) => sound += 1,
                        Found::Unknown => {}
                        Found::End => break,
                    }
                    if after.is_at_known_end() {
                        return Ok(WITNESSES);
                    }
                }
                _ => break,
            }
        }
        Ok(sound)
    }

    /// Whether the last record of the sector was just passed, by its number and by the chain of checks.
    fn is_at_known_end(&self) -> bool {
        self.known_end.is_some_and(|end| end.seq == self.seq && end.chain == self.chain)
    }
}

fn flip(window: &mut [u8; MAX_ENTRY], bit: usize) {
    if let Some(byte) = window.get_mut(bit / 8) {
        *byte ^= 1 << (bit % 8);
    }
}

fn is_sound_at(window: &[u8; MAX_ENTRY], length: usize, chain: u32) -> bool {
    window.get(..length).is_some_and(|entry| is_sound(entry, chain))
}

/// Bytes from `offset` to the end of the entries, as far as one entry can reach.
fn room_at(offset: u32) -> usize {
    usize::try_from(ENTRIES_END.saturating_sub(offset)).unwrap_or(MAX_ENTRY).min(MAX_ENTRY)
}

/// Reads one entry into the window; what does not fit into the sector is nonsense.
fn load<F: NorFlash>(
    flash: &mut F,
    ring: &Ring,
    number: u32,
    offset: u32,
    window: &mut [u8; MAX_ENTRY],
) -> Result<Shape, F::Error> {
    let room = room_at(offset);
    let at = ring.address(number) + offset;
    let first = FIRST_READ.min(room);
    let Some(bytes) = window.get_mut(..first) else { return Ok(Shape::Nothing) };
    flash.read(at, bytes)?;
    let found = shape(bytes);
    let Shape::Entry(length) = found else { return Ok(found) };
    if length > room {
        return Ok(Shape::Nothing);
    }
    if let Some(rest) = window.get_mut(first..length) {
        flash.read(at + u32::try_from(first).unwrap_or(0), rest)?;
    }
    Ok(found)
}
