//! Finding the log again after a start: all headers, the entries of the newest sector, nothing else.

use embedded_storage::nor_flash::NorFlash;
use shared_types::log::Event;
use shared_types::{Edges, LogId};

use super::entry::{MIN_RECORD, PADDING};
use super::ring::{CHUNK, Ring, holds, last_written};
use super::safeguards::Safeguard;
use super::sector::{ENTRIES_AT, ENTRIES_END, Header};
use super::walk::{Found, Walk};
use super::{FlashLog, StoreError};

/// What the log's region holds.
#[derive(Debug)]
#[expect(
    clippy::large_enum_variant,
    reason = "there is no heap to put the longer one on, and only one lives at a time"
)]
pub(crate) enum Mounted {
    Log(FlashLog),
    /// Not one byte written.
    Blank,
    /// Something that is no log of this firmware, or not the one expected.
    Foreign,
}

/// Looks for the log `wanted`, or for any one if that is not known.
pub(crate) fn mount<F: NorFlash>(
    flash: &mut F,
    ring: Ring,
    wanted: Option<LogId>,
) -> Result<Mounted, StoreError<F::Error>> {
    let mut span: Option<(Header, Header)> = None;
    for place in 1..=ring.sectors {
        let Some(header) = ring.header_at(flash, place)? else { continue };
        if wanted.is_some_and(|log| log != header.log) {
            continue;
        }
        span = Some(match span {
            None => (header, header),
            Some((oldest, _)) if oldest.log != header.log => return Ok(Mounted::Foreign),
            Some((oldest, newest)) => (
                if header.number < oldest.number { header } else { oldest },
                if header.number > newest.number { header } else { newest },
            ),
        });
    }
    if let Some((oldest, newest)) = span {
        return mount_at(flash, ring, oldest, newest).map(Mounted::Log);
    }
    let blank = last_written(flash, ring.start, ring.end())?.is_none();
    Ok(if blank { Mounted::Blank } else { Mounted::Foreign })
}

fn mount_at<F: NorFlash>(
    flash: &mut F,
    ring: Ring,
    oldest: Header,
    head: Header,
) -> Result<FlashLog, StoreError<F::Error>> {
    let mut walk = Walk::new(&head, None);
    let mut totals = head.totals;
    let mut acknowledged = head.acknowledged;
    let mut end_chain = walk.chain;
    loop {
        match walk.step(flash, &ring)? {
            Found::Record(_, record) => {
                end_chain = walk.chain;
                if let Event::Segment(segment) = record.event {
                    totals = totals.plus(segment.run, Edges(u64::from(segment.edges)));
                }
            }
            Found::Acknowledged(below) => acknowledged = acknowledged.max(below.0),
            Found::Unknown => end_chain = walk.chain,
            Found::End => break,
        }
    }
    let address = ring.address(head.number);
    let torn = last_written(flash, address + walk.offset, address + ENTRIES_END)?
        .map_or(0, |last| (last + 1 - address - walk.offset).div_ceil(MIN_RECORD));
    let skipped = if ring.safeguards.take(Safeguard::SequenceSkip) { torn } else { 0 };
    let mut log = FlashLog {
        ring,
        head,
        last_tried: head.number,
        offset: walk.offset,
        closed: torn > 0,
        end_seq: walk.seq,
        end_chain,
        chain: walk.chain,
        next_seq: walk.seq.saturating_add(skipped),
        base: walk.base,
        totals,
        acknowledged,
        oldest,
        clean: None,
        place: None,
        failed_writes: 0,
        repaired: walk.repaired,
    };
    if ring.safeguards.take(Safeguard::Refresh) {
        log.refresh(flash, &walk)?;
    }
    Ok(log)
}

impl FlashLog {
    /// A cut may have left the last bytes half programmed: they pass today, or look blank today, and not tomorrow.
    /// Programming the same bits again, and the first blank byte to padding, settles them.
    fn refresh<F: NorFlash>(&mut self, flash: &mut F, walk: &Walk) -> Result<(), StoreError<F::Error>> {
        let address = self.ring.address(self.head.number);
        let header = self.head.encode().ok_or(StoreError::TooLong)?;
        let both_stand = holds(flash, address, &header)? && holds(flash, address + ENTRIES_END, &header)?;
        if walk.last.is_none() || !both_stand {
            flash.write(address, &header)?;
            if self.ring.safeguards.take(Safeguard::SecondHeader) {
                flash.write(address + ENTRIES_END, &header)?;
            }
        }
        // The last entry, and any padding behind it.
        let mut at = address + walk.last.map_or(ENTRIES_AT, |(offset, _)| offset);
        let mut bytes = [0; CHUNK];
        while at < address + walk.offset {
            let wanted = usize::try_from(address + walk.offset - at).unwrap_or(CHUNK).min(CHUNK);
            let Some(settled) = bytes.get_mut(..wanted) else { break };
            flash.read(at, settled)?;
            flash.write(at, settled)?;
            at = at.saturating_add(u32::try_from(wanted).unwrap_or(u32::MAX));
        }
        if !self.closed && self.offset < ENTRIES_END {
            self.closed = !self.ring.put_entry(flash, address + self.offset, &mut [PADDING])?;
            self.offset += 1;
        }
        Ok(())
    }
}
