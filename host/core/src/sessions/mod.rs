//! Bursts joined to sessions: no gap over ten minutes, one machine, and across a start of the logger only where both
//! sides are dated.

use std::ops::Range;

use jiff::civil::Date;
use jiff::tz::TimeZone;
use shared_types::{MachineTag, RecordSeq, RunMillis, UtcMillis};

use crate::records::clock_marks::CLOCKS_AGREE_WITHIN_MS;
use crate::records::log_records::LogKey;
use crate::records::when::When;
use crate::stats::MINUTE_MS;
use holder::Attribution;
use ledger::{LedgerLine, LedgerLog};

/// A longer stop than this ends a session. Milliseconds; ten minutes.
pub const SESSION_GAP_MS: u64 = 10 * MINUTE_MS;

/// Bursts with no gap over ten minutes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Session {
    /// The log in which it is recorded.
    pub log: LogKey,
    /// Its bursts, as a range of the log's lines in the ledger.
    pub lines: Range<usize>,
    /// The number of its first record; with the log, the session's lasting name.
    pub first: RecordSeq,
    /// The number of its last record.
    pub last: RecordSeq,
    /// The machine.
    pub machine: Option<MachineTag>,
    /// When it began.
    pub starts: When,
    /// When its last burst ended.
    pub ends: When,
    /// The local day on which it began, where that is certain.
    pub day: Option<Date>,
    /// Run time.
    pub run: RunMillis,
    /// Edges.
    pub edges: u64,
}

/// A stretch of a session that is counted to one holder for one reason.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Part {
    /// To whom, and why.
    pub attribution: Attribution,
    /// The number of its first record.
    pub first: RecordSeq,
    /// The number of its last record.
    pub last: RecordSeq,
    /// Run time.
    pub run: RunMillis,
    /// Edges.
    pub edges: u64,
    /// Bursts.
    pub bursts: u64,
}

impl Session {
    /// Its bursts in the ledger.
    #[must_use]
    pub fn lines<'ledger>(&self, log: &'ledger LedgerLog<'_>) -> &'ledger [LedgerLine] {
        log.lines.get(self.lines.clone()).unwrap_or_default()
    }

    /// The first and last record of each stretch that no burst interrupts which does not count.
    #[must_use]
    pub fn stretches(&self, log: &LedgerLog<'_>) -> Vec<(RecordSeq, RecordSeq)> {
        let stretches = self.lines(log).chunk_by(is_next);
        stretches
            .filter_map(|stretch| Some((stretch.first()?.burst.first, stretch.last()?.burst.last)))
            .collect()
    }

    /// Its stretches by holder and reason, in order. No stretch reaches over a burst that does not count, so that whoever
    /// gives a stretch away gives nothing doubtful with it.
    #[must_use]
    pub fn parts(&self, log: &LedgerLog<'_>) -> Vec<Part> {
        self.lines(log)
            .chunk_by(|one, next| one.attribution == next.attribution && is_next(one, next))
            .filter_map(|stretch| {
                let (first, last) = (stretch.first()?, stretch.last()?);
                Some(Part {
                    attribution: first.attribution,
                    first: first.burst.first,
                    last: last.burst.last,
                    run: RunMillis(
                        stretch.iter().fold(0, |sum: u64, line| sum.saturating_add(line.burst.run.0)),
                    ),
                    edges: stretch.iter().fold(0, |sum: u64, line| sum.saturating_add(line.burst.edges)),
                    bursts: u64::try_from(stretch.len()).unwrap_or(u64::MAX),
                })
            })
            .collect()
    }
}

/// The bursts of a log follow each other without a gap in its segments.
fn is_next(one: &LedgerLine, next: &LedgerLine) -> bool {
    one.burst.to == next.burst.from
}

/// The sessions of one log, in order. `zone` decides on which day each belongs.
#[must_use]
pub fn of_log(log: &LedgerLog<'_>, zone: &TimeZone) -> Vec<Session> {
    let mut sessions: Vec<Session> = Vec::new();
    let mut before: Option<&LedgerLine> = None;
    for (index, line) in log.lines.iter().enumerate() {
        match sessions.last_mut() {
            Some(session) if before.is_some_and(|before| goes_on(log, before, line)) => {
                session.lines.end = index + 1;
                session.last = line.burst.last;
                session.run = RunMillis(session.run.0.saturating_add(line.burst.run.0));
                session.edges = session.edges.saturating_add(line.burst.edges);
            }
            _ => sessions.push(Session {
                log: log.facts.key,
                lines: index..index + 1,
                first: line.burst.first,
                last: line.burst.last,
                machine: line.machine,
                starts: line.when,
                ends: line.when,
                day: day_of(line.when, zone),
                run: line.burst.run,
                edges: line.burst.edges,
            }),
        }
        before = Some(line);
    }
    for session in &mut sessions {
        if let Some(last) = session.lines(log).last() {
            session.ends = log.timeline.when(last.burst.boot, last.burst.ends());
        }
    }
    sessions
}

fn goes_on(log: &LedgerLog<'_>, before: &LedgerLine, line: &LedgerLine) -> bool {
    if before.machine != line.machine {
        return false;
    }
    if before.burst.boot == line.burst.boot {
        return line.burst.at.0.saturating_sub(before.burst.ends().0) <= SESSION_GAP_MS;
    }
    let ended = log.timeline.when(before.burst.boot, before.burst.ends());
    let (When::Dated(ended), When::Dated(starts)) = (ended, line.when) else { return false };
    let gap = starts.0.saturating_sub(ended.0);
    u64::try_from(gap.saturating_add(CLOCKS_AGREE_WITHIN_MS)).is_ok() && gap <= SESSION_GAP_MS.cast_signed()
}

/// The local day of a moment; none where it may have been on two days.
#[must_use]
pub fn day_of(when: When, zone: &TimeZone) -> Option<Date> {
    let earliest = local_day(when.earliest()?, zone)?;
    let latest = local_day(when.latest()?, zone)?;
    (earliest == latest).then_some(earliest)
}

/// The local day at a known time; none outside the years that a calendar can name.
#[must_use]
pub fn local_day(at: UtcMillis, zone: &TimeZone) -> Option<Date> {
    let moment = jiff::Timestamp::from_millisecond(at.0).ok()?;
    Some(moment.to_zoned_datetime(zone.clone()).date())
}

pub mod attribution;
pub mod doubt;
pub mod doubtful_runs;
pub mod dry_run;
pub mod dry_run_check;
pub mod hands;
pub mod holder;
pub mod hours_at;
pub mod ledger;
pub mod lending;
pub mod session_list;
#[cfg(test)]
#[path = "sessions_tests.rs"]
mod tests;
pub mod typed;
pub mod typed_doubts;
