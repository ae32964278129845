//! The log: a ring buffer of flash sectors; the oldest sector is reclaimed when it is full.
//!
//! **What is true is what passes its check, never what looks erased.** A cut can leave a byte half programmed and a
//! sector half erased, and such bits may read one way today and another tomorrow. Therefore: a sector is used only with
//! the mark of a finished erase; its headers are overwritten before it is erased; the bit that makes an entry count is
//! programmed after all others; a torn record ends its sector, and the next sector says where the one before it ended;
//! after a start, what was written last is programmed once more.
//!
//! This takes flash in which a bit can be programmed twice without harm, as in serial NOR chips without error
//! correction of their own.

mod bits;
mod bytes;
mod delta_base;
mod entry;
mod format;
mod forms;
mod mount;
mod newer;
mod packing;
mod reading;
pub(crate) mod ring;
pub(crate) mod sector;
mod trace_packing;
mod walk;

pub use reading::ReadEnd;
pub use sector::SECTOR_SIZE;

pub(crate) use format::{FormatParams, FormatProgress};
pub(crate) use mount::{Mounted, mount};
pub(crate) use ring::Ring;

use embedded_storage::nor_flash::NorFlash;
use shared_types::link::LogState;
use shared_types::log::{Event, Record};
use shared_types::{BootId, Edges, LogId, LoggerId, RecordSeq, Totals};

use crate::store_error::StoreError;
use delta_base::DeltaBase;
use entry::{MAX_ENTRY, first_chain, next_chain, seal};
use mount::PendingRefresh;
use packing::{pack, pack_acknowledged};
use reading::ReadPlace;
use sector::{ENTRIES_AT, ENTRIES_END, HEADER_SIZE, Header, MARK_AT, encode_mark};

/// Sectors in which a failed write is tried again.
const ATTEMPTS: u32 = 4;

/// A log that can be read and written. The flash itself is lent for each call.
#[derive(Debug)]
pub(crate) struct FlashLog {
    ring: Ring,
    /// Of the newest sector.
    head: Header,
    /// The last number tried, behind the newest when sectors failed.
    last_tried: u32,
    /// Of the next entry in the newest sector.
    offset: u32,
    /// Nothing more goes into the newest sector.
    closed: bool,
    /// Where the newest sector's records end.
    end_seq: u32,
    /// The chain of checks behind the last of them.
    end_chain: u32,
    /// The chain behind the newest sector's last entry.
    chain: u32,
    /// The number of the next record; beyond `end_seq` when numbers are skipped.
    next_seq: u32,
    base: DeltaBase,
    totals: Totals,
    acknowledged: u32,
    oldest: Header,
    /// The number for which the next sector is known to be clean.
    clean: Option<u32>,
    place: Option<ReadPlace>,
    failed_writes: u32,
    repaired: u32,
    stepped_over: u32,
    /// The last writes of the previous boot, to be programmed again before anything else is written.
    pending_refresh: Option<PendingRefresh>,
}

impl FlashLog {
    pub(crate) const fn state(&self) -> LogState {
        LogState::Ready {
            log: self.head.log,
            oldest: RecordSeq(self.oldest.first_seq),
            next: RecordSeq(self.next_seq),
            acknowledged: RecordSeq(self.acknowledged),
            formatted_with: self.head.formatted_with,
        }
    }

    pub(crate) const fn id(&self) -> LogId {
        self.head.log
    }

    pub(crate) const fn logger(&self) -> LoggerId {
        self.head.logger
    }

    pub(crate) const fn totals(&self) -> Totals {
        self.totals
    }

    pub(crate) const fn next_seq(&self) -> RecordSeq {
        RecordSeq(self.next_seq)
    }

    /// The last boot that the log knows of.
    pub(crate) fn last_boot(&self) -> BootId {
        self.base.boot.max(self.head.boot)
    }

    pub(crate) const fn failed_writes(&self) -> u32 {
        self.failed_writes
    }

    pub(crate) const fn repaired(&self) -> u32 {
        self.repaired
    }

    pub(crate) const fn stepped_over(&self) -> u32 {
        self.stepped_over
    }

    /// Whether records went to make room before they were acknowledged.
    pub(crate) const fn overran(&self) -> bool {
        self.acknowledged < self.oldest.previous_end
    }

    /// Raises next number and totals to floors known from the settings.
    pub(crate) fn raise(&mut self, next: RecordSeq, totals: Totals) {
        if next.0 > self.next_seq {
            self.next_seq = next.0;
            // A sector counts its records from its head, so a jump needs a new head.
            self.closed = true;
        }
        self.totals.run = self.totals.run.max(totals.run);
        self.totals.edges = self.totals.edges.max(totals.edges);
    }

    /// Writes one record and reads it back.
    pub(crate) fn append<F: NorFlash>(
        &mut self,
        flash: &mut F,
        record: &Record,
    ) -> Result<RecordSeq, StoreError<F::Error>> {
        for _ in 0..ATTEMPTS {
            let mut entry = [0; MAX_ENTRY];
            let used = pack(record, &self.base, &mut entry).ok_or(StoreError::TooLong)?;
            if self.put(flash, &mut entry, used, 1)? {
                let seq = RecordSeq(self.next_seq);
                self.next_seq = self.next_seq.saturating_add(1);
                self.end_seq = self.next_seq;
                self.end_chain = self.chain;
                self.base = self.base.after(record);
                if let Event::Segment(segment) = &record.event {
                    self.totals = self.totals.plus(segment.run, Edges(u64::from(segment.edges)));
                }
                return Ok(seq);
            }
            self.open_next(flash)?;
        }
        Err(StoreError::NotKept)
    }

    /// Moves the cursor below which everything is acknowledged; it never moves back, nor past the end.
    pub(crate) fn acknowledge<F: NorFlash>(
        &mut self,
        flash: &mut F,
        below: RecordSeq,
    ) -> Result<(), StoreError<F::Error>> {
        let below = below.0.min(self.next_seq);
        for _ in 0..ATTEMPTS {
            if below <= self.acknowledged {
                return Ok(());
            }
            let mut entry = [0; MAX_ENTRY];
            let used = pack_acknowledged(RecordSeq(below), &mut entry).ok_or(StoreError::TooLong)?;
            if self.put(flash, &mut entry, used, 0)? {
                self.acknowledged = below;
                return Ok(());
            }
            self.open_next(flash)?;
        }
        Err(StoreError::NotKept)
    }

    /// False when the entry must go into another sector. `records`: how many numbers it uses up if it is torn.
    fn put<F: NorFlash>(
        &mut self,
        flash: &mut F,
        entry: &mut [u8; MAX_ENTRY],
        used: usize,
        records: u32,
    ) -> Result<bool, StoreError<F::Error>> {
        let length = seal(entry, used, self.chain).ok_or(StoreError::TooLong)?;
        let bytes = entry.get_mut(..length).ok_or(StoreError::TooLong)?;
        let end = self.offset.saturating_add(u32::try_from(length).map_err(|_| StoreError::TooLong)?);
        if self.closed || end > ENTRIES_END {
            self.closed = true;
            return Ok(false);
        }
        let at = self.ring.address(self.head.number) + self.offset;
        let chain = next_chain(self.chain, bytes);
        let written = self.ring.put_entry(flash, at, bytes);
        if let Ok(true) = written {
            self.offset = end;
            self.chain = chain;
            return Ok(true);
        }
        self.closed = true;
        self.failed_writes = self.failed_writes.saturating_add(1);
        // A torn record may come up whole, under a number that must not be given out again.
        self.next_seq = self.next_seq.saturating_add(records);
        Ok(written?)
    }

    /// The next number, past those whose sectors failed; once round the ring, they get another chance.
    const fn number_to_try(&self) -> u32 {
        let number = self.last_tried.saturating_add(1);
        if number - self.head.number < self.ring.sectors {
            number
        } else {
            self.head.number.saturating_add(1)
        }
    }

    /// Begins the next sector that takes a header.
    fn open_next<F: NorFlash>(&mut self, flash: &mut F) -> Result<(), StoreError<F::Error>> {
        for _ in 0..ATTEMPTS {
            let number = self.number_to_try();
            let ready = self.clean == Some(number)
                || self.ring.is_clean(flash, number)?
                || self.erase_and_mark(flash, number)?;
            self.clean = None;
            self.last_tried = number;
            let header = Header {
                number,
                first_seq: self.next_seq,
                previous_end: self.end_seq,
                previous_chain: self.end_chain,
                acknowledged: self.acknowledged,
                boot: self.base.boot,
                uptime: self.base.end,
                totals: self.totals,
                ..self.head
            };
            if ready && self.write_header(flash, &header)? {
                self.head = header;
                self.offset = ENTRIES_AT;
                self.closed = false;
                self.end_seq = self.next_seq;
                self.chain = first_chain(header.log, number);
                self.end_chain = self.chain;
                self.base = DeltaBase::at_head(header.boot, header.uptime);
                return Ok(());
            }
            // One of the two copies may stand, and would pass for the newest sector.
            self.invalidate_headers(flash, number)?;
            self.failed_writes = self.failed_writes.saturating_add(1);
        }
        Err(StoreError::NotKept)
    }

    /// Zeroes both headers of a sector.
    fn invalidate_headers<F: NorFlash>(&self, flash: &mut F, number: u32) -> Result<(), F::Error> {
        let address = self.ring.address(number);
        flash.write(address, &[0; HEADER_SIZE])?;
        flash.write(address + ENTRIES_END, &[0; HEADER_SIZE])
    }

    fn write_header<F: NorFlash>(
        &self,
        flash: &mut F,
        header: &Header,
    ) -> Result<bool, StoreError<F::Error>> {
        let bytes = header.encode().ok_or(StoreError::TooLong)?;
        let address = self.ring.address(header.number);
        let first = self.ring.put(flash, address, &bytes)?;
        Ok(self.ring.put(flash, address + ENTRIES_END, &bytes)? && first)
    }

    /// Reclaims the sector of `number`: erases it and marks the erase as finished.
    fn erase_and_mark<F: NorFlash>(
        &mut self,
        flash: &mut F,
        number: u32,
    ) -> Result<bool, StoreError<F::Error>> {
        let address = self.ring.address(number);
        let given_up =
            self.ring.header_at(flash, number)?.filter(|header| header.number == self.oldest.number);
        self.invalidate_headers(flash, number)?;
        if let Some(oldest) = given_up {
            self.oldest = self.next_after(flash, oldest.number)?.unwrap_or(self.head);
        }
        flash.erase(address, address + SECTOR_SIZE)?;
        if ring::last_written(flash, address, address + SECTOR_SIZE)?.is_some() {
            return Ok(false);
        }
        let mark = encode_mark(number).ok_or(StoreError::TooLong)?;
        Ok(self.ring.put(flash, address + MARK_AT, &mark)?)
    }

    /// The smallest number that a sector beside the newest can have: each place of the ring holds one. It bounds every walk through
    /// the numbers, whatever a header says.
    const fn first_possible(&self) -> u32 {
        self.head.number.saturating_sub(self.ring.sectors.saturating_sub(1))
    }

    /// The first header behind `number` that stands, the newest sector's included.
    fn next_after<F: NorFlash>(&self, flash: &mut F, number: u32) -> Result<Option<Header>, F::Error> {
        for number in number.saturating_add(1).max(self.first_possible())..self.head.number {
            let header = self.ring.header_of(flash, number)?;
            if header.is_some_and(|header| header.log == self.head.log) {
                return Ok(header);
            }
        }
        Ok((number < self.head.number).then_some(self.head))
    }

    /// Erases the next sector while there is time; true when it did.
    pub(crate) fn prepare<F: NorFlash>(&mut self, flash: &mut F) -> Result<bool, StoreError<F::Error>> {
        let number = self.number_to_try();
        if self.clean == Some(number) {
            return Ok(false);
        }
        if self.ring.is_clean(flash, number)? {
            self.clean = Some(number);
            return Ok(false);
        }
        if self.erase_and_mark(flash, number)? {
            self.clean = Some(number);
        } else {
            self.failed_writes = self.failed_writes.saturating_add(1);
            self.last_tried = number;
        }
        Ok(true)
    }
}

#[cfg(all(test, feature = "sim"))]
mod guard_tests;
#[cfg(all(test, feature = "sim"))]
mod newer_tests;
