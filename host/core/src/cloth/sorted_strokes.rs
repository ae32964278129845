//! Few tears without a rate: a rug's strokes sorted from slow to fast, and where among them each tear and near-miss lies. Where speed
//! does nothing they lie anywhere; where it tears they crowd at the fast end.

use std::collections::BTreeMap;

use serde::Serialize;

use super::exposure_sequence::{ExposureSequence, Hurt, Step};
use crate::entries::Harm;
use crate::stats::number;
use crate::studio::{RugIndex, StrokeRatio, Studio};

/// With fewer tears no rates are drawn: one more or less would change them too much (the project's choice).
pub const FEWEST_FOR_RATES: u64 = 10;

/// Shares of the strokes at which the knob's place is told.
const TOLD_AT: [f64; 5] = [0.0, 0.25, 0.5, 0.75, 1.0];

/// A tear or near-miss among a rug's strokes.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct HarmPlace {
    /// Which of the two.
    pub harm: Harm,
    /// Share of the rug's strokes that were slower, 0 to 1; of those at the same place of the knob half.
    pub slower_share: f64,
    /// The knob before it, per mille of travel.
    pub knob_per_mille: u32,
}

/// The knob's place at a share of the strokes.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct KnobAt {
    /// Share of the strokes that were slower, 0 to 1.
    pub slower_share: f64,
    /// The knob's place there, per mille of travel.
    pub knob_per_mille: u32,
}

/// A rug with tears or near-misses.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct RugStrokes {
    /// Its name.
    pub rug: String,
    /// Strokes of which the knob's place is known.
    pub strokes: u64,
    /// The knob along them, slow to fast.
    pub knob: Vec<KnobAt>,
    /// Tears and near-misses, in the order in which they happened.
    pub harms: Vec<HarmPlace>,
}

/// Tears and near-misses among the strokes of their rugs.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SortedStrokes {
    /// Rugs with tears or near-misses, in the order in which they were taken.
    pub rugs: Vec<RugStrokes>,
    /// Tears that lie nowhere: of no rug, or the knob before them is not known.
    pub tears_not_placed: u64,
    /// Near-misses that lie nowhere.
    pub near_misses_not_placed: u64,
}

impl SortedStrokes {
    /// Sorts a machine's strokes.
    #[must_use]
    pub fn of(studio: &Studio, course: &ExposureSequence, ratio: StrokeRatio) -> Self {
        let mut ran: BTreeMap<RugIndex, BTreeMap<u32, u64>> = BTreeMap::new();
        let mut hurts: BTreeMap<RugIndex, Vec<(Hurt, u32)>> = BTreeMap::new();
        let (mut tears_not_placed, mut near_misses_not_placed) = (0, 0);
        for step in &course.steps {
            match step {
                Step::Ran(piece) => {
                    if let (Some(rug), Some(knob)) = (piece.rug, piece.knob) {
                        let sum = ran.entry(rug).or_default().entry(knob).or_default();
                        *sum = sum.saturating_add(piece.edges);
                    }
                }
                Step::Hurt(hurt) => match (hurt.rug, hurt.knob) {
                    (Some(rug), Some(knob)) => hurts.entry(rug).or_default().push((*hurt, knob)),
                    _ if hurt.harm == Harm::Tear => tears_not_placed += 1,
                    _ => near_misses_not_placed += 1,
                },
                Step::Tensioned => {}
            }
        }
        let mut rugs = Vec::new();
        for (rug, hurts) in hurts {
            let sorted = ran.get(&rug).map(Sorted::of).filter(|sorted| sorted.all > 0);
            let (Some(sorted), Some(card)) = (sorted, studio.rug_at(rug)) else {
                for (hurt, _) in hurts {
                    match hurt.harm {
                        Harm::Tear => tears_not_placed += 1,
                        Harm::NearMiss => near_misses_not_placed += 1,
                    }
                }
                continue;
            };
            rugs.push(RugStrokes {
                rug: card.order.rug.0.clone(),
                strokes: ratio.strokes(sorted.all),
                knob: TOLD_AT.into_iter().filter_map(|share| sorted.knob_at(share)).collect(),
                harms: hurts.iter().map(|(hurt, knob)| sorted.place(hurt.harm, *knob)).collect(),
            });
        }
        Self { rugs, tears_not_placed, near_misses_not_placed }
    }
}

/// A rug's edges by the knob's place.
struct Sorted<'a> {
    by_knob: &'a BTreeMap<u32, u64>,
    all: u64,
}

impl<'a> Sorted<'a> {
    fn of(by_knob: &'a BTreeMap<u32, u64>) -> Self {
        Self { by_knob, all: by_knob.values().fold(0, |sum, edges| sum.saturating_add(*edges)) }
    }

    fn place(&self, harm: Harm, knob: u32) -> HarmPlace {
        let slower = self.by_knob.range(..knob).fold(0, |sum: u64, (_, edges)| sum.saturating_add(*edges));
        let alike = self.by_knob.get(&knob).copied().unwrap_or(0);
        let before = number(slower) + number(alike) / 2.0;
        HarmPlace { harm, slower_share: before / number(self.all), knob_per_mille: knob }
    }

    /// The lowest place up to which so many strokes were made.
    fn knob_at(&self, share: f64) -> Option<KnobAt> {
        let mut sum: u64 = 0;
        let mut last = None;
        for (knob, edges) in self.by_knob.iter().filter(|(_, edges)| **edges > 0) {
            sum = sum.saturating_add(*edges);
            last = Some(*knob);
            if number(sum) >= share * number(self.all) {
                break;
            }
        }
        last.map(|knob| KnobAt { slower_share: share, knob_per_mille: knob })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cloth::exposure_sequence::Ran;
    use crate::test_facts::{entries, machine, rug};

    fn ran(rug: usize, knob: Option<u32>, edges: u64) -> Step {
        Step::Ran(Ran { rug: Some(RugIndex::of(rug)), knob, edges, ..Ran::default() })
    }

    fn hurt(harm: Harm, rug: usize, knob: Option<u32>) -> Step {
        Step::Hurt(Hurt { id: None, harm, rug: Some(RugIndex::of(rug)), lot: None, knob })
    }

    #[test]
    fn a_tear_lies_after_the_strokes_that_were_slower() {
        let studio = Studio::of(&entries([machine(1), rug("Fox"), rug("Bear"), rug("Owl")]));
        // Fox: 100 edges at 200, 200 at 500, 100 at 900, and 50 of which the knob is not known. Bear is whole. Owl never ran.
        let steps = vec![
            ran(0, Some(900), 100),
            ran(0, Some(200), 100),
            hurt(Harm::Tear, 0, Some(500)),
            ran(0, Some(500), 200),
            ran(0, None, 50),
            ran(1, Some(500), 70),
            hurt(Harm::NearMiss, 0, Some(950)),
            hurt(Harm::Tear, 0, None),
            hurt(Harm::NearMiss, 2, Some(500)),
        ];
        let course = ExposureSequence { steps, lots: Vec::new() };
        let sorted = SortedStrokes::of(&studio, &course, StrokeRatio::ONE);
        assert_eq!((sorted.rugs.len(), sorted.tears_not_placed, sorted.near_misses_not_placed), (1, 1, 1));
        let fox = &sorted.rugs[0];
        assert_eq!((fox.rug.as_str(), fox.strokes), ("Fox", 400));
        // By hand: 100 of 400 were slower than 500, half of its 200 are counted; all were slower than 950.
        let places: Vec<f64> = fox.harms.iter().map(|harm| harm.slower_share).collect();
        assert_eq!(places, [0.5, 1.0]);
        let knob: Vec<u32> = fox.knob.iter().map(|at| at.knob_per_mille).collect();
        assert_eq!(knob, [200, 200, 500, 500, 900]);
    }
}
