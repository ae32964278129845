//! Coalescing of short bursts that come faster than the log can hold them.
//!
//! A token bucket admits single bursts. Beyond it they are merged into one segment from the start of the first: run times and
//! edges are summed, so only the pauses are lost. It is written as soon as the bucket allows.

use shared_types::limits::{RUNNING_AT_RISK_MS, SAMPLE_MS};
use shared_types::log::Segment;
use shared_types::{RunMillis, UptimeMillis};

use crate::burst::ClosedSegment;
use crate::token_bucket::TokenBucket;

/// A burst below this is short. Milliseconds of running.
const SHORT_MS: u64 = 6_000;
/// Capacity of the token bucket, in bursts.
const AT_ONCE: u32 = 100;
/// Refill period of the token bucket, in milliseconds: 400 bursts an hour.
const EVERY_MS: u64 = 9_000;
/// Upper bound of the run time that a power cut takes: waiting bursts and the open one. Milliseconds of running.
const MOST_UNWRITTEN_MS: u64 = 9_000;

const _: () = assert!(
    MOST_UNWRITTEN_MS + 2 * SAMPLE_MS as u64 + 50 <= RUNNING_AT_RISK_MS as u64,
    "two samples and one flash write must fit between what is unwritten and what may be lost"
);

/// Queue of short bursts to be written.
#[derive(Clone, Copy, Debug)]
pub(crate) struct ShortBursts {
    waiting: Option<ClosedSegment>,
    token_bucket: TokenBucket,
}

impl ShortBursts {
    pub(crate) const fn new() -> Self {
        Self { waiting: None, token_bucket: TokenBucket::new(AT_ONCE, EVERY_MS) }
    }

    /// Takes a segment that has closed and returns what is to be written now, oldest first. Only bursts with the knob in one place,
    /// within `knob_step`, are put together.
    pub(crate) fn take(
        &mut self,
        now: UptimeMillis,
        closed: ClosedSegment,
        knob_step: u16,
    ) -> [Option<ClosedSegment>; 2] {
        let Segment { run, continues, .. } = closed.segment;
        // What time has cut comes every ten seconds at the most, and needs no budget.
        if continues || !closed.is_last {
            return [self.waiting.take(), Some(closed)];
        }
        let is_allowed = self.token_bucket.take(now);
        if run.0 >= SHORT_MS {
            return [self.waiting.take(), Some(closed)];
        }
        let (apart, together) = match self.waiting.take() {
            Some(waiting) if are_in_one_place(&waiting, &closed, knob_step) => {
                (None, put_together(waiting, closed))
            }
            waiting => (waiting, closed),
        };
        if is_allowed || together.segment.run.0 >= MOST_UNWRITTEN_MS {
            return [apart, Some(together)];
        }
        self.waiting = Some(together);
        [apart, None]
    }

    /// What is to be written although nothing has closed: because the budget allows it, or because too much waits together with the
    /// `open_ms` of the burst under way.
    pub(crate) fn update(&mut self, now: UptimeMillis, open_ms: u64) -> Option<ClosedSegment> {
        let unwritten = self.waiting?.segment.run.0.saturating_add(open_ms);
        let is_due = unwritten >= MOST_UNWRITTEN_MS || self.token_bucket.take(now);
        self.waiting.take_if(|_| is_due)
    }

    /// Takes the waiting burst, before a record that must stand behind it.
    pub(crate) const fn take_waiting(&mut self) -> Option<ClosedSegment> {
        self.waiting.take()
    }

    /// Run time that waits to be written, in milliseconds.
    pub(crate) fn waiting_run_ms(&self) -> u64 {
        self.waiting.map_or(0, |waiting| waiting.segment.run.0)
    }
}

fn are_in_one_place(one: &ClosedSegment, other: &ClosedSegment, knob_step: u16) -> bool {
    match (one.segment.angle, other.segment.angle) {
        (Some(one), Some(other)) => one.distance(other) <= knob_step,
        (one, other) => one == other,
    }
}

fn put_together(first: ClosedSegment, next: ClosedSegment) -> ClosedSegment {
    let segment = Segment {
        run: RunMillis(first.segment.run.0.saturating_add(next.segment.run.0)),
        edges: first.segment.edges.saturating_add(next.segment.edges),
        angle: first.segment.angle,
        continues: false,
    };
    ClosedSegment { segment, ..first }
}

#[cfg(test)]
mod tests {
    use super::*;
    use shared_types::RawAngle;

    fn burst(start: u64, run: u64, edges: u32) -> ClosedSegment {
        let angle = Some(RawAngle::new(9));
        let segment = Segment { run: RunMillis(run), edges, angle, continues: false };
        ClosedSegment { start: UptimeMillis(start), segment, is_last: true }
    }

    /// One burst every `every` ms for an hour; what is written of them, in records, milliseconds and edges.
    fn written(every: u64, run: u64, edges: u32) -> (usize, u64, u64) {
        let mut short = ShortBursts::new();
        let (mut count, mut ran, mut counted) = (0, 0, 0);
        let mut write = |segment: &ClosedSegment| {
            count += 1;
            ran += segment.segment.run.0;
            counted += u64::from(segment.segment.edges);
        };
        for start in (0..3_600_000).step_by(usize::try_from(every).unwrap()) {
            let now = UptimeMillis(start + run + 500);
            short.take(now, burst(start, run, edges), 24).iter().flatten().for_each(&mut write);
            short.update(now, 0).iter().for_each(&mut write);
            assert!(short.waiting_run_ms() < MOST_UNWRITTEN_MS);
        }
        short.update(UptimeMillis(4_000_000), 0).iter().for_each(&mut write);
        assert_eq!(short.waiting_run_ms(), 0);
        (count, ran, counted)
    }

    #[test]
    fn what_the_budget_holds_is_written_as_it_was() {
        // A tap every ten seconds, 360 in an hour.
        assert_eq!(written(10_000, 300, 4), (360, 360 * 300, 360 * 4));
    }

    #[test]
    fn bursts_without_end_write_what_the_budget_gives_and_lose_nothing() {
        // A stray edge each second, bursts of 0.9 s every 1.5 s, and of 2.5 s every 3.05 s: 100 at once and 400 an hour.
        for (every, run, edges, bursts) in
            [(1_000, 0, 1, 3_600), (1_500, 900, 10, 2_400), (3_050, 2_500, 30, 1_181)]
        {
            let (count, ran, counted) = written(every, run, edges);
            assert_eq!((ran, counted), (bursts * run, bursts * u64::from(edges)), "every {every} ms");
            assert!((480..=515).contains(&count), "{count} records, one burst every {every} ms");
        }
    }

    #[test]
    fn a_burst_that_is_not_short_brings_what_waited_before_it() {
        let mut short = ShortBursts::new();
        let mut start = 0;
        while short.waiting.is_none() {
            start += 600;
            short.take(UptimeMillis(start + 500), burst(start, 10, 2), 24);
        }
        assert_eq!(short.update(UptimeMillis(start + 600), 8_989), None);
        assert!(
            short.clone().update(UptimeMillis(start + 600), 8_990).is_some(),
            "nine seconds are unwritten"
        );
        let long = burst(start + 700, 6_000, 36);
        assert_eq!(
            short.take(UptimeMillis(start + 7_200), long, 24),
            [Some(burst(start, 10, 2)), Some(long)]
        );
    }

    #[test]
    fn bursts_at_different_places_of_the_knob_are_never_put_together() {
        let mut short = ShortBursts::new();
        let mut count = 0;
        for turn in 0..1_000_u64 {
            let mut burst = burst(turn * 1_000, 400, 5);
            burst.segment.angle = Some(RawAngle::new(if turn % 2 == 0 { 100 } else { 125 }));
            count += short.take(UptimeMillis(turn * 1_000 + 900), burst, 24).iter().flatten().count();
        }
        assert!(count >= 999, "{count} of a thousand were written");
    }
}
