//! Running between two moments that the maker dated, with limits where a burst has no date of its own.

use shared_types::{RunMillis, UtcMillis};

use crate::care::history::History;
use crate::care::run_pieces::RunPiece;
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

/// Measures running between moments, with sums over all that begins after one. Of losses and bursts without a date, what may
/// lie after the first moment and before the second counts as possible, what must, as certain.
#[derive(Clone, Debug)]
pub struct RunMeter {
    /// Dated bursts and hours written by hand.
    dated: Runs,
    /// Others whose beginning has an earliest moment, each where it lies if it began then.
    earliest: Runs,
    /// The same, each where it lies if it began as late as it can.
    latest: Runs,
    /// What may have begun at any time, where it lies if it began as late as it can.
    ever: Runs,
    undated: Vec<Undated>,
}

/// A burst or loss without a date of its own.
#[derive(Clone, Copy, Debug)]
struct Undated {
    earliest: Run,
    latest: Run,
    /// The latest end of this one and all before it.
    ended: i64,
}

impl RunMeter {
    /// Sorts a machine's running.
    #[must_use]
    pub fn of(history: &History) -> Self {
        let (dated, undated): (Vec<&RunPiece>, Vec<&RunPiece>) = history.pieces.iter().partition(|piece| {
            piece.is_recorded && piece.earliest.is_some() && piece.earliest == piece.latest
        });
        let dated = dated.iter().filter_map(|piece| piece.earliest.map(|start| Run::new(start, piece.run)));
        let by_hand = history.by_hand.iter().map(|(at, run)| Run::at_once(*at, *run));
        let (mut undated, ever): (Vec<Undated>, Vec<Undated>) =
            undated.into_iter().map(Undated::of).partition(|one| one.earliest.start > i64::MIN);
        undated.sort_by_key(|one| one.earliest.start);
        let mut ended = i64::MIN;
        for one in &mut undated {
            ended = ended.max(one.latest.end());
            one.ended = ended;
        }
        Self {
            dated: Runs::of(dated.chain(by_hand)),
            earliest: Runs::of(undated.iter().map(|one| one.earliest)),
            latest: Runs::of(undated.iter().map(|one| one.latest)),
            ever: Runs::of(ever.iter().map(|one| one.latest)),
            undated,
        }
    }

    /// Running after `from` and before `to`; hours written by hand count where they were written for.
    #[must_use]
    pub fn between(&self, from: UtcMillis, to: UtcMillis) -> RunRange {
        let sure = self.dated.after_ms(from).saturating_sub(self.dated.after_ms(to));
        let at_least = self.earliest.after_ms(from).saturating_add(self.less_than_none_ms(from, to));
        let at_most = self.latest.after_ms(from).saturating_sub(self.earliest.after_ms(to));
        let at_most = at_most.saturating_add(self.ever.after_ms(from));
        RunRange {
            at_least_ms: sure.saturating_add(at_least.saturating_sub(self.latest.after_ms(to))),
            at_most_ms: sure.saturating_add(at_most),
        }
    }

    /// All running before a moment, from the first record on.
    #[must_use]
    pub fn until(&self, to: UtcMillis) -> RunRange {
        let before = |runs: &Runs| runs.all_ms().saturating_sub(runs.after_ms(to));
        let sure = before(&self.dated);
        RunRange {
            at_least_ms: sure.saturating_add(before(&self.latest)).saturating_add(before(&self.ever)),
            at_most_ms: sure.saturating_add(before(&self.earliest)).saturating_add(self.ever.all_ms()),
        }
    }

    /// How much more may lie after `to` than must lie after `from`, of what may lie on both sides of the time between them:
    /// each of these has at least nothing between them, not less.
    fn less_than_none_ms(&self, from: UtcMillis, to: UtcMillis) -> u64 {
        let begun = self.undated.partition_point(|one| one.earliest.start < from.0);
        let before = self.undated.get(..begun).unwrap_or_default().iter().rev();
        before
            .take_while(|one| one.ended > to.0)
            .map(|one| one.latest.after_ms(to).saturating_sub(one.earliest.after_ms(from)))
            .fold(0, u64::saturating_add)
    }
}

impl Undated {
    fn of(piece: &RunPiece) -> Self {
        let earliest = piece.earliest.unwrap_or(UtcMillis(i64::MIN));
        let latest = piece.latest.unwrap_or(UtcMillis(i64::MAX));
        // Of a loss only the limits are known, not that it was continuous: it counts as a whole or not at all. What begins at
        // a moment is after it.
        let (earliest, latest) = if piece.is_recorded {
            (Run::new(earliest, piece.run), Run::new(latest, piece.run))
        } else {
            let from_there = UtcMillis(earliest.0.saturating_add(i64::from(piece.earliest.is_some())));
            (Run::at_once(from_there, piece.run), Run::at_once(latest, piece.run))
        };
        Self { earliest, latest, ended: i64::MIN }
    }
}

/// Run time that begins at a moment.
#[derive(Clone, Copy, Debug)]
struct Run {
    start: i64,
    run: RunMillis,
    /// It has no span: it is after a moment or it is not.
    is_at_once: bool,
}

impl Run {
    const fn new(start: UtcMillis, run: RunMillis) -> Self {
        Self { start: start.0, run, is_at_once: false }
    }

    const fn at_once(start: UtcMillis, run: RunMillis) -> Self {
        Self { start: start.0, run, is_at_once: true }
    }

    fn end(&self) -> i64 {
        let span = if self.is_at_once { 0 } else { i64::try_from(self.run.0).unwrap_or(i64::MAX) };
        self.start.saturating_add(span)
    }

    fn after_ms(&self, moment: UtcMillis) -> u64 {
        if self.start > moment.0 {
            return self.run.0;
        }
        let rest = u64::try_from(self.end().saturating_sub(moment.0)).unwrap_or(0);
        if self.is_at_once { 0 } else { rest.min(self.run.0) }
    }
}

/// Runs in the order of their starts.
#[derive(Clone, Debug)]
struct Runs {
    runs: Vec<SummedRun>,
}

#[derive(Clone, Copy, Debug)]
struct SummedRun {
    run: Run,
    /// The latest end of this run and all before it.
    ended: i64,
    /// Run time of this run and all after it.
    from_here_ms: u64,
}

impl Runs {
    fn of(runs: impl Iterator<Item = Run>) -> Self {
        let mut runs: Vec<SummedRun> =
            runs.map(|run| SummedRun { run, ended: run.end(), from_here_ms: 0 }).collect();
        runs.sort_by_key(|one| one.run.start);
        let mut ended = i64::MIN;
        for one in &mut runs {
            ended = ended.max(one.ended);
            one.ended = ended;
        }
        let mut from_here_ms: u64 = 0;
        for one in runs.iter_mut().rev() {
            from_here_ms = from_here_ms.saturating_add(one.run.run.0);
            one.from_here_ms = from_here_ms;
        }
        Self { runs }
    }

    fn all_ms(&self) -> u64 {
        self.runs.first().map_or(0, |first| first.from_here_ms)
    }

    /// Run time after a moment, in milliseconds; only runs that may reach over it are looked at one by one.
    fn after_ms(&self, moment: UtcMillis) -> u64 {
        let later = self.runs.partition_point(|one| one.run.start <= moment.0);
        let whole = self.runs.get(later).map_or(0, |one| one.from_here_ms);
        let before = self.runs.get(..later).unwrap_or_default().iter().rev();
        before
            .take_while(|one| one.ended > moment.0)
            .fold(whole, |sum, one| sum.saturating_add(one.run.after_ms(moment)))
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::care::run_pieces::{Moment, Place, RunPieces};
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
        let meter = RunMeter::of(&History { pieces: RunPieces::of(pieces), ..History::default() });
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
        let meter = RunMeter::of(&History { pieces: RunPieces::of(pieces), ..History::default() });
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

    /// The definition, each burst and loss by itself.
    fn one_by_one(history: &History, from: UtcMillis, to: UtcMillis) -> (u64, u64) {
        let written = history.by_hand.iter().filter(|(at, _)| *at > from && *at <= to);
        let by_hand: u64 = written.map(|(_, run)| run.0).sum();
        let alone = |piece: &RunPiece| {
            let history = History { pieces: RunPieces::of(vec![*piece]), ..History::default() };
            let (early, late) =
                (history.run_since(Moment::dated(from)), history.run_since(Moment::dated(to)));
            (
                early.at_least_ms.saturating_sub(late.at_most_ms),
                early.at_most_ms.saturating_sub(late.at_least_ms),
            )
        };
        let ranges = history.pieces.iter().map(alone);
        ranges.fold((by_hand, by_hand), |(least, most), (one, other)| (least + one, most + other))
    }

    proptest! {
        #[test]
        fn sums_give_what_each_burst_by_itself_gives(
            pieces in prop::collection::vec(
                (prop::option::of(0i64..60), prop::option::of(0i64..30), 0u64..9, prop::bool::weighted(0.8)), 0..40
            ),
            by_hand in prop::collection::vec((0i64..60, 0u64..9), 0..9),
            from in 0i64..70,
            passed in 0i64..40,
        ) {
            let pieces = (1..).zip(&pieces).map(|(seq, &(earliest, width, hours, is_recorded))| {
                let latest = width.map(|width| earliest.unwrap_or(20) + width);
                RunPiece { is_recorded, ..piece(seq, earliest, latest, hours) }
            });
            let by_hand = by_hand.iter().map(|(start, hours)| (at(*start), RunMillis(hours * HOUR_MS)));
            let pieces = RunPieces::of(pieces.collect());
            let history = History { pieces, by_hand: by_hand.collect(), ..History::default() };
            let meter = RunMeter::of(&history);
            let range = meter.between(at(from), at(from + passed));
            let expected = one_by_one(&history, at(from), at(from + passed));
            prop_assert_eq!((range.at_least_ms, range.at_most_ms), expected);
            let until = meter.until(at(from));
            let (ever, after) = (history.run_ever(), history.run_since(Moment::dated(at(from))));
            let sure = ever.at_most_ms + ever.by_hand_ms - after.by_hand_ms;
            let expected = (sure - after.at_most_ms, sure - after.at_least_ms);
            prop_assert_eq!((until.at_least_ms, until.at_most_ms), expected);
        }
    }
}
