//! Write queue in front of the store: records that the flash did not take are retried.
//!
//! Records of a start are deferred too, because a bouncing supply would wear the flash: the boot is committed, and the queue
//! written, with the first press, run or request, and otherwise after two seconds.

use embedded_storage::nor_flash::NorFlash;
use heapless::Deque;
use shared_types::UptimeMillis;
use shared_types::link::LogState;
use shared_types::log::{Event, Record, StartReason};

use crate::store::Store;

/// Records that can wait. A press carries its trace and takes about 200 bytes.
const WAITING: usize = 12;
/// Time from one try to the next. Milliseconds.
const RETRY_MS: u64 = 1_000;
/// A boot that lives so long is worth a record. Milliseconds of uptime.
const COMMIT_AFTER_MS: u64 = 2_000;

/// The store, and a short queue in front of it.
#[derive(Debug)]
pub struct WriteQueue<F: NorFlash> {
    store: Store<F>,
    waiting: Deque<Record, WAITING>,
    failed_at: Option<UptimeMillis>,
    /// When committing the boot has erased a sector.
    erased_at: Option<UptimeMillis>,
    saved_presses: u32,
}

impl<F: NorFlash> WriteQueue<F> {
    /// A journal with nothing waiting.
    pub const fn new(store: Store<F>) -> Self {
        Self { store, waiting: Deque::new(), failed_at: None, erased_at: None, saved_presses: 0 }
    }

    /// Writes a record, behind those that still wait. Returns whether all of them are safe now.
    pub fn write(&mut self, now: UptimeMillis, record: Record) -> bool {
        let waits = self.may_wait(now, &record.event);
        if self.waiting.is_full() {
            self.make_room();
        }
        // There is room now; a queue that still refused would only lose what the lines above chose to keep.
        let queued = self.waiting.push_back(record).is_ok();
        !waits && self.flush_in_one_erase(now) && queued
    }

    /// Tries again what waits, not more often than once a second; and commits the boot when it is time.
    pub fn retry(&mut self, now: UptimeMillis) -> bool {
        let is_committed = self.store.is_committed();
        if self.waiting.is_empty() && is_committed {
            return true;
        }
        let is_due = is_committed || now.0 >= COMMIT_AFTER_MS || self.failed_at.is_some();
        let rested = self.failed_at.is_none_or(|at| now.0.saturating_sub(at.0) >= RETRY_MS);
        is_due && rested && self.flush_in_one_erase(now)
    }

    /// Tries what waits at once, for example because there is a log now, or because somebody asks.
    pub fn flush(&mut self, now: UptimeMillis) -> bool {
        if self.commit(now).is_none() || self.has_no_log() {
            return false;
        }
        while let Some(record) = self.waiting.front() {
            if self.store.append(record).is_err() {
                self.failed_at = Some(now);
                return false;
            }
            self.saved_presses =
                self.saved_presses.wrapping_add(u32::from(matches!(record.event, Event::Press(_))));
            self.waiting.pop_front();
        }
        self.failed_at = None;
        true
    }

    /// As [`WriteQueue::flush`]; but when committing the boot has erased a sector, the records are left for the next look: an append
    /// may erase one as well, and no look at the needle is to wait for two.
    fn flush_in_one_erase(&mut self, now: UptimeMillis) -> bool {
        let Some(erased) = self.commit(now) else { return false };
        if erased {
            self.erased_at = Some(now);
        }
        self.erased_at != Some(now) && self.flush(now)
    }

    /// Makes the boot's number safe where it is not. None when the flash does not take it, else whether a sector was erased.
    fn commit(&mut self, now: UptimeMillis) -> Option<bool> {
        let outcome = self.store.commit();
        if outcome.is_err() {
            self.failed_at = Some(now);
        }
        outcome.ok()
    }

    /// Whether a record of a start that may be over at once is to wait. What no start can do without, and what would have no room,
    /// does not.
    fn may_wait(&self, now: UptimeMillis, event: &Event) -> bool {
        let tells_little = match event {
            Event::Started(started) => {
                matches!(started.reason, StartReason::PowerOn | StartReason::Requested)
            }
            Event::Settings(_) | Event::Fault(_) | Event::Anchor(_) => true,
            _ => false,
        };
        let has_room = self.waiting.len() + 1 < WAITING;
        !self.store.is_committed() && now.0 < COMMIT_AFTER_MS && tells_little && has_room
    }

    /// Whether the last write failed.
    pub const fn is_failing(&self) -> bool {
        self.failed_at.is_some()
    }

    /// Whether there is no log to write to.
    pub fn has_no_log(&self) -> bool {
        !matches!(self.store.log_state(), LogState::Ready { .. })
    }

    /// How many presses have become safe since the start; wraps.
    pub const fn saved_presses(&self) -> u32 {
        self.saved_presses
    }

    /// Run time of segments that still wait, in milliseconds.
    pub fn waiting_run_ms(&self) -> u64 {
        let run = |record: &Record| match &record.event {
            Event::Segment(segment) => segment.run.0,
            _ => 0,
        };
        self.waiting.iter().map(run).fold(0, u64::saturating_add)
    }

    /// The store behind it.
    pub const fn store(&self) -> &Store<F> {
        &self.store
    }

    /// The store behind it, to be read or set.
    pub const fn store_mut(&mut self) -> &mut Store<F> {
        &mut self.store
    }

    /// Gives the store back.
    pub fn into_store(self) -> Store<F> {
        self.store
    }

    /// With a dead flash something must go: what tells least first, and of run time and presses the oldest last.
    fn make_room(&mut self) {
        let worth = |record: &Record| match record.event {
            Event::Fault(_) | Event::Anchor(_) => 0,
            Event::Control(_) => 1,
            Event::Segment(_) => 3,
            Event::Press(_) | Event::Started(_) => 4,
            _ => 2,
        };
        let least = self.waiting.iter().map(worth).min();
        let mut gone = false;
        for _ in 0..self.waiting.len() {
            let Some(record) = self.waiting.pop_front() else { break };
            if !gone && Some(worth(&record)) == least {
                gone = true;
            } else if self.waiting.push_back(record).is_err() {
                break;
            }
        }
    }
}
