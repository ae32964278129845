//! Bursts that no firmware can have measured from a machine at work.
//!
//! A loose wire, a noisy motor or the hum of the mains makes records that are well formed and wrong. What follows from the
//! records alone is judged here, for old records too; the rules and their reasons stand in `host/core/STATISTICS/sessions.md`. A doubt
//! takes nothing away: it asks the maker.

use serde::Serialize;
use shared_types::limits::{IDLE_GAP_MS, IMPLAUSIBLE_EDGES_PER_SECOND, LONGEST_SEGMENT_MS};
use shared_types::log::{Fault, FaultChange};
use shared_types::{BootId, UptimeMillis};

use crate::records::bursts::Burst;
use crate::records::log_records::{LogRecords, LoggedEvent, SegmentRecord};
use crate::stats::MINUTE_MS;
use crate::studio::StrokeRatio;

/// A machine at work makes at most so many strokes a second. Our assumption, as sellers of hand machines state it.
pub const FASTEST_STROKES_PER_SECOND: f64 = 45.0;
/// A rate that keeps so long within [`STEADY_WITHIN`] is as steady as the mains. Milliseconds; our assumption.
pub const STEADY_FOR_MS: u64 = MINUTE_MS;
/// The widest that a steady rate varies, as a share of itself. Our assumption: mains frequency varies by about a tenth of this
/// within a minute, a hand-held motor in cloth by far more.
pub const STEADY_WITHIN: f64 = 0.001;
/// Segments are judged for steadiness in stretches of at least this length, in which a millisecond is little. Milliseconds.
const STRETCH_MS: u64 = 5_000;
/// Firmware calls the rate plausible again so long after the last moment at which it was not. Milliseconds.
const PLAUSIBLE_AGAIN_MS: u64 = 10_000;

/// Why a burst is doubted.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Doubt {
    /// One of its segments is longer than firmware lets any become: rest was taken for running.
    SegmentTooLong,
    /// Its edges are so far apart that the burst would have ended between them.
    EdgesTooFarApart,
    /// It has more edges than [`IMPLAUSIBLE_EDGES_PER_SECOND`] allows.
    TooManyEdges,
    /// The logger itself found the rate implausible during it.
    RateFault,
    /// Faster than any machine, for a minute, without varying: the hum of the mains.
    SteadyAndFast,
}

/// Finding on one burst.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Judgement {
    /// Why it is doubted, the plainest reason first; none where it is not.
    pub doubt: Option<Doubt>,
    /// Whether it ran for a minute as steadily as the mains, at a rate that a machine can have. Only a hint.
    pub is_steady: bool,
}

/// Judges the bursts of one log.
#[derive(Debug)]
pub struct Judge<'log> {
    segments: &'log [SegmentRecord],
    fast: Vec<FastTime>,
}

/// From the first to the last moment at which the logger found the rate implausible.
#[derive(Clone, Copy, Debug)]
struct FastTime {
    boot: BootId,
    from: u64,
    until: u64,
}

impl<'log> Judge<'log> {
    /// Reads what the logger itself found implausible.
    #[must_use]
    pub fn of(log: &'log LogRecords) -> Self {
        let mut fast: Vec<FastTime> = Vec::new();
        for event in &log.events {
            let LoggedEvent::Fault(FaultChange { fault: Fault::ImplausibleRate, present }) = &event.what
            else {
                continue;
            };
            let open = fast.last_mut().filter(|time| time.boot == event.boot && time.until == u64::MAX);
            match (present, open) {
                (true, None) => {
                    fast.push(FastTime { boot: event.boot, from: event.at.0, until: u64::MAX });
                }
                (false, Some(time)) => {
                    time.until = event.at.0.saturating_sub(PLAUSIBLE_AGAIN_MS).max(time.from);
                }
                (true, Some(_)) | (false, None) => {}
            }
        }
        fast.sort_by_key(|time| (time.boot, time.from));
        Self { segments: &log.segments, fast }
    }

    /// Judges one burst of the log; `ratio` tells its machine's, and is asked for long bursts only.
    #[must_use]
    pub fn judge(&self, burst: &Burst, ratio: impl FnOnce() -> StrokeRatio) -> Judgement {
        let segments = burst.segments(self.segments);
        let of_segments = segments.iter().find_map(of_segment);
        let doubt = of_segments
            .or_else(|| is_too_fast(burst.periods(), burst.run.0).then_some(Doubt::TooManyEdges))
            .or_else(|| self.is_fast_time(burst).then_some(Doubt::RateFault));
        if doubt.is_some() || burst.run.0 < STEADY_FOR_MS {
            return Judgement { doubt, is_steady: false };
        }
        let (edges, strokes) = ratio().parts();
        let stretches = stretches(segments);
        match steady_edges_per_second(&stretches) {
            Some(rate) if rate * f64::from(strokes) / f64::from(edges) > FASTEST_STROKES_PER_SECOND => {
                Judgement { doubt: Some(Doubt::SteadyAndFast), is_steady: false }
            }
            // Of many honest bursts one is as steady for a minute by chance; the mains are as steady to the end.
            steady => {
                Judgement { doubt: None, is_steady: steady.is_some() && is_steady_throughout(&stretches) }
            }
        }
    }

    /// The edge by which the fault was noticed came less than the gap that ends a burst before it was.
    fn is_fast_time(&self, burst: &Burst) -> bool {
        let end = burst.ends().0.saturating_add(u64::from(IDLE_GAP_MS));
        let next = self.fast.partition_point(|time| (time.boot, time.from) <= (burst.boot, end));
        let last = next.checked_sub(1).and_then(|last| self.fast.get(last));
        last.is_some_and(|time| time.boot == burst.boot && burst.at <= UptimeMillis(time.until))
    }
}

fn of_segment(segment: &SegmentRecord) -> Option<Doubt> {
    let periods = periods(segment);
    let longest_gaps = periods.max(1).saturating_mul(u64::from(IDLE_GAP_MS));
    if segment.run.0 > u64::from(LONGEST_SEGMENT_MS) {
        Some(Doubt::SegmentTooLong)
    } else if segment.run.0 >= longest_gaps {
        Some(Doubt::EdgesTooFarApart)
    } else if is_too_fast(periods, segment.run.0) {
        Some(Doubt::TooManyEdges)
    } else {
        None
    }
}

/// The first edge of a segment that does not continue ends no period.
fn periods(segment: &SegmentRecord) -> u64 {
    let edges = u64::from(segment.edges);
    if segment.continues { edges } else { edges.saturating_sub(1) }
}

/// A rate is judged over a second at least: two edges a millisecond apart are no thousand a second.
fn is_too_fast(periods: u64, run_ms: u64) -> bool {
    periods.saturating_mul(1_000) > run_ms.max(1_000).saturating_mul(u64::from(IMPLAUSIBLE_EDGES_PER_SECOND))
}

/// A burst in stretches that are long enough to have a rate: run time in milliseconds, and periods.
fn stretches(segments: &[SegmentRecord]) -> Vec<(u64, u64)> {
    let mut stretches = Vec::new();
    let (mut run, mut edges) = (0_u64, 0_u64);
    for segment in segments {
        run = run.saturating_add(segment.run.0);
        edges = edges.saturating_add(periods(segment));
        if run >= STRETCH_MS {
            stretches.push((run, edges));
            (run, edges) = (0, 0);
        }
    }
    stretches
}

/// The rate of the first minute in which the rate of every stretch is the same, as far as milliseconds can tell.
fn steady_edges_per_second(stretches: &[(u64, u64)]) -> Option<f64> {
    (0..stretches.len())
        .find_map(|first| steady_for(stretches.get(first..).unwrap_or_default(), STEADY_FOR_MS))
}

fn is_steady_throughout(stretches: &[(u64, u64)]) -> bool {
    let all_ms = stretches.iter().fold(0, |sum: u64, (run, _)| sum.saturating_add(*run));
    steady_for(stretches, all_ms).is_some()
}

#[expect(clippy::cast_precision_loss, reason = "a burst has far fewer than 2^52 edges and milliseconds")]
fn steady_for(stretches: &[(u64, u64)], ms: u64) -> Option<f64> {
    // The limits of the gap between two edges that all stretches can have had; each end of a stretch is rounded down.
    let (mut shortest, mut longest) = (0.0_f64, f64::INFINITY);
    let (mut all_run, mut all_edges) = (0_u64, 0_u64);
    for (run, edges) in stretches {
        let gap = |run_ms: f64| run_ms / *edges as f64;
        shortest = shortest.max(gap(*run as f64 - 1.0) / (1.0 + STEADY_WITHIN / 2.0));
        longest = longest.min(gap(*run as f64 + 1.0) / (1.0 - STEADY_WITHIN / 2.0));
        if shortest > longest {
            return None;
        }
        (all_run, all_edges) = (all_run.saturating_add(*run), all_edges.saturating_add(*edges));
        if all_run >= ms {
            return Some(all_edges as f64 * 1_000.0 / all_run as f64);
        }
    }
    None
}

#[cfg(test)]
#[path = "doubt_tests.rs"]
mod tests;
