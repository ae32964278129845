//! What had been counted on a machine at a moment gone by, from the records.
//!
//! A run whose date is exact is before the moment or after it; one through which the moment falls is looked at segment by
//! segment. What may have been on either side makes the reading a range.

use shared_types::{MachineTag, RecordSeq, RunMillis, Totals, UtcMillis};

use super::ledger::{Ledger, LedgerLine, LedgerLog};
use crate::entries::{MeterReading, ReadingSource};
use crate::records::log_records::LogKey;
use crate::records::not_recorded::{self, Gap};
use crate::records::timeline::HeardAt;
use crate::records::when::When;
use crate::studio::Studio;

/// The reading of a machine at a moment. `heard` tells when loggers were heard, which is how far the records reach.
#[must_use]
pub fn hours_at(
    studio: &Studio,
    ledger: &Ledger<'_>,
    heard: &[HeardAt],
    machine: MachineTag,
    at: UtcMillis,
) -> MeterReading {
    let fitted = |log: &&LedgerLog<'_>| studio.fittings.machines_of(log.facts.key).contains(&machine);
    let logs: Vec<&LedgerLog<'_>> = ledger.logs.iter().filter(fitted).collect();
    if logs.is_empty() {
        return MeterReading { source: ReadingSource::NotKnown, ..MeterReading::default() };
    }
    let mut sum = Between::default();
    for log in &logs {
        // A reading is what the logger counted, whatever it was.
        log.every_line()
            .filter(|line| line.machine == Some(machine))
            .for_each(|line| sum.burst(log, line, at));
        sum.losses(studio, log, heard, machine, at);
    }
    let reaches = |log: &LedgerLog<'_>| {
        studio.fittings.machine_now(log.facts.key) != Some(machine)
            || last_heard(heard, log.facts.key).is_some_and(|last| last >= at)
            || log.lines.last().and_then(|line| line.when.earliest()).is_some_and(|last| last >= at)
    };
    let source =
        if logs.iter().all(|log| reaches(log)) { ReadingSource::Log } else { ReadingSource::LogSoFar };
    let ratio = studio.ratio(Some(machine));
    let [least, most] = [sum.least, sum.least.plus(sum.perhaps.run, sum.perhaps.edges)];
    let strokes = |totals: Totals| ratio.strokes(totals.edges.0);
    let is_range = least != most;
    MeterReading {
        run: Some(least.run),
        strokes: Some(strokes(least)),
        run_at_most: is_range.then_some(most.run),
        strokes_at_most: is_range.then(|| strokes(most)),
        source,
    }
}

/// When a log was last heard.
#[must_use]
pub fn last_heard(heard: &[HeardAt], key: LogKey) -> Option<UtcMillis> {
    heard.iter().filter(|one| one.log == key).map(|one| one.at).max()
}

/// On which side of a moment something was.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Side {
    Before,
    After,
    Either,
}

impl Side {
    /// `starts` is none where the start has no earliest moment, `ends` where the end has no latest one.
    fn of(starts: Option<UtcMillis>, ends: Option<UtcMillis>, at: UtcMillis) -> Self {
        if ends.is_some_and(|ends| ends <= at) {
            Self::Before
        } else if starts.is_some_and(|starts| starts >= at) {
            Self::After
        } else {
            Self::Either
        }
    }
}

/// What was surely before the moment, and what may have been.
#[derive(Clone, Copy, Debug, Default)]
struct Between {
    least: Totals,
    perhaps: Totals,
}

impl Between {
    fn add(&mut self, side: Side, run: RunMillis, edges: shared_types::Edges) {
        match side {
            Side::Before => self.least = self.least.plus(run, edges),
            Side::Either => self.perhaps = self.perhaps.plus(run, edges),
            Side::After => {}
        }
    }

    fn burst(&mut self, log: &LedgerLog<'_>, line: &LedgerLine, at: UtcMillis) {
        let burst = &line.burst;
        let ends = log.timeline.when(burst.boot, burst.ends());
        let side = Side::of(line.when.earliest(), ends.latest(), at);
        if side != Side::Either {
            self.add(side, burst.run, shared_types::Edges(burst.edges));
            return;
        }
        for segment in burst.segments(&log.facts.segments) {
            let start = log.timeline.when(segment.boot, segment.at);
            let end = shared_types::UptimeMillis(segment.at.0.saturating_add(segment.run.0));
            let end = log.timeline.when(segment.boot, end);
            let side = Side::of(start.earliest(), end.latest(), at);
            self.add(side, segment.run, shared_types::Edges(segment.edges.into()));
        }
    }

    /// What was counted without a record, placed between the readings of the totals around it.
    fn losses(
        &mut self,
        studio: &Studio,
        log: &LedgerLog<'_>,
        heard: &[HeardAt],
        machine: MachineTag,
        at: UtcMillis,
    ) {
        let here = |of: Option<MachineTag>| of == Some(machine);
        let lost =
            not_recorded::of_log(log.facts, &studio.fittings).into_iter().filter(|loss| here(loss.machine));
        let lost = lost.fold(Totals::default(), |sum, loss| sum.plus(loss.run, loss.edges));
        let gaps =
            not_recorded::gaps(log.facts, &studio.fittings).into_iter().filter(|gap| here(gap.machine));
        let gaps: Vec<Gap> = gaps.collect();
        let placed = gaps.iter().fold(Totals::default(), |sum, gap| sum.plus(gap.lost.run, gap.lost.edges));
        if placed != lost {
            // The readings of the totals do not fit together; nothing tells when the loss was.
            self.add(Side::Either, lost.run, lost.edges);
            return;
        }
        for gap in gaps {
            let event = |seq: RecordSeq| log.facts.events.iter().find(|event| event.seq == seq);
            let when = |seq| event(seq).map(|event| log.timeline.when(event.boot, event.at));
            let starts = when(gap.from).and_then(When::earliest);
            let ends = match gap.until {
                RecordSeq(u32::MAX) => last_heard(heard, log.facts.key),
                until => when(until).and_then(When::latest),
            };
            self.add(Side::of(starts, ends, at), gap.lost.run, gap.lost.edges);
        }
    }
}

#[cfg(test)]
mod tests {
    use shared_types::log::ClockSource::Host;
    use shared_types::{Edges, LogId, LoggerId};

    use super::*;
    use crate::entries::{EntryBody, Fitting};
    use crate::records::log_records::LogRecords;
    use crate::test_facts::{
        HOUR, LOG, MINUTE, MONDAY_8, anchor, empty_log, entries, fitted, machine, segment, started,
    };

    fn reading(said: &[EntryBody], logs: &[LogRecords], heard: &[HeardAt], at: i64) -> MeterReading {
        let studio = Studio::of(&entries(said.to_vec()));
        let ledger = Ledger::of_heard(&studio, logs, heard);
        hours_at(&studio, &ledger, heard, MachineTag(1), UtcMillis(at))
    }

    fn heard(at: i64) -> HeardAt {
        HeardAt { log: LOG, next: RecordSeq(100), at: UtcMillis(at) }
    }

    /// Dated from Monday at eight on: ten minutes from 8:10, of two segments of five; ten minutes from 9:00.
    fn dated() -> LogRecords {
        let five = 300_000;
        let second = shared_types::UptimeMillis(900_000);
        let mut segments = vec![segment(2, 1, 600_000, five, 3_000), segment(3, 1, 900_000, five, 3_000)];
        segments[1].continues = true;
        assert_eq!(segments[1].at, second);
        segments.push(segment(4, 1, 3_600_000, 600_000, 7_000));
        let last_totals = Totals { run: RunMillis(1_200_000), edges: Edges(13_000) };
        LogRecords { events: vec![anchor(1, 1, 0, MONDAY_8, Host)], segments, last_totals, ..empty_log() }
    }

    fn exactly(run_ms: u64, strokes: u64, source: ReadingSource) -> MeterReading {
        MeterReading {
            run: Some(RunMillis(run_ms)),
            strokes: Some(strokes),
            run_at_most: None,
            strokes_at_most: None,
            source,
        }
    }

    #[test]
    fn a_moment_between_dated_runs_has_an_exact_reading_that_later_running_does_not_change() {
        let said = [machine(1), fitted(1, 0)];
        let of =
            |minute| reading(&said, &[dated()], &[heard(MONDAY_8 + 2 * HOUR)], MONDAY_8 + minute * MINUTE);
        assert_eq!(of(-60), exactly(0, 0, ReadingSource::Log));
        assert_eq!(of(10), exactly(0, 0, ReadingSource::Log));
        assert_eq!(of(20), exactly(600_000, 6_000, ReadingSource::Log));
        assert_eq!(of(70), exactly(1_200_000, 13_000, ReadingSource::Log));
        assert_eq!(of(121), exactly(1_200_000, 13_000, ReadingSource::LogSoFar), "heard before that");
    }

    #[test]
    fn a_moment_within_a_run_is_known_to_the_segment() {
        let said = [machine(1), fitted(1, 0)];
        let found = reading(&said, &[dated()], &[heard(MONDAY_8 + 2 * HOUR)], MONDAY_8 + 17 * MINUTE);
        // 8:17 lies in the second five minutes of the first run.
        assert_eq!((found.run, found.run_at_most), (Some(RunMillis(300_000)), Some(RunMillis(600_000))));
        assert_eq!((found.strokes, found.strokes_at_most), (Some(3_000), Some(6_000)));
    }

    #[test]
    fn running_of_uncertain_date_makes_a_range() {
        // Boot 2 lies between the clock readings of boots 1 and 3.
        let mut log = dated();
        log.segments.push(segment(20, 2, 0, 60_000, 500));
        log.events.push(anchor(30, 3, 0, MONDAY_8 + 8 * HOUR, Host));
        log.last_totals = Totals { run: RunMillis(1_260_000), edges: Edges(13_500) };
        let said = [machine(1), fitted(1, 0)];
        let of = |hour| {
            reading(&said, std::slice::from_ref(&log), &[heard(MONDAY_8 + 9 * HOUR)], MONDAY_8 + hour * HOUR)
        };
        assert_eq!((of(4).run, of(4).run_at_most), (Some(RunMillis(1_200_000)), Some(RunMillis(1_260_000))));
        assert_eq!(of(9), exactly(1_260_000, 13_500, ReadingSource::Log));
    }

    #[test]
    fn what_was_lost_between_two_starts_counts_by_then() {
        // 50 s and 400 edges were counted before the second start, at ten, without a record.
        let mut log = dated();
        log.events.extend([started(10, 2, 1_250_000, 13_400), anchor(11, 2, 0, MONDAY_8 + 2 * HOUR, Host)]);
        log.last_totals = Totals { run: RunMillis(1_250_000), edges: Edges(13_400) };
        let said = [machine(1), fitted(1, 0)];
        let of = |hour| {
            reading(&said, std::slice::from_ref(&log), &[heard(MONDAY_8 + 9 * HOUR)], MONDAY_8 + hour * HOUR)
        };
        assert_eq!(of(3), exactly(1_250_000, 13_400, ReadingSource::Log));
        let before =
            reading(&said, std::slice::from_ref(&log), &[heard(MONDAY_8 + 9 * HOUR)], MONDAY_8 + 90 * MINUTE);
        assert_eq!(
            (before.run, before.run_at_most),
            (Some(RunMillis(1_200_000)), Some(RunMillis(1_250_000)))
        );
    }

    #[test]
    fn only_what_ran_on_that_machine_counts_and_without_a_logger_nothing_is_known() {
        let fitting = |tag, from| {
            EntryBody::LoggerFitted(Fitting {
                machine: MachineTag(tag),
                logger: LoggerId(0xA1),
                log: LogId(0xB2),
                from: RecordSeq(from),
            })
        };
        let said = [machine(1), machine(2), fitting(1, 0), fitting(2, 4)];
        let found = reading(&said, &[dated()], &[heard(MONDAY_8 + 9 * HOUR)], MONDAY_8 + 5 * HOUR);
        assert_eq!(found, exactly(600_000, 6_000, ReadingSource::Log));
        let found = reading(&[machine(1)], &[dated()], &[heard(MONDAY_8 + 9 * HOUR)], MONDAY_8 + 5 * HOUR);
        assert_eq!((found.run, found.source), (None, ReadingSource::NotKnown));
    }
}
