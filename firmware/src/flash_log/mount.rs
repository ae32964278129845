//! Mounting the log after a start: scans all headers, and the entries of the newest sector only.

use embedded_storage::nor_flash::NorFlash;
use shared_types::log::Event;
use shared_types::{Edges, LogId};

use super::entry::{MIN_RECORD, PADDING};
use super::ring::{CHUNK, Ring, holds, last_written};
use super::sector::{ENTRIES_AT, ENTRIES_END, Header};
use super::walk::{Found, Walk};
use super::{FlashLog, StoreError};

/// Content of the log's region.
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
    let mut span = Span::default();
    let mut rounds = Rounds::default();
    for place in 1..=ring.sectors {
        let Some(header) = ring.header_at(flash, place)? else { continue };
        if wanted.is_some_and(|log| log != header.log) {
            continue;
        }
        if span.oldest.is_some_and(|oldest| oldest.log != header.log) {
            return Ok(Mounted::Foreign);
        }
        span.take(header);
        rounds.count(ring.round_of(header.number));
    }
    let Some((mut oldest, mut newest)) = span.ends() else {
        let blank = last_written(flash, ring.start, ring.end())?.is_none();
        return Ok(if blank { Mounted::Blank } else { Mounted::Foreign });
    };
    // Never in a log that was only ever written: so somewhere a header tells a number that it never had.
    if newest.number - oldest.number >= ring.sectors {
        (oldest, newest) = best_span(flash, ring, newest.log, rounds.round)?.unwrap_or((oldest, newest));
    }
    mount_at(flash, ring, oldest, newest).map(Mounted::Log)
}

/// The headers with the smallest and with the largest number so far.
#[derive(Clone, Copy, Debug, Default)]
struct Span {
    oldest: Option<Header>,
    newest: Option<Header>,
}

impl Span {
    fn take(&mut self, header: Header) {
        self.oldest = Some(self.oldest.filter(|oldest| oldest.number <= header.number).unwrap_or(header));
        self.newest = Some(self.newest.filter(|newest| newest.number >= header.number).unwrap_or(header));
    }

    fn ends(self) -> Option<(Header, Header)> {
        self.oldest.zip(self.newest)
    }
}

/// In which round of the ring most headers were written, give or take one: all of one log stand in two neighbouring rounds. Found in
/// one pass and with two numbers (Boyer and Moore 1981).
#[derive(Clone, Copy, Debug, Default)]
struct Rounds {
    round: u32,
    lead: u32,
}

impl Rounds {
    fn count(&mut self, round: u32) {
        if self.lead == 0 {
            *self = Self { round, lead: 1 };
        } else if self.round.abs_diff(round) <= 1 {
            self.lead += 1;
        } else {
            self.lead -= 1;
            if self.lead == 0 {
                // A young log has few headers, and small numbers.
                self.round = self.round.min(round);
            }
        }
    }
}

/// The largest number in one round, and what stands before it.
#[derive(Clone, Copy, Debug, Default)]
struct Candidate {
    newest: Option<Header>,
    oldest: Option<Header>,
    support: u32,
}

/// Of the largest numbers in the rounds about `round`, the one that most headers can stand before in one log, and the oldest of them.
fn best_span<F: NorFlash>(
    flash: &mut F,
    ring: Ring,
    log: LogId,
    round: u32,
) -> Result<Option<(Header, Header)>, F::Error> {
    let first = round.saturating_sub(1);
    let mut candidates = [Candidate::default(); 3];
    for place in 1..=ring.sectors {
        let Some(header) = ring.header_at(flash, place)?.filter(|header| header.log == log) else { continue };
        for (round, candidate) in (first..).zip(&mut candidates) {
            if ring.round_of(header.number) == round
                && candidate.newest.is_none_or(|newest| header.number > newest.number)
            {
                candidate.newest = Some(header);
            }
        }
    }
    for place in 1..=ring.sectors {
        let Some(header) = ring.header_at(flash, place)?.filter(|header| header.log == log) else { continue };
        for candidate in &mut candidates {
            let behind = candidate.newest.and_then(|newest| newest.number.checked_sub(header.number));
            if behind.is_some_and(|behind| behind < ring.sectors) {
                candidate.support += 1;
                if candidate.oldest.is_none_or(|oldest| header.number < oldest.number) {
                    candidate.oldest = Some(header);
                }
            }
        }
    }
    let mut best = Candidate::default();
    for candidate in candidates {
        // Of two that are borne out alike, the smaller number: a young log has few headers.
        if candidate.support > best.support {
            best = candidate;
        }
    }
    Ok(best.oldest.zip(best.newest))
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
    // Each of these numbers may have been told before its record was torn.
    let torn = last_written(flash, address + walk.offset, address + ENTRIES_END)?
        .map_or(0, |last| (last + 1 - address - walk.offset).div_ceil(MIN_RECORD));
    Ok(FlashLog {
        ring,
        head,
        last_tried: head.number,
        offset: walk.offset,
        closed: torn > 0,
        end_seq: walk.seq,
        end_chain,
        chain: walk.chain,
        next_seq: walk.seq.saturating_add(torn),
        base: walk.base,
        totals,
        acknowledged,
        oldest,
        clean: None,
        place: None,
        failed_writes: 0,
        repaired: walk.repaired,
        stepped_over: walk.stepped_over,
        pending_refresh: Some(PendingRefresh { last: walk.last }),
    })
}

/// The last entry found by the mount, not yet programmed again.
#[derive(Clone, Copy, Debug)]
pub(crate) struct PendingRefresh {
    /// Where the last entry stands and how long it is.
    last: Option<(u32, usize)>,
}

impl FlashLog {
    /// A cut may have left the last bytes half programmed: they pass today, or look blank today, and not tomorrow.
    /// Programming the same bits again, and the first blank byte to padding, makes them stable. That costs a byte of the log, so it is
    /// left until something is to be written or told: many starts are over before.
    pub(crate) fn refresh<F: NorFlash>(&mut self, flash: &mut F) -> Result<(), StoreError<F::Error>> {
        let Some(PendingRefresh { last }) = self.pending_refresh else { return Ok(()) };
        let address = self.ring.address(self.head.number);
        let header = self.head.encode().ok_or(StoreError::TooLong)?;
        let both_stand = holds(flash, address, &header)? && holds(flash, address + ENTRIES_END, &header)?;
        if last.is_none() || !both_stand {
            flash.write(address, &header)?;
            flash.write(address + ENTRIES_END, &header)?;
        }
        // The last entry, and any padding behind it.
        let mut at = address + last.map_or(ENTRIES_AT, |(offset, _)| offset);
        let mut bytes = [0; CHUNK];
        while at < address + self.offset {
            let wanted = usize::try_from(address + self.offset - at).unwrap_or(CHUNK).min(CHUNK);
            let Some(chunk) = bytes.get_mut(..wanted) else { break };
            flash.read(at, chunk)?;
            flash.write(at, chunk)?;
            at = at.saturating_add(u32::try_from(wanted).unwrap_or(u32::MAX));
        }
        if !self.closed && self.offset < ENTRIES_END {
            self.closed = !self.ring.put_entry(flash, address + self.offset, &mut [PADDING])?;
            self.offset += 1;
        }
        self.pending_refresh = None;
        Ok(())
    }
}
