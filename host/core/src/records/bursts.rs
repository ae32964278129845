//! Segments joined to bursts. A burst is a range of the log's segments, so that a million of them copy nothing.

use shared_types::{BootId, RecordSeq, RunMillis, UptimeMillis};

use super::index::Index;
use super::knob::{self, KnobPlace};
use super::log_records::SegmentRecord;
use crate::entries::KnobMarks;

/// One continuous run of the needle.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Burst {
    /// The first of its segments in the log's.
    pub from: Index,
    /// The place after the last one.
    pub to: Index,
    /// The number of its first record.
    pub first: RecordSeq,
    /// The number of its last record.
    pub last: RecordSeq,
    /// The boot.
    pub boot: BootId,
    /// Uptime at its start.
    pub at: UptimeMillis,
    /// From its first edge to its last.
    pub run: RunMillis,
    /// Edges in it.
    pub edges: u64,
    /// Whether its beginning is not recorded: the segment that it continues is missing.
    pub start_missing: bool,
}

impl Burst {
    /// Uptime at its last edge.
    #[must_use]
    pub const fn ends(&self) -> UptimeMillis {
        UptimeMillis(self.at.0.saturating_add(self.run.0))
    }

    /// Edge periods in it. The edge it starts with ends no period; a burst whose start is missing begins with an edge that was
    /// counted before.
    #[must_use]
    pub const fn periods(&self) -> u64 {
        if self.start_missing { self.edges } else { self.edges.saturating_sub(1) }
    }

    /// Edges per second over the whole burst: periods through duration. None for a burst without duration.
    #[must_use]
    #[expect(clippy::cast_precision_loss, reason = "a burst has far fewer than 2^52 edges and milliseconds")]
    pub fn edges_per_second(&self) -> Option<f64> {
        (self.run.0 > 0).then(|| self.periods() as f64 * 1000.0 / self.run.0 as f64)
    }

    /// Its segments.
    #[must_use]
    pub fn segments<'log>(&self, of_log: &'log [SegmentRecord]) -> &'log [SegmentRecord] {
        of_log.get(self.from.place()..self.to.place()).unwrap_or_default()
    }

    /// Its pieces at one knob position each, with that position where the marks are known.
    pub fn pieces<'log>(
        &self,
        of_log: &'log [SegmentRecord],
        marks: Option<&'log KnobMarks>,
    ) -> impl Iterator<Item = Piece> + 'log {
        self.segments(of_log).iter().map(move |segment| Piece {
            seq: segment.seq,
            at: segment.at,
            run: segment.run,
            edges: segment.edges,
            continues: segment.continues,
            knob: marks.zip(segment.angle).and_then(|(marks, angle)| knob::place(marks, angle)),
        })
    }
}

/// A stretch of a burst at one knob position, ten seconds at most.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Piece {
    /// Its record.
    pub seq: RecordSeq,
    /// Uptime at its start.
    pub at: UptimeMillis,
    /// From its start to its last edge.
    pub run: RunMillis,
    /// Edges in it, each of which ends a period, but for the first edge of a piece that does not continue.
    pub edges: u32,
    /// Whether it goes on from the piece before.
    pub continues: bool,
    /// Where the knob stood, if that is known.
    pub knob: Option<KnobPlace>,
}

/// Joins segments, in the order of their numbers, to bursts.
///
/// A segment goes on from the one before if it says so and starts, in the same boot, at that one's last edge. A
/// continuing segment whose predecessor is missing begins a burst of its own, marked [`Burst::start_missing`].
#[must_use]
pub fn join(segments: &[SegmentRecord]) -> Vec<Burst> {
    let mut bursts: Vec<Burst> = Vec::with_capacity(segments.len());
    for (index, segment) in segments.iter().enumerate() {
        match bursts.last_mut() {
            Some(burst) if goes_on(burst, segment) => {
                burst.to = Index::of(index + 1);
                burst.last = segment.seq;
                burst.run = RunMillis(burst.run.0.saturating_add(segment.run.0));
                burst.edges = burst.edges.saturating_add(u64::from(segment.edges));
            }
            _ => bursts.push(Burst {
                from: Index::of(index),
                to: Index::of(index + 1),
                first: segment.seq,
                last: segment.seq,
                boot: segment.boot,
                at: segment.at,
                run: segment.run,
                edges: u64::from(segment.edges),
                start_missing: segment.continues,
            }),
        }
    }
    bursts
}

fn goes_on(burst: &Burst, segment: &SegmentRecord) -> bool {
    segment.continues && segment.boot == burst.boot && segment.at == burst.ends()
}

#[cfg(test)]
mod tests {
    #![allow(clippy::cast_possible_truncation, reason = "a test may stop at the first surprise")]
    use super::*;
    use proptest::prelude::*;
    use shared_types::{MachineTag, RawAngle};

    fn segment(seq: u32, at: u64, run: u64, edges: u32, continues: bool) -> SegmentRecord {
        SegmentRecord {
            seq: RecordSeq(seq),
            boot: BootId(1),
            at: UptimeMillis(at),
            run: RunMillis(run),
            edges,
            angle: Some(RawAngle::new(2000)),
            continues,
        }
    }

    #[test]
    fn continued_segments_make_one_burst_and_its_rate_leaves_no_period_out() {
        // By hand: 12 strokes per second for 20 s are 241 edges, one at the start and one after each of 240 periods.
        let segments = [segment(1, 5_000, 9_750, 118, false), segment(3, 14_750, 10_250, 123, true)];
        let bursts = join(&segments);
        assert_eq!(bursts.len(), 1);
        assert_eq!((bursts[0].run, bursts[0].edges), (RunMillis(20_000), 241));
        assert_eq!((bursts[0].first, bursts[0].last), (RecordSeq(1), RecordSeq(3)));
        assert_eq!(bursts[0].edges_per_second(), Some(12.0));
    }

    #[test]
    fn a_segment_that_does_not_continue_begins_a_burst() {
        let bursts = join(&[segment(1, 0, 1000, 13, false), segment(2, 1000, 1000, 13, false)]);
        assert_eq!(bursts.len(), 2);
        assert!(bursts.iter().all(|burst| !burst.start_missing));
    }

    #[test]
    fn a_continuation_without_its_beginning_is_a_burst_of_its_own_and_says_so() {
        // Segment 2 is gone: 3 starts later than 1 ends.
        let bursts = join(&[segment(1, 0, 9_800, 118, false), segment(3, 19_600, 5_000, 60, true)]);
        assert_eq!(bursts.len(), 2);
        assert!(!bursts[0].start_missing);
        assert!(bursts[1].start_missing);
        // By hand: 60 edges end 60 periods in 5 s.
        assert_eq!(bursts[1].edges_per_second(), Some(12.0));
    }

    #[test]
    fn another_boot_never_goes_on() {
        let mut next = segment(2, 1000, 1000, 12, true);
        next.boot = BootId(2);
        assert_eq!(join(&[segment(1, 0, 1000, 13, false), next]).len(), 2);
    }

    #[test]
    fn one_edge_has_no_rate() {
        let bursts = join(&[segment(1, 0, 0, 1, false)]);
        assert_eq!(bursts[0].edges_per_second(), None);
        assert_eq!(bursts[0].periods(), 0);
    }

    #[test]
    fn pieces_know_where_the_knob_stood() {
        let segments = [segment(1, 0, 1000, 13, false)];
        let marks = KnobMarks {
            machine: MachineTag(1),
            slow: RawAngle::new(1000),
            fast: RawAngle::new(3000),
            rising: true,
        };
        let burst = &join(&segments)[0];
        let with: Vec<_> = burst.pieces(&segments, Some(&marks)).collect();
        assert_eq!(with[0].knob.unwrap().per_mille.get(), 500);
        assert_eq!(burst.pieces(&segments, None).next().unwrap().knob, None);
    }

    proptest! {
        #[test]
        fn joining_keeps_every_millisecond_and_edge(
            parts in prop::collection::vec((0u64..20_000, 0u64..10_000, 0u32..200, any::<bool>(), any::<bool>()), 0..60)
        ) {
            let mut at = 0;
            let mut segments: Vec<SegmentRecord> = Vec::new();
            for (seq, (gap, run, edges, continues, adjoins)) in parts.into_iter().enumerate() {
                at += if adjoins { 0 } else { gap };
                segments.push(segment(seq as u32, at, run, edges, continues));
                at += run;
            }
            let bursts = join(&segments);
            prop_assert_eq!(bursts.iter().map(|burst| burst.run.0).sum::<u64>(), segments.iter().map(|s| s.run.0).sum::<u64>());
            prop_assert_eq!(bursts.iter().map(|burst| burst.edges).sum::<u64>(), segments.iter().map(|s| u64::from(s.edges)).sum::<u64>());
            let mut next = 0;
            for burst in &bursts {
                prop_assert_eq!(burst.from.place(), next);
                prop_assert!(burst.to.place() > next);
                next = burst.to.place();
            }
            prop_assert_eq!(next, segments.len());
        }
    }
}
