//! The last ten running seconds, in steps of half a second.
//!
//! Time here is run time: it stands still with the needle and goes on with the next burst. After a tear the hand drops the
//! trigger and turns the knob down, so what the machine did must still be here a minute later.

use heapless::Vec;
use shared_types::RawAngle;
use shared_types::limits::{TRACE_STEP_MS, TRACE_STEPS};
use shared_types::log::{Trace, TraceStep};

const STEP_MS: u64 = TRACE_STEP_MS as u64;
const WHOLE_MS: u64 = STEP_MS * TRACE_STEPS as u64;

/// A ring of the newest steps.
#[derive(Clone, Debug, Default)]
pub struct TraceRing {
    steps: [Step; TRACE_STEPS],
    /// How many steps were ever begun; the newest is the one before this number.
    begun: u64,
    /// How much of the newest step has run, 1 to 500 ms.
    newest_ms: u64,
    /// Edges before any run time: a first edge has no step to stand in yet.
    early_edges: u64,
}

#[derive(Clone, Copy, Debug, Default)]
struct Step {
    edges: u16,
    angle: Option<RawAngle>,
}

impl TraceRing {
    /// A ring that has seen no running.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// Adds `ran_ms` of running with `edges` in it, the last of them at its end. When a burst `begins`, the first edge stands at
    /// its start; the others count as evenly spaced, which matters only where a sample crosses from one step to the next.
    pub fn add(&mut self, ran_ms: u64, edges: u32, begins: bool, angle: Option<RawAngle>) {
        let mut left = u64::from(edges);
        if begins && left > 0 {
            left -= 1;
            self.put(1);
        }
        if ran_ms == 0 {
            self.put(left);
            return;
        }
        // More than the ring holds at once cannot come from a board that keeps its contract; the newest part counts.
        let mut done = ran_ms.saturating_sub(WHOLE_MS + STEP_MS);
        let mut told = left.saturating_mul(done) / ran_ms;
        while done < ran_ms {
            if self.begun == 0 || self.newest_ms == STEP_MS {
                self.begin();
            }
            let piece = (STEP_MS - self.newest_ms).min(ran_ms - done);
            done += piece;
            self.newest_ms += piece;
            let by_now = left.saturating_mul(done) / ran_ms;
            self.put(by_now - told);
            told = by_now;
            if let Some(step) = self.newest() {
                step.angle = angle;
            }
        }
    }

    /// The trace as a record carries it, oldest step first.
    #[must_use]
    pub fn snapshot(&self) -> Trace {
        let held = self.begun.min(TRACE_STEPS as u64);
        let mut steps = Vec::new();
        for number in self.begun - held..self.begun {
            let step = self.steps.get(place(number)).copied().unwrap_or_default();
            if steps.push(TraceStep { edges: step.edges, angle: step.angle }).is_err() {
                break;
            }
        }
        Trace { newest_ms: u16::try_from(self.newest_ms).unwrap_or(TRACE_STEP_MS), steps }
    }

    fn begin(&mut self) {
        self.begun += 1;
        self.newest_ms = 0;
        if let Some(step) = self.newest() {
            *step = Step::default();
        }
        let early = core::mem::take(&mut self.early_edges);
        self.put(early);
    }

    fn put(&mut self, edges: u64) {
        match self.newest() {
            Some(step) => {
                step.edges = step.edges.saturating_add(u16::try_from(edges).unwrap_or(u16::MAX));
            }
            None => self.early_edges = self.early_edges.saturating_add(edges),
        }
    }

    fn newest(&mut self) -> Option<&mut Step> {
        let number = self.begun.checked_sub(1)?;
        self.steps.get_mut(place(number))
    }
}

fn place(number: u64) -> usize {
    usize::try_from(number % TRACE_STEPS as u64).unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn edges(trace: &Trace) -> std::vec::Vec<u16> {
        trace.steps.iter().map(|step| step.edges).collect()
    }

    #[test]
    fn a_ring_that_saw_no_running_gives_an_empty_trace() {
        let mut ring = TraceRing::new();
        assert_eq!(ring.snapshot(), Trace::default());
        // One edge is no running: it has no length.
        ring.add(0, 1, true, None);
        assert_eq!(ring.snapshot(), Trace::default());
    }

    #[test]
    fn steps_fill_by_run_time_and_edges_fall_where_they_came() {
        let mut ring = TraceRing::new();
        // An edge every 100 ms from 0 to 1,250 ms of running: 0..500 holds the first edge and those at 100 to 500.
        ring.add(0, 1, true, None);
        for _ in 0..12 {
            ring.add(100, 1, false, Some(RawAngle::new(7)));
        }
        ring.add(50, 0, false, Some(RawAngle::new(9)));
        let trace = ring.snapshot();
        assert_eq!(edges(&trace), [6, 5, 2]);
        assert_eq!(trace.newest_ms, 250);
        let angles: std::vec::Vec<_> = trace.steps.iter().map(|step| step.angle.unwrap().steps()).collect();
        assert_eq!(angles, [7, 7, 9]);
    }

    #[test]
    fn a_look_over_several_steps_shares_its_edges_out() {
        let mut ring = TraceRing::new();
        // 21 edges from 0 to 2,000 ms, one every 100 ms, told at once.
        ring.add(2_000, 21, true, None);
        assert_eq!(edges(&ring.snapshot()), [6, 5, 5, 5]);
        assert_eq!(ring.snapshot().newest_ms, 500);
    }

    #[test]
    fn only_the_last_ten_running_seconds_are_kept() {
        let mut ring = TraceRing::new();
        ring.add(0, 1, true, None);
        for _ in 0..300 {
            ring.add(100, 1, false, None);
        }
        for _ in 0..10 {
            ring.add(50, 1, false, None);
        }
        let trace = ring.snapshot();
        assert_eq!(trace.steps.len(), 20);
        assert_eq!(edges(&trace)[18..], [5, 10]);
        assert_eq!(trace.newest_ms, 500);
    }

    #[test]
    fn absurd_lengths_neither_panic_nor_take_long() {
        let mut ring = TraceRing::new();
        ring.add(u64::MAX, u32::MAX, true, None);
        ring.add(u64::MAX, 0, false, None);
        assert_eq!(ring.snapshot().steps.len(), 20);
    }
}
