//! State of one pull: the ranges that are asked for, and the plausibility of the answers.
//!
//! Everything that the logger says it has and that is not held is asked for, also what it passed over before. A number counts
//! as gone only when the logger was asked for exactly it and answered with a later one.

use shared_types::RecordSeq;
use shared_types::link::LogState;

use super::greeting;
use super::pull::{Progress, Pull};
use super::pull_report::{PullError, Warning};
use crate::app::ports::contradiction::Contradiction;
use crate::app::ports::{Batch, Gap, Kept, LoggerError, RawRecord, StoreError};
use host_core::records::log_records::LogKey;

/// Records gathered before they are committed. One commit waits for the disk; one per batch would make a long pull
/// many times slower, and what a break-off loses was not acknowledged and comes again.
const RECORDS_PER_COMMIT: usize = 1_000;

/// Batches of one pull, at most. The largest flash of such boards, 16 MiB, fits into about eleven thousand.
const MOST_BATCHES: u32 = 100_000;

/// Greetings during one pull because the logger went on recording, at most. What comes later is for the next pull.
const MOST_GREETINGS: u32 = 3;

/// How far a pull is.
struct PullState {
    waiting: Vec<RawRecord>,
    gone: Vec<Gap>,
    /// What is asked for, in order.
    open: Vec<Gap>,
    from: RecordSeq,
    read: u64,
    greetings: u32,
}

/// What becomes of a batch.
enum Judged {
    /// All of it can be true.
    Fits,
    /// It goes on beyond what was told, once too often for one pull.
    ForTheNextPull,
    /// Something of it cannot be true.
    No(Contradiction),
}

impl Pull<'_> {
    /// Whether numbers that are held may be written anew by the logger, with other content.
    fn may_repeat(&self) -> bool {
        self.report.warnings.iter().any(|warning| matches!(warning, Warning::NumbersWentBack { .. }))
    }

    /// What to ask for, and at the end whatever is written meanwhile.
    fn open(&self) -> Result<Vec<Gap>, StoreError> {
        let last = RecordSeq(u32::MAX);
        if self.may_repeat() {
            return Ok(vec![Gap { from: self.oldest, to: last }]);
        }
        // What was settled and the logger does not claim to have is not asked for again.
        let settled = self.store.first_missing(self.key)?.min(self.oldest);
        let missing = self.store.missing(self.key, self.next)?.into_iter();
        let clipped = missing.map(|gap| Gap { from: gap.from.max(settled), ..gap });
        let mut open: Vec<Gap> = clipped.filter(|gap| gap.from <= gap.to).collect();
        open.push(Gap { from: self.next, to: last });
        Ok(open)
    }

    /// Reads what is there and keeps it.
    pub(super) fn read(&mut self, progress: &mut dyn FnMut(Progress)) -> Result<(), PullError> {
        if self.report.from_saved_log {
            return self.read_saved(progress);
        }
        let open = self.open()?;
        let from = open.first().map_or(self.next, |gap| gap.from);
        let mut now = PullState { waiting: Vec::new(), gone: Vec::new(), open, from, read: 0, greetings: 0 };
        let read = self.read_batches(&mut now, progress);
        // Also when it broke off: what has come is kept.
        self.commit(&mut now)?;
        read
    }

    fn read_batches(
        &mut self,
        now: &mut PullState,
        progress: &mut dyn FnMut(Progress),
    ) -> Result<(), PullError> {
        let start = now.from;
        for _ in 0..MOST_BATCHES {
            let mut batch = self.logger.read_from(self.key.log, now.from)?;
            match self.judge(&batch, now)? {
                Judged::Fits => {}
                Judged::ForTheNextPull => return Ok(()),
                Judged::No(what) => return Err(self.contradicts(what).into()),
            }
            let stuck = batch.next <= now.from || batch.records.is_empty() && batch.unreadable_bytes == 0;
            if stuck && !batch.end {
                let what = "it does not get on with its records".to_owned();
                return Err(LoggerError::NotALogger { place: self.logger.place(), what }.into());
            }
            let ends_early = batch.end && batch.next < self.next;
            self.take_gaps(&mut batch, now, ends_early);
            self.count_batch(&batch, now);
            let is_end = batch.end;
            now.from = batch.next;
            now.waiting.extend(batch.records);
            if ends_early {
                return Err(self
                    .contradicts(Contradiction::EndsEarly { ends: now.from, next: self.next })
                    .into());
            }
            if now.waiting.len() >= RECORDS_PER_COMMIT {
                self.commit(now)?;
            }
            self.tell_progress(start, now, progress);
            if is_end {
                return Ok(());
            }
            now.skip_what_is_held();
            if now.from >= self.next {
                return Ok(());
            }
        }
        Err(self.contradicts(Contradiction::TooMuch { batches: MOST_BATCHES }).into())
    }

    /// Holds a batch against what was asked for and against the greeting, which it asks for again where the logger may have
    /// gone on recording.
    fn judge(&mut self, batch: &Batch, now: &mut PullState) -> Result<Judged, PullError> {
        if let Err(what) = greeting::judge_batch(batch, now.from) {
            return Ok(Judged::No(what));
        }
        if batch.next <= self.next {
            return Ok(Judged::Fits);
        }
        if now.greetings >= MOST_GREETINGS {
            return Ok(Judged::ForTheNextPull);
        }
        now.greetings += 1;
        let status = self.logger.status()?;
        let LogState::Ready { log, oldest, next, .. } = status.log else {
            return Ok(Judged::No(Contradiction::GreetsAnew { log: self.key.log }));
        };
        if (LogKey { logger: status.logger, log }) != self.key {
            return Ok(Judged::No(Contradiction::GreetsAnew { log: self.key.log }));
        }
        if let Err(what) = greeting::judge(&status, self.next) {
            return Ok(Judged::No(what));
        }
        if batch.next > next {
            return Ok(Judged::No(Contradiction::BeyondNext { below: batch.next, next }));
        }
        (self.status, self.oldest, self.next) = (status, oldest, next);
        Ok(Judged::Fits)
    }

    /// Notes what the logger passed over although it was asked for, and cuts the batch where it passes over something else:
    /// that is asked for next. A batch that could not be taken apart to its end, or that ends before the end that was told, says
    /// nothing about what is missing.
    fn take_gaps(&mut self, batch: &mut Batch, now: &mut PullState, ends_early: bool) {
        if batch.unreadable_bytes > 0 || ends_early {
            return;
        }
        let first = batch.records.first().map_or(batch.next, |record| record.seq);
        if first > now.from {
            let gap = Gap { from: now.from, to: RecordSeq(first.0 - 1) };
            now.gone.push(gap);
            self.skipped.push(gap);
        }
        let mut expected = first;
        for (place, record) in batch.records.iter().enumerate() {
            if record.seq > expected {
                batch.records.truncate(place);
                break;
            }
            expected = RecordSeq(record.seq.0.saturating_add(1));
        }
        if expected < batch.next {
            batch.next = expected;
            batch.end = false;
        }
    }

    /// Keeps what a saved log holds, whatever its order. What cannot be true is set aside and told.
    fn read_saved(&mut self, progress: &mut dyn FnMut(Progress)) -> Result<(), PullError> {
        let from = RecordSeq(0);
        let mut now = PullState {
            waiting: Vec::new(),
            gone: Vec::new(),
            open: Vec::new(),
            from,
            read: 0,
            greetings: 0,
        };
        // A logger that goes on recording while it is read sends numbers after those of its greeting, one by one.
        let mut reach = self.next;
        loop {
            let batch = match self.logger.read_from(self.key.log, from) {
                Ok(batch) => batch,
                Err(error) => {
                    self.commit(&mut now)?;
                    return Err(error.into());
                }
            };
            let is_end = batch.end;
            match judge_saved(&batch, reach) {
                Ok(reached) => {
                    reach = reached;
                    self.count_batch(&batch, &mut now);
                    now.waiting.extend(batch.records);
                }
                Err(what) => {
                    let records = batch.records.len() as u64;
                    self.report.warnings.push(Warning::SetAside { records, why: what });
                }
            }
            if is_end || now.waiting.len() >= RECORDS_PER_COMMIT {
                self.commit(&mut now)?;
            }
            self.tell_progress(from, &now, progress);
            if is_end {
                return Ok(());
            }
        }
    }

    fn contradicts(&self, what: Contradiction) -> LoggerError {
        LoggerError::Contradicts { place: self.logger.place(), what }
    }

    fn count_batch(&mut self, batch: &Batch, now: &mut PullState) {
        self.has_read = true;
        now.read += batch.records.len() as u64;
        self.report.payload_bytes += batch.records.iter().map(|record| record.body.len() as u64).sum::<u64>();
        self.unreadable_bytes += batch.unreadable_bytes as u64;
    }

    fn tell_progress(&self, start: RecordSeq, now: &PullState, progress: &mut dyn FnMut(Progress)) {
        let of = u64::from(self.next.0.saturating_sub(start.0)).max(now.read);
        progress(Progress { records: now.read, of, bytes: self.logger.bytes_received() });
    }

    fn commit(&mut self, now: &mut PullState) -> Result<(), StoreError> {
        if now.waiting.is_empty() && now.gone.is_empty() {
            return Ok(());
        }
        self.begin()?;
        if !now.waiting.is_empty() {
            let kept: Kept = self.store.keep_records(self.at, self.key, &now.waiting)?;
            self.count(&kept);
            now.waiting.clear();
        }
        for gap in now.gone.drain(..) {
            self.store.note_gone(self.key, gap.from, RecordSeq(gap.to.0.saturating_add(1)))?;
        }
        Ok(())
    }

    fn count(&mut self, kept: &Kept) {
        let report = &mut self.report;
        report.new_records += kept.new;
        report.known_records += kept.known;
        report.conflicting_records += kept.conflicting;
        report.unreadable_records += kept.unreadable;
        report.new_run_time_ms = report.new_run_time_ms.saturating_add(kept.run_and_edges.run.0);
        report.new_edges = report.new_edges.saturating_add(kept.run_and_edges.edges.0);
        report.new_from = [report.new_from, kept.new_from].into_iter().flatten().min();
        report.new_to = report.new_to.max(kept.new_to);
    }
}

impl PullState {
    /// Goes on at the next number that is asked for.
    fn skip_what_is_held(&mut self) {
        let next = self.open.iter().find(|gap| gap.to >= self.from);
        self.from = next.map_or(self.from, |gap| gap.from.max(self.from));
    }
}

/// Where a saved log reaches with this batch.
fn judge_saved(batch: &Batch, reach: RecordSeq) -> Result<RecordSeq, Contradiction> {
    greeting::judge_saved(batch)?;
    let mut reach = reach;
    for number in batch.records.iter().map(|record| record.seq) {
        if number > reach {
            let below = RecordSeq(reach.0.saturating_add(1));
            return Err(Contradiction::OutOfPlace { number, from: RecordSeq(0), below });
        }
        reach = reach.max(RecordSeq(number.0.saturating_add(1)));
    }
    Ok(reach)
}
