//! Running between two moments that the maker dated, with limits where a burst has no date of its own.

use shared_types::{RunMillis, UtcMillis};

use crate::care::history::{History, Moment, RunPiece};
use crate::stats::hours;

/// Run hours are known well enough for statistics when their limits lie no farther apart than this share of the middle: one
/// step of the staircase.
pub const KNOWN_WITHIN: f64 = 0.25;

/// Run time between two moments.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct RunRange {
    /// Certainly so much, in milliseconds.
    pub at_least_ms: u64,
    /// Possibly so much, in milliseconds.
    pub at_most_ms: u64,
}

impl RunRange {
    /// The lower limit in hours.
    #[must_use]
    pub fn at_least_hours(self) -> f64 {
        hours(self.at_least_ms)
    }

    /// The upper limit in hours.
    #[must_use]
    pub fn at_most_hours(self) -> f64 {
        hours(self.at_most_ms)
    }

    /// The middle between the limits, in hours.
    #[must_use]
    pub fn middle_hours(self) -> f64 {
        f64::midpoint(self.at_least_hours(), self.at_most_hours())
    }

    /// Whether the middle may stand for the hours.
    #[must_use]
    pub fn is_known(self) -> bool {
        self.at_most_hours() - self.at_least_hours() <= KNOWN_WITHIN * self.middle_hours()
    }

    /// Both parts of a life added.
    #[must_use]
    pub const fn plus(self, other: Self) -> Self {
        Self {
            at_least_ms: self.at_least_ms.saturating_add(other.at_least_ms),
            at_most_ms: self.at_most_ms.saturating_add(other.at_most_ms),
        }
    }
}

/// Measures running between moments. Losses and bursts without a date are weighed one by one: what may lie after the first
/// moment and before the second counts as possible, what must, as certain.
#[derive(Clone, Debug)]
pub struct RunMeter {
    dated: DatedRuns,
    undated: Vec<History>,
}

impl RunMeter {
    /// Sorts a machine's running.
    #[must_use]
    pub fn of(history: &History) -> Self {
        let (dated, undated): (Vec<RunPiece>, Vec<RunPiece>) = history.pieces.iter().partition(|piece| {
            piece.is_recorded && piece.earliest.is_some() && piece.earliest == piece.latest
        });
        let alone = |piece| History { pieces: vec![piece], ..History::default() };
        let dated = dated.iter().filter_map(|piece| piece.earliest.map(|start| (start, piece.run)));
        Self {
            dated: DatedRuns::of(dated, &history.by_hand),
            undated: undated.into_iter().map(alone).collect(),
        }
    }

    /// Running after `from` and before `to`; hours written by hand count where they were written for.
    #[must_use]
    pub fn between(&self, from: UtcMillis, to: UtcMillis) -> RunRange {
        let sure = self.dated.after_ms(from).saturating_sub(self.dated.after_ms(to));
        let mut range = RunRange { at_least_ms: sure, at_most_ms: sure };
        for piece in &self.undated {
            let (early, late) = (piece.run_since(Moment::dated(from)), piece.run_since(Moment::dated(to)));
            range = range.plus(RunRange {
                at_least_ms: early.at_least_ms.saturating_sub(late.at_most_ms),
                at_most_ms: early.at_most_ms.saturating_sub(late.at_least_ms),
            });
        }
        range
    }

    /// All running before a moment, from the first record on.
    #[must_use]
    pub fn until(&self, to: UtcMillis) -> RunRange {
        let sure = self.dated.after_ms(UtcMillis(i64::MIN)).saturating_sub(self.dated.after_ms(to));
        let mut range = RunRange { at_least_ms: sure, at_most_ms: sure };
        for piece in &self.undated {
            let (all, late) = (piece.run_ever().at_most_ms, piece.run_since(Moment::dated(to)));
            range = range.plus(RunRange {
                at_least_ms: all.saturating_sub(late.at_most_ms),
                at_most_ms: all.saturating_sub(late.at_least_ms),
            });
        }
        range
    }
}

/// Dated bursts and hours written by hand, in the order of their starts.
#[derive(Clone, Debug)]
struct DatedRuns {
    runs: Vec<DatedRun>,
}

#[derive(Clone, Copy, Debug)]
struct DatedRun {
    start: i64,
    run: RunMillis,
    /// Hours written by hand have a moment and no span: they are after it or they are not.
    is_by_hand: bool,
    /// The latest end of this run and all before it.
    ended: i64,
    /// Run time of this run and all after it.
    from_here_ms: u64,
}

impl DatedRuns {
    fn of(bursts: impl Iterator<Item = (UtcMillis, RunMillis)>, by_hand: &[(UtcMillis, RunMillis)]) -> Self {
        let run = |is_by_hand| {
            move |(start, run): (UtcMillis, RunMillis)| DatedRun {
                start: start.0,
                run,
                is_by_hand,
                ended: start.0,
                from_here_ms: 0,
            }
        };
        let mut runs: Vec<DatedRun> = bursts.map(run(false)).collect();
        runs.extend(by_hand.iter().copied().map(run(true)));
        runs.sort_by_key(|run| run.start);
        let mut ended = i64::MIN;
        for run in &mut runs {
            let span = if run.is_by_hand { 0 } else { i64::try_from(run.run.0).unwrap_or(i64::MAX) };
            ended = ended.max(run.start.saturating_add(span));
            run.ended = ended;
        }
        let mut from_here_ms: u64 = 0;
        for run in runs.iter_mut().rev() {
            from_here_ms = from_here_ms.saturating_add(run.run.0);
            run.from_here_ms = from_here_ms;
        }
        Self { runs }
    }

    /// Run time after a moment, in milliseconds; only runs that may reach over it are looked at one by one.
    fn after_ms(&self, moment: UtcMillis) -> u64 {
        let later = self.runs.partition_point(|run| run.start <= moment.0);
        let whole = self.runs.get(later).map_or(0, |run| run.from_here_ms);
        let before = self.runs.get(..later).unwrap_or_default().iter().rev();
        before.take_while(|run| run.ended > moment.0).filter(|run| !run.is_by_hand).fold(whole, |sum, run| {
            let gone = u64::try_from(moment.0.saturating_sub(run.start)).unwrap_or(u64::MAX);
            sum.saturating_add(run.run.0.saturating_sub(gone))
        })
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::care::history::Place;
    use crate::records::log_records::LogKey;
    use crate::stats::HOUR_MS;
    use shared_types::{BootId, LogId, LoggerId, RecordSeq, UptimeMillis};

    const HOUR: i64 = 3_600_000;

    fn piece(seq: u32, earliest: Option<i64>, latest: Option<i64>, hours: u64) -> RunPiece {
        let log = LogKey { logger: LoggerId(1), log: LogId(1) };
        RunPiece {
            place: Place { log, seq: RecordSeq(seq), boot: BootId(seq), at: UptimeMillis(0) },
            until: RecordSeq(seq),
            earliest: earliest.map(|at| UtcMillis(at * HOUR)),
            latest: latest.map(|at| UtcMillis(at * HOUR)),
            run: RunMillis(hours * HOUR_MS),
            edges: 0,
            is_recorded: true,
        }
    }

    fn at(hour: i64) -> UtcMillis {
        UtcMillis(hour * HOUR)
    }

    #[test]
    fn dated_running_between_two_moments_is_exact() {
        let pieces = vec![piece(1, Some(10), Some(10), 2), piece(2, Some(20), Some(20), 3)];
        let meter = RunMeter::of(&History { pieces, ..History::default() });
        // The first moment lies inside the first burst: one of its two hours is after it.
        let range = meter.between(at(11), at(30));
        assert_eq!((range.at_least_hours(), range.at_most_hours(), range.is_known()), (4.0, 4.0, true));
        assert_eq!(meter.between(at(11), at(15)).middle_hours(), 1.0);
        assert_eq!(meter.until(at(21)).middle_hours(), 3.0);
    }

    #[test]
    fn an_undated_burst_widens_only_the_times_in_which_it_may_lie() {
        let pieces = vec![
            piece(1, Some(10), Some(10), 8),
            piece(2, Some(19), Some(40), 1),
            piece(3, Some(50), Some(50), 4),
        ];
        let meter = RunMeter::of(&History { pieces, ..History::default() });
        let hours = |from, to| {
            let range = meter.between(at(from), at(to));
            (range.at_least_hours(), range.at_most_hours())
        };
        assert_eq!(hours(5, 30), (8.0, 9.0));
        assert_eq!(hours(5, 45), (9.0, 9.0));
        assert_eq!(hours(30, 60), (4.0, 5.0));
        // One hour of doubt in half an hour to one and a half is too much, in eight to nine it is not.
        assert!(meter.between(at(5), at(30)).is_known());
        assert!(!meter.between(at(18), at(30)).is_known());
    }

    #[test]
    fn hours_written_by_hand_count_between_the_moments() {
        let by_hand = vec![(UtcMillis(12 * HOUR), RunMillis(2 * HOUR_MS))];
        let meter = RunMeter::of(&History { by_hand, ..History::default() });
        assert_eq!(meter.between(at(10), at(20)).middle_hours(), 2.0);
        assert_eq!(meter.between(at(13), at(20)).middle_hours(), 0.0);
        assert_eq!(meter.until(at(13)).middle_hours(), 2.0);
    }

    proptest! {
        #[test]
        fn sums_give_what_each_burst_by_itself_gives(
            bursts in prop::collection::vec((0i64..60, 0u64..9), 0..40),
            by_hand in prop::collection::vec((0i64..60, 0u64..9), 0..9),
            moment in 0i64..70,
        ) {
            let pieces = (1..).zip(&bursts).map(|(seq, (start, hours))| piece(seq, Some(*start), Some(*start), *hours));
            let by_hand = by_hand.iter().map(|(start, hours)| (at(*start), RunMillis(hours * HOUR_MS)));
            let history = History { pieces: pieces.collect(), by_hand: by_hand.collect(), ..History::default() };
            let one_by_one = history.run_since(Moment::dated(at(moment))).cautious_ms();
            prop_assert_eq!(RunMeter::of(&history).dated.after_ms(at(moment)), one_by_one);
        }
    }
}
