//! Hardware counts and time stamps become edges with a first and a last moment.
//!
//! The count comes from a counter that never misses an edge; the time stamps come from an interrupt on the same signal
//! and may be late or missing while flash is written. So the count is believed, and a stamp only says when.

use shared_types::UptimeMillis;
use shared_types::limits::IMPLAUSIBLE_EDGES_PER_SECOND;

/// An implausible rate counts as gone after this long without one. Milliseconds.
pub const PLAUSIBLE_AGAIN_MS: u64 = 10_000;
/// The rate is judged over this long. Milliseconds.
const RATE_WINDOW_MS: u64 = 1_000;

/// What happened at the needle since the sample before.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct NeedleSample {
    /// The hardware counter as read; wraps. The first sample after a start only says where it stands.
    pub count: u16,
    /// When the first edge since the sample before came; none when there was none, or when the interrupt is late.
    pub first_edge_at: Option<UptimeMillis>,
    /// When the last edge since the sample before came.
    pub last_edge_at: Option<UptimeMillis>,
}

/// Edges that came between two samples.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Moved {
    /// How many, at least one.
    pub edges: u32,
    /// When the first of them came; never before an edge that was told earlier.
    pub first_at: UptimeMillis,
    /// When the last of them came; never before the first, never after the sample.
    pub last_at: UptimeMillis,
}

/// Follows the counter.
#[derive(Clone, Copy, Debug, Default)]
pub struct Needle {
    count: Option<u16>,
    latest: UptimeMillis,
    early: Option<(UptimeMillis, UptimeMillis)>,
}

impl Needle {
    /// A needle whose counter has not been looked at yet.
    #[must_use]
    pub const fn new() -> Self {
        Self { count: None, latest: UptimeMillis(0), early: None }
    }

    /// Takes one sample and tells the edges since the one before.
    pub fn look(&mut self, now: UptimeMillis, sample: &NeedleSample) -> Option<Moved> {
        let edges = self.count.map_or(0, |before| sample.count.wrapping_sub(before));
        let started = self.count.is_some();
        self.count = Some(sample.count);
        if edges == 0 {
            // The interrupt may be ahead of the counter by one edge: its stamp belongs to the count that follows.
            if let (true, Some(first)) = (started, sample.first_edge_at) {
                let first = self.early.map_or(first, |(before, _)| before);
                self.early = Some((first, sample.last_edge_at.unwrap_or(first)));
            }
            return None;
        }
        let early = self.early.take();
        let last = sample.last_edge_at.or(early.map(|(_, last)| last)).unwrap_or(now);
        let first = early.map(|(first, _)| first).or(sample.first_edge_at).unwrap_or(last);
        let first = first.max(self.latest).min(now.max(self.latest));
        let last = last.max(first).min(now.max(first));
        self.latest = last;
        Some(Moved { edges: u32::from(edges), first_at: first, last_at: last })
    }
}

/// Judges whether a machine can be making these edges.
#[derive(Clone, Copy, Debug, Default)]
pub struct RateJudge {
    window: Option<(UptimeMillis, u32)>,
    implausible_at: Option<UptimeMillis>,
}

impl RateJudge {
    /// A judge that has seen nothing.
    #[must_use]
    pub const fn new() -> Self {
        Self { window: None, implausible_at: None }
    }

    /// Takes the edges of one sample; tells whether the rate is implausible, or was until a short while ago.
    pub fn look(&mut self, now: UptimeMillis, moved: Option<&Moved>) -> bool {
        if let Some(moved) = moved {
            let edges = match self.window {
                Some((since, edges)) if moved.last_at.0.saturating_sub(since.0) < RATE_WINDOW_MS => {
                    let edges = edges.saturating_add(moved.edges);
                    self.window = Some((since, edges));
                    edges
                }
                _ => {
                    self.window = Some((moved.first_at, moved.edges));
                    moved.edges
                }
            };
            if edges > IMPLAUSIBLE_EDGES_PER_SECOND {
                self.implausible_at = Some(moved.last_at);
            }
        }
        if self.implausible_at.is_some_and(|at| now.0.saturating_sub(at.0) >= PLAUSIBLE_AGAIN_MS) {
            self.implausible_at = None;
        }
        self.implausible_at.is_some()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(ms: u64) -> UptimeMillis {
        UptimeMillis(ms)
    }

    fn sample(count: u16, first: Option<u64>, last: Option<u64>) -> NeedleSample {
        NeedleSample { count, first_edge_at: first.map(UptimeMillis), last_edge_at: last.map(UptimeMillis) }
    }

    #[test]
    fn the_first_sample_only_says_where_the_counter_stands() {
        let mut needle = Needle::new();
        assert_eq!(needle.look(at(10), &sample(40_000, None, None)), None);
        let moved = needle.look(at(60), &sample(40_001, Some(50), Some(50)));
        assert_eq!(moved, Some(Moved { edges: 1, first_at: at(50), last_at: at(50) }));
    }

    #[test]
    fn the_count_goes_on_over_the_wrap_of_the_counter() {
        let mut needle = Needle::new();
        assert_eq!(needle.look(at(0), &sample(65_535, None, None)), None);
        let moved = needle.look(at(50), &sample(2, Some(10), Some(40)));
        assert_eq!(moved, Some(Moved { edges: 3, first_at: at(10), last_at: at(40) }));
    }

    #[test]
    fn missing_stamps_fall_back_to_the_sample_and_never_run_backwards() {
        let mut needle = Needle::new();
        needle.look(at(0), &sample(0, None, None));
        let moved = needle.look(at(50), &sample(2, None, None));
        assert_eq!(moved, Some(Moved { edges: 2, first_at: at(50), last_at: at(50) }));
        // The interrupt comes late with a stamp from before the fallback, and one from the future.
        let moved = needle.look(at(100), &sample(3, Some(40), Some(400)));
        assert_eq!(moved, Some(Moved { edges: 1, first_at: at(50), last_at: at(100) }));
    }

    #[test]
    fn a_stamp_ahead_of_its_count_is_kept_for_it() {
        let mut needle = Needle::new();
        needle.look(at(0), &sample(0, None, None));
        assert_eq!(needle.look(at(50), &sample(0, Some(50), Some(50))), None);
        let moved = needle.look(at(100), &sample(1, None, None));
        assert_eq!(moved, Some(Moved { edges: 1, first_at: at(50), last_at: at(50) }));
    }

    #[test]
    fn two_hundred_edges_in_a_second_are_a_fast_machine_and_one_more_is_noise() {
        for (edges, expected) in [(200, false), (201, true)] {
            let mut judge = RateJudge::new();
            let moved = Moved { edges, first_at: at(5_000), last_at: at(5_990) };
            assert_eq!(judge.look(at(6_000), Some(&moved)), expected, "{edges} edges");
        }
    }

    #[test]
    fn a_steady_fast_rate_never_adds_up_to_an_implausible_one() {
        let mut judge = RateJudge::new();
        for step in 0..400_u64 {
            let start = step * 50;
            let moved = Moved { edges: 5, first_at: at(start), last_at: at(start + 45) };
            assert!(!judge.look(at(start + 50), Some(&moved)), "100 edges a second at {start} ms");
        }
    }

    #[test]
    fn the_fault_goes_ten_seconds_after_the_noise() {
        let mut judge = RateJudge::new();
        let noise = Moved { edges: 900, first_at: at(100), last_at: at(200) };
        assert!(judge.look(at(200), Some(&noise)));
        assert!(judge.look(at(10_199), None));
        assert!(!judge.look(at(10_200), None));
    }
}
