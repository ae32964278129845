//! Stretches of running and losses of it, each beside a moment: how much of it lies after the moment.

use std::ops::Deref;

use shared_types::{BootId, RecordSeq, RunMillis, UptimeMillis, UtcMillis};

use crate::records::log_records::LogKey;
use crate::records::when::When;

/// A place in a log's order.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Place {
    /// The log.
    pub log: LogKey,
    /// The record.
    pub seq: RecordSeq,
    /// Its boot.
    pub boot: BootId,
    /// Its uptime.
    pub at: UptimeMillis,
}

/// A moment from which run time is counted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Moment {
    /// Its date, as far as known.
    pub when: When,
    /// Its place in a log, for a press.
    pub place: Option<Place>,
}

impl Moment {
    /// A moment that was entered with its date.
    #[must_use]
    pub const fn dated(at: UtcMillis) -> Self {
        Self { when: When::Dated(at), place: None }
    }
}

/// A stretch of running, or a loss of it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct RunPiece {
    /// Where it begins in its log; of a loss, the record before it.
    pub place: Place,
    /// The record before which it was over; for a burst its own.
    pub until: RecordSeq,
    /// The first moment at which it can have begun.
    pub earliest: Option<UtcMillis>,
    /// The last moment at which it can have begun.
    pub latest: Option<UtcMillis>,
    /// How much.
    pub run: RunMillis,
    /// Edges in it.
    pub edges: u64,
    /// Whether records tell of it; otherwise only the logger's totals do.
    pub is_recorded: bool,
}

impl RunPiece {
    /// At least and at most so many milliseconds of it lie after a moment.
    #[must_use]
    pub fn after(&self, moment: Moment) -> (u64, u64) {
        match moment.place {
            Some(place) if place.log == self.place.log => self.after_place(place),
            _ => self.after_date(moment.when),
        }
    }

    fn after_place(&self, press: Place) -> (u64, u64) {
        if !self.is_recorded {
            return match (press.seq <= self.place.seq, press.seq >= self.until) {
                (true, _) => (self.run.0, self.run.0),
                (_, true) => (0, 0),
                _ => (0, self.run.0),
            };
        }
        if press.boot != self.place.boot {
            let all = if self.place.boot > press.boot { self.run.0 } else { 0 };
            return (all, all);
        }
        let end = self.place.at.0.saturating_add(self.run.0);
        let after = end.saturating_sub(press.at.0).min(self.run.0);
        (after, after)
    }

    fn after_date(&self, moment: When) -> (u64, u64) {
        let run = i64::try_from(self.run.0).unwrap_or(i64::MAX);
        let part = |start: Option<UtcMillis>, moment: Option<UtcMillis>, unknown: u64| match (start, moment) {
            (Some(start), Some(moment)) => {
                let after = start.0.saturating_add(run).saturating_sub(moment.0).clamp(0, run);
                u64::try_from(after).unwrap_or(0)
            }
            _ => unknown,
        };
        if self.is_recorded {
            return (
                part(self.earliest, moment.latest(), 0),
                part(self.latest, moment.earliest(), self.run.0),
            );
        }
        // Of a loss only the limits are known, not that it was continuous: it counts as a whole or not at all.
        let whole = |is_after: bool| if is_after { self.run.0 } else { 0 };
        let certain = self.earliest.zip(moment.latest()).is_some_and(|(start, moment)| start >= moment);
        let possible = self.latest.zip(moment.earliest()).is_none_or(|(end, moment)| end > moment);
        (whole(certain), whole(possible))
    }

    /// Whether it may begin after a moment.
    #[must_use]
    pub fn may_begin_after(&self, moment: Moment) -> bool {
        match moment.place {
            Some(place) if place.log == self.place.log => {
                (self.place.boot, self.place.at) >= (place.boot, place.at)
            }
            _ => self.latest.zip(moment.when.earliest()).is_none_or(|(start, moment)| start > moment),
        }
    }
}

/// Pieces, in the order of records within each log.
///
/// Care asks what ran after moments that lie near the end, so of so many pieces at once it is known how far they reach: those
/// before are not looked at again.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct RunPieces {
    all: Vec<RunPiece>,
    /// How far each block of pieces and all before it reach.
    reach: Vec<Reach>,
}

/// So many pieces stand in a block.
const BLOCK: usize = 256;

/// Nothing of some pieces lies after a moment beyond these.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Reach {
    /// The latest end by date.
    ends: UtcMillis,
    /// The latest end by boot and uptime.
    boot_ends: (BootId, UptimeMillis),
    /// The last record before which a loss was over.
    until: RecordSeq,
}

impl RunPieces {
    /// These pieces.
    #[must_use]
    pub fn of(all: Vec<RunPiece>) -> Self {
        let mut reach =
            Reach { ends: UtcMillis(i64::MIN), boot_ends: (BootId(0), UptimeMillis(0)), until: RecordSeq(0) };
        let blocks = all.chunks(BLOCK).map(|block| {
            block.iter().for_each(|piece| reach.take(piece));
            reach
        });
        let reach = blocks.collect();
        Self { all, reach }
    }

    /// The pieces without those at the beginning of which nothing lies after a moment.
    #[must_use]
    pub fn from(&self, moment: Moment) -> &[RunPiece] {
        let before = self.reach.partition_point(|reach| reach.is_before(moment));
        self.all.get(before * BLOCK..).unwrap_or_default()
    }
}

impl Reach {
    fn take(&mut self, piece: &RunPiece) {
        let span = i64::try_from(piece.run.0).unwrap_or(i64::MAX);
        let ends = piece.latest.map_or(i64::MAX, |latest| latest.0.saturating_add(span));
        self.ends = self.ends.max(UtcMillis(ends));
        if piece.is_recorded {
            let uptime = UptimeMillis(piece.place.at.0.saturating_add(piece.run.0));
            self.boot_ends = self.boot_ends.max((piece.place.boot, uptime));
        } else {
            self.until = self.until.max(piece.until);
        }
    }

    /// Whether nothing lies after the moment, neither by its date nor, of its own log, by its place.
    fn is_before(&self, moment: Moment) -> bool {
        let by_place = |place: Place| self.boot_ends <= (place.boot, place.at) && self.until <= place.seq;
        moment.when.earliest().is_some_and(|earliest| self.ends <= earliest)
            && moment.place.is_none_or(by_place)
    }
}

impl Deref for RunPieces {
    type Target = [RunPiece];

    fn deref(&self) -> &[RunPiece] {
        &self.all
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;
    use shared_types::{LogId, LoggerId};

    use super::*;

    fn key(log: u32) -> LogKey {
        LogKey { logger: LoggerId(1), log: LogId(log) }
    }

    proptest! {
        #[test]
        fn nothing_of_what_is_left_out_lies_after_the_moment(
            drawn in prop::collection::vec(
                (0u32..3, 0u32..2000, 0u32..4, (prop::option::of(0i64..2000), 0i64..40), 0u64..60, prop::bool::weighted(0.9)),
                0..1500
            ),
            (log, seq, boot) in (0u32..3, 0u32..2000, 0u32..4),
            when in prop::option::of((0i64..2000, 0i64..40)),
            is_press in prop::bool::ANY,
            is_in_order in prop::bool::ANY,
        ) {
            let mut drawn = drawn;
            if is_in_order {
                drawn.sort_by_key(|(log, seq, boot, (latest, _), ..)| (*log, *boot, *seq, *latest));
            }
            let pieces: Vec<RunPiece> = drawn
                .into_iter()
                .map(|(log, seq, boot, (latest, width), run, is_recorded)| RunPiece {
                    place: Place { log: key(log), seq: RecordSeq(seq), boot: BootId(boot), at: UptimeMillis(seq.into()) },
                    until: RecordSeq(seq + 3),
                    earliest: latest.map(|latest| UtcMillis(latest - width)),
                    latest: latest.map(UtcMillis),
                    run: RunMillis(run),
                    edges: 0,
                    is_recorded,
                })
                .collect();
            let place = Place { log: key(log), seq: RecordSeq(seq), boot: BootId(boot), at: UptimeMillis(seq.into()) };
            let when = when.map_or(When::Undated, |(earliest, width)| When::Between {
                earliest: UtcMillis(earliest),
                latest: UtcMillis(earliest + width),
            });
            let moment = Moment { when, place: is_press.then_some(place) };
            let pieces = RunPieces::of(pieces);
            let left_out = pieces.len() - pieces.from(moment).len();
            for piece in &pieces[..left_out] {
                prop_assert_eq!(piece.after(moment), (0, 0));
            }
        }
    }

    #[test]
    fn of_a_long_log_only_the_end_is_looked_at() {
        let piece = |seq: u32| RunPiece {
            place: Place {
                log: key(1),
                seq: RecordSeq(seq),
                boot: BootId(1),
                at: UptimeMillis(u64::from(seq) * 10),
            },
            until: RecordSeq(seq),
            earliest: Some(UtcMillis(i64::from(seq) * 10)),
            latest: Some(UtcMillis(i64::from(seq) * 10)),
            run: RunMillis(5),
            edges: 9,
            is_recorded: true,
        };
        let pieces = RunPieces::of((0..10_000).map(piece).collect());
        assert!(pieces.from(Moment::dated(UtcMillis(99_000))).len() <= 100 + BLOCK);
        assert_eq!(pieces.from(Moment::dated(UtcMillis(-1))).len(), 10_000);
    }
}
