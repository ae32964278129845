//! Bursts of the needle, split into segments.
//!
//! A burst runs from its first edge to its last; a pause of [`IDLE_GAP_MS`] ends it. A segment ends with the burst, on a knob
//! move, or at its maximum length. The next segment starts at the last edge of the previous one, so run times and edges of all
//! segments sum to the needle's, wherever it was split.
//!
//! A token bucket limits the splits by knob moves. A segment that was not split although the knob moved carries the mean angle,
//! weighted by run time.
//!
//! Contract with the board: a sample at least every `SAMPLE_MS` while the needle moves, and one at the latest [`IDLE_GAP_MS`]
//! after the last edge. A pause within one sample period is not detected.

use shared_types::limits::{IDLE_GAP_MS, KNOB_STEP, SEGMENT_CLOSE_MS};
use shared_types::log::Segment;
use shared_types::{RawAngle, RunMillis, UptimeMillis};

use crate::needle::EdgeSpan;
use crate::token_bucket::TokenBucket;

/// Noise floor of the sensor; smaller moves cut no segment, whatever the settings say. Steps of a 12-bit turn.
pub const LEAST_KNOB_STEP: u16 = 6;

/// Capacity of the token bucket of knob cuts: a hand that turns it from end to end cuts about thirty times.
const CUTS_AT_ONCE: u32 = 60;
/// Refill period of the token bucket of knob cuts: 150 an hour, beside the 367 segments an hour that time alone closes. Milliseconds.
const CUT_EVERY_MS: u64 = 24_000;

const _: () = assert!(LEAST_KNOB_STEP < KNOB_STEP, "the start value must be above the noise");

/// A segment that is complete.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ClosedSegment {
    /// Where it starts: its first edge, or the last edge of the segment before when it continues.
    pub start: UptimeMillis,
    /// What is recorded of it.
    pub segment: Segment,
    /// Whether the burst ended with it.
    pub is_last: bool,
}

/// Result of one sample.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Advance {
    /// Segments that this look closed, oldest first.
    pub closed: [Option<ClosedSegment>; 2],
    /// Increase of the run time, in milliseconds.
    pub ran_ms: u64,
    /// Increase of the edge count.
    pub edges: u32,
    /// Whether the first of these edges began a burst.
    pub begins: bool,
}

/// The mean of the angles seen, followed over the wrap from one to the next.
#[derive(Clone, Copy, Debug, Default)]
struct MeanAngle {
    first: RawAngle,
    latest: Option<RawAngle>,
    /// Signed displacement from the first angle to the latest, in steps.
    way: i64,
    sum: i64,
    weight: i64,
}

impl MeanAngle {
    fn add(&mut self, angle: RawAngle, weight: u64) {
        match self.latest.replace(angle) {
            Some(before) => self.way += i64::from(before.signed_way(angle)),
            None => self.first = angle,
        }
        let weight = i64::try_from(weight).unwrap_or(0);
        self.sum = self.sum.saturating_add(self.way.saturating_mul(weight));
        self.weight = self.weight.saturating_add(weight);
    }

    fn angle(&self) -> Option<RawAngle> {
        let half = self.weight / 2;
        let mean = self.sum.saturating_add(half).checked_div_euclid(self.weight)?;
        let steps = i64::from(self.first.steps()).saturating_add(mean).rem_euclid(i64::from(RawAngle::STEPS));
        u16::try_from(steps).ok().map(RawAngle::new)
    }
}

#[derive(Clone, Copy, Debug)]
struct Open {
    start: UptimeMillis,
    last: UptimeMillis,
    edges: u32,
    /// Where the knob stood when the segment began.
    angle: Option<RawAngle>,
    mean: MeanAngle,
    /// The knob has moved, and the budget did not allow to close the segment for it.
    was_not_cut: bool,
    continues: bool,
}

impl Open {
    const fn run_ms(&self) -> u64 {
        self.last.0.saturating_sub(self.start.0)
    }

    /// A continuation that no edge followed is no segment.
    fn close(&self, is_last: bool) -> Option<ClosedSegment> {
        (self.edges > 0).then_some(ClosedSegment {
            start: self.start,
            segment: Segment {
                run: RunMillis(self.run_ms()),
                edges: self.edges,
                angle: if self.was_not_cut { self.mean.angle() } else { self.angle },
                continues: self.continues,
            },
            is_last,
        })
    }

    const fn begin(at: UptimeMillis, angle: Option<RawAngle>, continues: bool) -> Self {
        let mean = MeanAngle { first: RawAngle::new(0), latest: None, way: 0, sum: 0, weight: 0 };
        Self { start: at, last: at, edges: 0, angle, mean, was_not_cut: false, continues }
    }

    const fn go_on(&mut self, angle: Option<RawAngle>) {
        *self = Self::begin(self.last, angle, true);
    }

    fn knob_moved(&self, angle: Option<RawAngle>, knob_step: u16) -> bool {
        match (self.angle, angle) {
            (Some(then), Some(now)) => then.distance(now) > knob_step.max(LEAST_KNOB_STEP),
            (None, None) => false,
            _ => true,
        }
    }
}

/// Cuts the needle's motion into segments.
#[derive(Clone, Copy, Debug)]
pub struct Bursts {
    open: Option<Open>,
    last_edge: Option<UptimeMillis>,
    cuts: TokenBucket,
}

impl Default for Bursts {
    fn default() -> Self {
        Self::new()
    }
}

impl Bursts {
    /// A needle that stands still.
    #[must_use]
    pub const fn new() -> Self {
        Self { open: None, last_edge: None, cuts: TokenBucket::new(CUTS_AT_ONCE, CUT_EVERY_MS) }
    }

    /// Takes the edges since the last look, and the knob's angle at the end of it.
    ///
    /// Where the knob has moved, these edges belong to the new angle.
    pub fn update(
        &mut self,
        now: UptimeMillis,
        moved: Option<EdgeSpan>,
        angle: Option<RawAngle>,
        knob_step: u16,
    ) -> Advance {
        let mut advance = Advance::default();
        let next_edge = moved.map_or(now, |moved| moved.first_at);
        if let Some(open) = self.open.as_mut() {
            if next_edge.0.saturating_sub(open.last.0) >= u64::from(IDLE_GAP_MS) {
                advance.closed[0] = open.close(true);
                self.open = None;
            } else if open.knob_moved(angle, knob_step) {
                if open.edges == 0 {
                    open.go_on(angle);
                } else if self.cuts.take(now) {
                    advance.closed[0] = open.close(false);
                    open.go_on(angle);
                } else {
                    open.was_not_cut = true;
                }
            }
        }
        if let Some(moved) = moved {
            self.add(moved, angle, &mut advance);
        }
        if let (Some(open), Some(angle)) = (self.open.as_mut(), angle) {
            open.mean.add(angle, advance.ran_ms.saturating_add(1));
        }
        advance
    }

    fn add(&mut self, moved: EdgeSpan, angle: Option<RawAngle>, advance: &mut Advance) {
        if moved.edges == 0 && self.open.is_none() {
            return;
        }
        advance.begins = self.open.is_none();
        advance.edges = moved.edges;
        let open = self.open.get_or_insert(Open::begin(moved.first_at, angle, false));
        advance.ran_ms = moved.last_at.0.saturating_sub(open.last.0);
        open.last = moved.last_at;
        open.edges = open.edges.saturating_add(moved.edges);
        self.last_edge = Some(open.last);
        if open.run_ms() >= u64::from(SEGMENT_CLOSE_MS) {
            advance.closed[1] = open.close(false);
            open.go_on(angle);
        }
    }

    /// Run time of the segment that is still open, in milliseconds.
    #[must_use]
    pub fn open_run_ms(&self) -> u64 {
        self.open.map_or(0, |open| open.run_ms())
    }

    /// Whether a burst is under way.
    #[must_use]
    pub const fn is_running(&self) -> bool {
        self.open.is_some()
    }

    /// How long the needle has stood still, in milliseconds; none when it has not moved since the start.
    #[must_use]
    pub fn still_ms(&self, now: UptimeMillis) -> Option<u64> {
        self.last_edge.map(|last| now.0.saturating_sub(last.0))
    }
}

#[cfg(test)]
#[path = "burst_tests.rs"]
mod tests;
