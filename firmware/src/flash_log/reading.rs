//! Reading the log from a number on, oldest first.

use embedded_storage::nor_flash::NorFlash;
use shared_types::RecordSeq;
use shared_types::log::Record;

use super::sector::Header;
use super::walk::{Found, SectorEnd, Walk};
use super::{FlashLog, StoreError};

/// Where a read ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ReadEnd {
    /// Where to go on reading: the record that was not taken, or the number of the next record to be written.
    pub next: RecordSeq,
    /// Whether there was nothing more.
    pub reached_end: bool,
}

/// Where the last read stopped, so that the next one need not look for it.
#[derive(Clone, Copy, Debug)]
pub(super) struct ReadPlace {
    next: RecordSeq,
    walk: Walk,
}

impl FlashLog {
    pub(crate) fn read_from<F: NorFlash>(
        &mut self,
        flash: &mut F,
        from: RecordSeq,
        visit: &mut dyn FnMut(RecordSeq, &Record) -> bool,
    ) -> Result<ReadEnd, StoreError<F::Error>> {
        let mut walk = self.walk_to(flash, from)?;
        loop {
            let before = walk;
            match walk.step(flash, &self.ring)? {
                Found::Record(seq, record) if seq >= from => {
                    if !visit(seq, &record) {
                        self.place = Some(ReadPlace { next: seq, walk: before });
                        return Ok(ReadEnd { next: seq, reached_end: false });
                    }
                }
                Found::Record(..) | Found::Acknowledged(_) | Found::Unknown => {}
                Found::End => {
                    self.repaired = self.repaired.max(walk.repaired);
                    self.stepped_over = self.stepped_over.max(walk.stepped_over);
                    let Some(header) = self.next_after(flash, walk.number)? else { break };
                    walk = Walk::new(&header, self.end_of(flash, header.number)?);
                }
            }
        }
        let next = RecordSeq(self.next_seq).max(from);
        self.place = Some(ReadPlace { next, walk });
        Ok(ReadEnd { next, reached_end: true })
    }

    /// A walk that meets the record `from`, if it is there.
    fn walk_to<F: NorFlash>(&self, flash: &mut F, from: RecordSeq) -> Result<Walk, F::Error> {
        let kept = self.place.filter(|place| place.next == from && place.walk.number >= self.oldest.number);
        if let Some(ReadPlace { mut walk, .. }) = kept {
            // The sector may have been closed since.
            walk.known_end = self.end_of(flash, walk.number)?;
            return Ok(walk);
        }
        let header = self.header_before(flash, from)?;
        Ok(Walk::new(&header, self.end_of(flash, header.number)?))
    }

    /// The newest sector that begins at or before `from`, or else the oldest.
    fn header_before<F: NorFlash>(&self, flash: &mut F, from: RecordSeq) -> Result<Header, F::Error> {
        if self.head.first_seq <= from.0 {
            return Ok(self.head);
        }
        for number in (self.oldest.number.max(self.first_possible())..self.head.number).rev() {
            if let Some(header) = self.ring.header_of(flash, number)?
                && header.log == self.head.log
                && header.first_seq <= from.0
            {
                return Ok(header);
            }
        }
        Ok(self.oldest)
    }

    /// Where the records of the sector `number` end, as the sector behind it says.
    fn end_of<F: NorFlash>(&self, flash: &mut F, number: u32) -> Result<Option<SectorEnd>, F::Error> {
        let own = SectorEnd { seq: self.end_seq, chain: self.end_chain };
        Ok(Some(
            self.next_after(flash, number)?
                .map_or(own, |next| SectorEnd { seq: next.previous_end, chain: next.previous_chain }),
        ))
    }
}
