//! Running between two moments that the maker dated, with limits where a burst has no date of its own.

use crate::care::history::{History, Moment};
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
    dated: History,
    undated: Vec<History>,
}

impl RunMeter {
    /// Sorts a machine's running.
    #[must_use]
    pub fn of(history: &History) -> Self {
        let (dated, undated) = history.pieces.iter().partition(|piece| {
            piece.is_recorded && piece.earliest.is_some() && piece.earliest == piece.latest
        });
        let alone = |piece| History { pieces: vec![piece], ..History::default() };
        let undated: Vec<_> = undated;
        Self {
            dated: History { pieces: dated, by_hand: history.by_hand.clone(), ..History::default() },
            undated: undated.into_iter().map(alone).collect(),
        }
    }

    /// Running after `from` and before `to`; hours written by hand count where they were written for.
    #[must_use]
    pub fn between(&self, from: Moment, to: Moment) -> RunRange {
        let (early, late) = (self.dated.run_since(from), self.dated.run_since(to));
        let sure = early.cautious_ms().saturating_sub(late.cautious_ms());
        let mut range = RunRange { at_least_ms: sure, at_most_ms: sure };
        for piece in &self.undated {
            let (early, late) = (piece.run_since(from), piece.run_since(to));
            range = range.plus(RunRange {
                at_least_ms: early.at_least_ms.saturating_sub(late.at_most_ms),
                at_most_ms: early.at_most_ms.saturating_sub(late.at_least_ms),
            });
        }
        range
    }

    /// All running before a moment, from the first record on.
    #[must_use]
    pub fn until(&self, to: Moment) -> RunRange {
        let late = self.dated.run_since(to);
        let sure = self.dated.run_ever().cautious_ms().saturating_sub(late.cautious_ms());
        let mut range = RunRange { at_least_ms: sure, at_most_ms: sure };
        for piece in &self.undated {
            let (all, late) = (piece.run_ever().at_most_ms, piece.run_since(to));
            range = range.plus(RunRange {
                at_least_ms: all.saturating_sub(late.at_most_ms),
                at_most_ms: all.saturating_sub(late.at_least_ms),
            });
        }
        range
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::care::history::{Place, RunPiece};
    use crate::records::log_records::LogKey;
    use crate::stats::HOUR_MS;
    use shared_types::{BootId, LogId, LoggerId, RecordSeq, RunMillis, UptimeMillis, UtcMillis};

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

    fn at(hour: i64) -> Moment {
        Moment::dated(UtcMillis(hour * HOUR))
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
}
