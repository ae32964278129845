//! A needle that moves, and the truth about its motion.
//!
//! The truth is summed up here from the motion itself and shares no code with the logger: it knows the published idle gap
//! and nothing else of it. Edges fall on whole milliseconds.

use std::collections::BTreeMap;
use std::vec::Vec;

use shared_types::limits::IDLE_GAP_MS;
use shared_types::{Edges, RunMillis, Totals};

use crate::split_mix::SplitMix64;

/// One stroke in the unit of the phase.
const STROKE: u64 = 1_000_000;
/// The speed is constant for this long. Milliseconds.
const STRIDE_MS: u64 = 10;
/// Time in which the speed covers most of its way to where it is driven. Milliseconds.
const SPIN_UP_MS: i64 = 120;
/// The same when the trigger is released.
const SPIN_DOWN_MS: i64 = 90;
/// Below this a motor without current stands still. Thousandths of a stroke per second.
const STALL: i64 = 3_000;
/// The load changes this often. Milliseconds.
const LOAD_EVERY_MS: u64 = 40;

/// What the needle really did.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Truth {
    /// All motion.
    pub all: Totals,
    /// The motion during which the logger had power: edges at which it was powered, and the time between two of them in one
    /// and the same boot.
    pub powered: Totals,
    /// Bursts that began while the logger had power.
    pub powered_bursts: u64,
    /// The powered motion by the tag that was set when it happened.
    pub powered_by_tag: BTreeMap<u32, Totals>,
}

impl Truth {
    fn edge(&mut self, gap: Option<u64>, powered: bool, powered_gap: Option<u64>, tag: u32) {
        let ran = |gap: Option<u64>| gap.filter(|gap| *gap < u64::from(IDLE_GAP_MS));
        let run = RunMillis(ran(gap).unwrap_or(0));
        self.all = self.all.plus(run, Edges(1));
        if powered {
            let inside = ran(powered_gap);
            let run = RunMillis(inside.unwrap_or(0));
            self.powered_bursts += u64::from(inside.is_none());
            self.powered = self.powered.plus(run, Edges(1));
            let tagged = self.powered_by_tag.entry(tag).or_default();
            *tagged = tagged.plus(run, Edges(1));
        }
    }
}

/// A motor with a needle on it.
#[derive(Clone, Debug)]
pub struct NeedleSim {
    now_ms: u64,
    /// Thousandths of a stroke per second, which are millionths of a stroke per millisecond.
    speed: i64,
    phase: u64,
    load_permille: i64,
    load_until_ms: u64,
    rng: SplitMix64,
    last_edge_ms: Option<u64>,
    last_powered_edge_ms: Option<u64>,
    truth: Truth,
}

impl NeedleSim {
    /// A needle at rest at moment zero.
    #[must_use]
    pub fn new(seed: u64) -> Self {
        Self {
            now_ms: 0,
            speed: 0,
            phase: 0,
            load_permille: 1_000,
            load_until_ms: 0,
            rng: SplitMix64::new(seed),
            last_edge_ms: None,
            last_powered_edge_ms: None,
            truth: Truth::default(),
        }
    }

    /// The simulation's time in milliseconds.
    #[must_use]
    pub const fn now_ms(&self) -> u64 {
        self.now_ms
    }

    /// Whether it moves.
    #[must_use]
    pub const fn is_moving(&self) -> bool {
        self.speed > 0
    }

    /// What it really did so far.
    #[must_use]
    pub const fn truth(&self) -> &Truth {
        &self.truth
    }

    /// The logger lost its power, or got it: time that spans this moment is not the logger's.
    pub const fn power_changed(&mut self) {
        self.last_powered_edge_ms = None;
    }

    /// Lets time pass with the needle at rest. A needle that still moves is stopped.
    pub fn rest_until(&mut self, until_ms: u64) {
        self.speed = 0;
        self.now_ms = self.now_ms.max(until_ms);
    }

    /// Moves on for `ms` milliseconds, driven towards `drive` thousandths of a stroke per second (zero: trigger released), and
    /// appends the moments of the edges to `edges`.
    pub fn advance(&mut self, ms: u64, drive: u32, powered: bool, tag: u32, edges: &mut Vec<u64>) {
        let end = self.now_ms + ms;
        while self.now_ms < end {
            let stride = STRIDE_MS.min(end - self.now_ms);
            self.change_speed(stride, i64::from(drive));
            self.stride(stride, powered, tag, edges);
        }
    }

    fn change_speed(&mut self, stride: u64, drive: i64) {
        if drive > 0 && self.now_ms >= self.load_until_ms {
            self.load_until_ms = self.now_ms + LOAD_EVERY_MS;
            // Yarn and cloth hold the needle back by nothing to six per cent.
            self.load_permille = 940 + i64::try_from(self.rng.below(61)).unwrap_or(0);
        }
        let target = drive * self.load_permille / 1_000;
        let slowness = if drive > 0 { SPIN_UP_MS } else { SPIN_DOWN_MS };
        self.speed += (target - self.speed) * i64::try_from(stride).unwrap_or(0) / slowness;
        if drive == 0 && self.speed < STALL {
            self.speed = 0;
        }
    }

    fn stride(&mut self, stride: u64, powered: bool, tag: u32, edges: &mut Vec<u64>) {
        let speed = u64::try_from(self.speed).unwrap_or(0);
        let mut left = stride;
        // An edge falls on the first whole millisecond at which its stroke is full.
        while let Some(needed) =
            (STROKE - self.phase).checked_next_multiple_of(speed).map(|full| full / speed)
            && needed <= left
        {
            left -= needed;
            self.now_ms += needed;
            self.phase = self.phase + needed * speed - STROKE;
            self.edge(powered, tag);
            edges.push(self.now_ms);
        }
        self.phase += left * speed;
        self.now_ms += left;
    }

    fn edge(&mut self, powered: bool, tag: u32) {
        let since = |last: Option<u64>| last.map(|last| self.now_ms - last);
        let (gap, powered_gap) = (since(self.last_edge_ms), since(self.last_powered_edge_ms));
        self.truth.edge(gap, powered, powered_gap, tag);
        self.last_edge_ms = Some(self.now_ms);
        if powered {
            self.last_powered_edge_ms = Some(self.now_ms);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn moments(drive_ms: u64, drive: u32) -> (NeedleSim, Vec<u64>) {
        let mut needle = NeedleSim::new(5);
        let mut edges = Vec::new();
        needle.advance(drive_ms, drive, true, 3, &mut edges);
        while needle.is_moving() {
            needle.advance(10, 0, true, 3, &mut edges);
        }
        (needle, edges)
    }

    #[test]
    fn the_truth_is_the_sum_over_the_edges_that_came_out() {
        let (needle, edges) = moments(20_000, 15_000);
        let expected =
            Totals { run: RunMillis(edges.last().unwrap() - edges[0]), edges: Edges(edges.len() as u64) };
        assert_eq!(needle.truth().all, expected);
        assert_eq!(needle.truth().powered, expected);
        assert_eq!(needle.truth().powered_by_tag[&3], expected);
        assert_eq!(needle.truth().powered_bursts, 1);
    }

    #[test]
    fn the_needle_runs_at_the_driven_speed_less_the_load() {
        let (_, edges) = moments(60_000, 15_000);
        // 15 strokes per second for a minute are 900; the load takes 3 per cent on average, the ramps a few strokes.
        assert!((860..=885).contains(&edges.len()), "{} strokes", edges.len());
    }

    #[test]
    fn how_time_is_cut_does_not_add_or_lose_edges_by_more_than_the_ramp() {
        let mut needle = NeedleSim::new(5);
        let mut edges = Vec::new();
        for _ in 0..400 {
            needle.advance(50, 15_000, true, 0, &mut edges);
        }
        let (_, at_once) = moments(20_000, 15_000);
        assert!(at_once.starts_with(&edges), "the same strides give the same edges");
    }

    #[test]
    fn a_pause_of_the_idle_gap_is_no_running() {
        let (mut needle, mut edges) = moments(1_000, 15_000);
        let first = needle.truth().all.run.0;
        needle.rest_until(edges.last().unwrap() + 5_000);
        let before = edges.len();
        needle.advance(1_000, 15_000, true, 3, &mut edges);
        let second = edges.last().unwrap() - edges[before];
        assert_eq!(needle.truth().all.run.0, first + second);
        assert_eq!(needle.truth().powered_bursts, 2);
    }

    #[test]
    fn time_that_spans_a_change_of_power_is_not_the_loggers() {
        let mut needle = NeedleSim::new(5);
        let mut edges = Vec::new();
        needle.advance(5_000, 15_000, true, 0, &mut edges);
        let before = edges.len();
        needle.power_changed();
        needle.advance(5_000, 15_000, true, 0, &mut edges);
        let missing = edges[before] - edges[before - 1];
        assert_eq!(needle.truth().all.run.0 - needle.truth().powered.run.0, missing);
        assert_eq!(needle.truth().powered_bursts, 2);
    }
}
