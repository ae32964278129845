//! Running, tears and near-misses sorted into bands that add up to the whole.

use serde::Serialize;

use super::bands::{Cell, band_of, tops};
use super::exposure::{Exposure, Running};
use crate::entries::Harm;
use crate::stats::number;
use crate::studio::StrokeRatio;

/// Strokes, run time and harms of one part of the running.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Part {
    /// Strokes.
    pub strokes: u64,
    /// Run time in milliseconds.
    pub run_time_ms: u64,
    /// Tears.
    pub tears: u64,
    /// Near-misses, never added to the tears.
    pub near_misses: u64,
}

impl Part {
    /// Both of another added.
    #[must_use]
    pub const fn plus(self, other: Self) -> Self {
        Self {
            strokes: self.strokes.saturating_add(other.strokes),
            run_time_ms: self.run_time_ms.saturating_add(other.run_time_ms),
            tears: self.tears.saturating_add(other.tears),
            near_misses: self.near_misses.saturating_add(other.near_misses),
        }
    }
}

/// A harm and the reading before it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Seen {
    /// Which of the two.
    pub harm: Harm,
    /// The reading before it.
    pub reading: Option<u32>,
}

/// Running and harms sorted into bands.
#[derive(Clone, Debug, PartialEq)]
pub struct Banded {
    /// The highest reading of each band.
    pub tops: Vec<u32>,
    /// The bands, slow to fast.
    pub parts: Vec<Part>,
    /// What has no reading.
    pub unknown: Part,
}

impl Banded {
    /// Cuts the running at the quartiles of its strokes and sorts the harms into the same bands.
    #[must_use]
    pub fn of(ran: &Exposure, seen: &[Seen], ratio: StrokeRatio) -> Self {
        let cells: Vec<Cell> = ran
            .by_reading
            .iter()
            .map(|(reading, running)| Cell { reading: f64::from(*reading), exposure: number(running.edges) })
            .collect();
        let cuts = tops(&cells, 1);
        let mut running = vec![Running::default(); cuts.len()];
        let mut unknown = ran.unknown;
        for (reading, part) in &ran.by_reading {
            let band = band_of(&cuts, f64::from(*reading)).and_then(|band| running.get_mut(band));
            band.unwrap_or(&mut unknown).add(part.run_ms, part.edges);
        }
        let mut parts = strokes_of(running.iter().copied().chain([unknown]), ratio);
        let mut unknown = parts.pop().unwrap_or_default();
        for one in seen {
            let band = one.reading.and_then(|reading| band_of(&cuts, f64::from(reading)));
            let part = band.and_then(|band| parts.get_mut(band)).unwrap_or(&mut unknown);
            match one.harm {
                Harm::Tear => part.tears += 1,
                Harm::NearMiss => part.near_misses += 1,
            }
        }
        // Every reading below the last top belongs to a band; between bands the ranges join without a gap.
        let by_reading = ran.by_reading.keys().copied();
        let tops = by_reading.filter(|reading| cuts.contains(&f64::from(*reading))).collect();
        Self { tops, parts, unknown }
    }

    /// Bands and unknown together.
    #[must_use]
    pub fn totals(&self) -> Part {
        self.parts.iter().chain([&self.unknown]).fold(Part::default(), |sum, part| sum.plus(*part))
    }
}

/// Edges to strokes so that the parts add up to what the whole gives: each part gets what the sum so far grows by.
pub(super) fn strokes_of(running: impl Iterator<Item = Running>, ratio: StrokeRatio) -> Vec<Part> {
    let (mut edges, mut strokes) = (0_u64, 0_u64);
    running
        .map(|part| {
            edges = edges.saturating_add(part.edges);
            let so_far = ratio.strokes(edges);
            let own = so_far - strokes;
            strokes = so_far;
            Part { strokes: own, run_time_ms: part.run_ms, ..Part::default() }
        })
        .collect()
}
