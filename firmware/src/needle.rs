//! Edge counts and time stamps of the needle, combined into dated edges.
//!
//! The count is authoritative; a stamp only dates it, because counters miss no edge and stamps may be late or missing. An edge
//! that coincides with a sample may be counted in it and stamped in the next, or the reverse, so each waits **one** sample for
//! its counterpart. An unmatched stamp is dropped; an unmatched edge is dated by the sample that counted it. The error is at most
//! one sample period, and idle time never becomes run time.

use shared_types::UptimeMillis;
use shared_types::limits::IMPLAUSIBLE_EDGES_PER_SECOND;

/// An implausible rate counts as gone after this long without one. Milliseconds.
pub const PLAUSIBLE_AGAIN_MS: u64 = 10_000;
/// A stamp and a count that do not belong together count as gone after this long without any. Milliseconds.
pub const MATCHED_AGAIN_MS: u64 = 60_000;
/// Window of the rate monitor. Milliseconds.
const RATE_WINDOW_MS: u64 = 1_000;
/// A stamp this near to a sample may belong to an edge that the sample counted too early or too late: the time that an
/// interrupt may take. Milliseconds.
const RACE_MS: u64 = 2;

/// Counter and stamps of one sample.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct NeedleSample {
    /// The hardware counter as read; wraps. The first sample after a start only says where it stands.
    pub count: u16,
    /// When the first edge since the sample before came; none when there was none, or when its stamp is late.
    pub first_edge_at: Option<UptimeMillis>,
    /// When the last edge since the sample before came.
    pub last_edge_at: Option<UptimeMillis>,
    /// Pulses since the sample before that the source saw and set aside as too short for a stroke; they are in no count.
    pub too_short: u16,
}

impl NeedleSample {
    fn stamps(&self, now: UptimeMillis) -> Option<Stamps> {
        let last = self.last_edge_at.or(self.first_edge_at)?.min(now);
        Some(Stamps { first: self.first_edge_at.map_or(last, |first| first.min(last)), last })
    }
}

/// Edges that came between two samples.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct EdgeSpan {
    /// How many; none where only the moment of the last edge told before is put right.
    pub edges: u32,
    /// When the first of them came; never before an edge that was told earlier.
    pub first_at: UptimeMillis,
    /// When the last of them came; never before the first, never after the sample.
    pub last_at: UptimeMillis,
}

/// Mismatches of counts and stamps since the start.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Mismatches {
    /// Stamps that nothing was counted for.
    pub stamps_alone: u32,
    /// Edges that nobody stamped, and pulses set aside as too short.
    pub counts_alone: u32,
}

#[derive(Clone, Copy, Debug)]
struct Stamps {
    first: UptimeMillis,
    last: UptimeMillis,
}

/// Whether a stamp came before its count.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
enum Ahead {
    #[default]
    No,
    /// It came at the very end of its sample, and as many edges were counted as there had to be.
    Perhaps,
    /// There were more stamps than edges.
    Surely,
}

impl Ahead {
    const fn perhaps(is_at_end: bool) -> Self {
        if is_at_end { Self::Perhaps } else { Self::No }
    }
}

/// Hardware that counts the needle's edges and dates them. The contract of a board towards the library.
///
/// - **Every edge is counted**, also while flash is erased with interrupts off (0.4 s at the worst) and during a storm of
///   edges: in a counter, a state machine or a capture unit, never in an interrupt.
/// - The count goes up only. It wraps at 16 bits, so at a thousand edges a second it must be asked once a minute; it may stand
///   anywhere at the start.
/// - A **stamp** only dates what was counted: the uptime at which the first and the last edge since the sample before came. It
///   may be late by one sample, or missing; it may not be made up. Best is one source for both, so that they always fit.
/// - Pulses too short for a stroke are in no count; if they are noticed, they are told as `too_short`.
/// - The moment that comes with the sample is not earlier than any edge in it, and never earlier than that of the sample before.
/// - Nothing here waits: it is called with the logger locked, every 50 ms while the needle moves, every 90 ms at rest.
pub trait NeedleSource {
    /// Called a good while before [`Self::sample`] (before the knob is read), for hardware that compares two counters.
    fn prepare(&mut self) {}

    /// Count and stamps since the last call, and the moment that no edge of them is younger than.
    fn sample(&mut self) -> (UptimeMillis, NeedleSample);
}

/// Follows the counter and its stamps.
#[derive(Clone, Copy, Debug, Default)]
pub struct Needle {
    count: Option<u16>,
    sampled_at: UptimeMillis,
    /// The last edge told.
    latest: UptimeMillis,
    /// The last sample told edges, whose last stamp may be late.
    told_edges: bool,
    /// Edges of the last sample that wait for their stamp.
    unstamped: u16,
    /// Whether the last sample's last stamp belongs to an edge that is not counted yet.
    ahead: Ahead,
    mismatches: Mismatches,
}

impl Needle {
    /// A needle whose counter has not been looked at yet.
    #[must_use]
    pub const fn new() -> Self {
        Self {
            count: None,
            sampled_at: UptimeMillis(0),
            latest: UptimeMillis(0),
            told_edges: false,
            unstamped: 0,
            ahead: Ahead::No,
            mismatches: Mismatches { stamps_alone: 0, counts_alone: 0 },
        }
    }

    /// Takes one sample and tells the edges that are dated now: those that the sample before had left open, then those since.
    pub fn update(&mut self, now: UptimeMillis, sample: &NeedleSample) -> [Option<EdgeSpan>; 2] {
        let before = core::mem::replace(&mut self.sampled_at, now);
        let Some(count) = self.count.replace(sample.count) else { return [None; 2] };
        let edges = sample.count.wrapping_sub(count);
        note(&mut self.mismatches.counts_alone, sample.too_short);
        let mut stamps = sample.stamps(now);
        let open = self.settle(before, edges, &mut stamps);
        let told = self.take(before, now, edges, stamps);
        self.told_edges = told.is_some();
        [open, told]
    }

    /// How often count and stamp did not belong together since the start.
    #[must_use]
    pub const fn mismatches(&self) -> Mismatches {
        self.mismatches
    }

    /// Dates what the sample at `before` had left open, with a stamp that came late, if there is one.
    fn settle(&mut self, before: UptimeMillis, edges: u16, stamps: &mut Option<Stamps>) -> Option<EdgeSpan> {
        let unstamped = core::mem::take(&mut self.unstamped);
        // With edges of its own a stamp just behind the sample is theirs.
        let until = before.0.saturating_add(if edges == 0 { RACE_MS } else { 0 });
        let is_awaited = unstamped > 0 || self.told_edges;
        let late = stamps.filter(|it| is_awaited && it.first.0 <= until);
        if let Some(late) = late {
            *stamps = (late.last != late.first).then_some(Stamps { first: late.last, last: late.last });
        }
        let late = late.map(|it| it.first.min(before));
        if unstamped > 0 {
            note(&mut self.mismatches.counts_alone, unstamped - u16::from(late.is_some()));
            let first = late.unwrap_or(before);
            return Some(self.tell(unstamped, first, if unstamped == 1 { first } else { before }));
        }
        late.filter(|at| *at > self.latest).map(|at| self.tell(0, at, at))
    }

    fn take(
        &mut self,
        before: UptimeMillis,
        now: UptimeMillis,
        edges: u16,
        stamps: Option<Stamps>,
    ) -> Option<EdgeSpan> {
        let ahead = core::mem::take(&mut self.ahead);
        let is_sure = ahead == Ahead::Surely;
        let stamps = stamps.map(|it| Stamps { first: it.first.max(before), last: it.last.max(before) });
        let is_at_end = stamps.is_some_and(|it| it.last.0.saturating_add(RACE_MS) >= now.0);
        match (edges, stamps) {
            (0, Some(_)) => {
                note(&mut self.mismatches.stamps_alone, u16::from(is_sure) + u16::from(!is_at_end));
                self.ahead = if is_at_end { Ahead::Surely } else { Ahead::No };
                None
            }
            (0, None) => {
                note(&mut self.mismatches.stamps_alone, u16::from(is_sure));
                None
            }
            // Two stamps for one edge, and the second is at the end: it is ahead of its count, again.
            (1, Some(stamps)) if is_at_end && (is_sure || stamps.first != stamps.last) => {
                self.ahead = Ahead::Surely;
                let at = if is_sure { before } else { stamps.first };
                Some(self.tell(1, at, at))
            }
            (1, Some(stamps)) => {
                let are_two = is_sure || stamps.first != stamps.last;
                note(&mut self.mismatches.stamps_alone, u16::from(are_two));
                self.ahead = Ahead::perhaps(is_at_end);
                Some(self.tell(1, stamps.last, stamps.last))
            }
            (_, Some(stamps)) => {
                self.ahead = Ahead::perhaps(is_at_end);
                Some(self.tell(edges, if is_sure { before } else { stamps.first }, stamps.last))
            }
            (_, None) if ahead != Ahead::No => {
                Some(self.tell(edges, before, if edges == 1 { before } else { now }))
            }
            (_, None) => {
                self.unstamped = edges;
                None
            }
        }
    }

    fn tell(&mut self, edges: u16, first: UptimeMillis, last: UptimeMillis) -> EdgeSpan {
        let first = first.max(self.latest);
        let last = last.max(first);
        self.latest = last;
        EdgeSpan { edges: u32::from(edges), first_at: first, last_at: last }
    }
}

fn note(count: &mut u32, more: u16) {
    *count = count.saturating_add(u32::from(more));
}

/// Detects a rate of edges that no machine reaches.
#[derive(Clone, Copy, Debug, Default)]
pub struct RateMonitor {
    window: Option<(UptimeMillis, u32)>,
    implausible_at: Option<UptimeMillis>,
}

impl RateMonitor {
    /// A monitor without edges.
    #[must_use]
    pub const fn new() -> Self {
        Self { window: None, implausible_at: None }
    }

    /// Takes edges of one sample.
    pub fn take(&mut self, moved: &EdgeSpan) {
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

    /// Whether the rate is implausible, or was until a short while ago.
    pub fn is_implausible(&mut self, now: UptimeMillis) -> bool {
        self.implausible_at =
            self.implausible_at.filter(|at| now.0.saturating_sub(at.0) < PLAUSIBLE_AGAIN_MS);
        self.implausible_at.is_some()
    }
}

/// Detects a recent increase of a counter (retriggerable, [`MATCHED_AGAIN_MS`] long).
#[derive(Clone, Copy, Debug, Default)]
pub struct RecentIncrease {
    seen: u32,
    at: Option<UptimeMillis>,
}

impl RecentIncrease {
    /// A counter at zero.
    #[must_use]
    pub const fn new() -> Self {
        Self { seen: 0, at: None }
    }

    /// Whether the count has grown within the last [`MATCHED_AGAIN_MS`].
    pub fn update(&mut self, now: UptimeMillis, count: u32) -> bool {
        if count != self.seen {
            self.seen = count;
            self.at = Some(now);
        }
        self.at = self.at.filter(|at| now.0.saturating_sub(at.0) < MATCHED_AGAIN_MS);
        self.at.is_some()
    }
}

#[cfg(test)]
#[path = "needle_tests.rs"]
mod tests;
