//! What stands beside the primary question: tears per stroke within cloth lots. A hint, with limits and without a probability:
//! whoever asks ten questions gets one false answer.

use std::collections::BTreeMap;

use serde::Serialize;

use super::exposure_sequence::{LotIndex, Step};
use super::strata::{Side, side};
use crate::entries::Harm;
use crate::stats::{Estimate, Level, Observed, Pair, mantel_haenszel, number};

/// Below this probability, worked out but not shown, lots are said to differ.
const DIFFERS_P: f64 = 0.05;

/// Hints beside the primary question.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct Hints {
    /// Tears per stroke, fast over slow, by weights within cloth lots.
    pub by_cloth_lot: Estimate,
    /// The lots disagree about it; null with fewer than two lots that say anything.
    pub cloth_lots_disagree: Option<bool>,
}

/// Gathers the hints, with the cut of the primary question.
#[must_use]
pub fn hints(steps: &[Step], cut: u32, level: Level) -> Hints {
    let lots = mantel_haenszel(&by_lot(steps, cut), level);
    Hints {
        by_cloth_lot: Estimate { estimate: lots.estimate, low: lots.low, high: lots.high },
        cloth_lots_disagree: lots.p_strata_differ.map(|p| p <= DIFFERS_P),
    }
}

fn by_lot(steps: &[Step], cut: u32) -> Vec<Pair> {
    let mut lots: BTreeMap<LotIndex, Pair> = BTreeMap::new();
    for step in steps {
        let (lot, knob, seen) = match step {
            Step::Ran(ran) => (ran.lot, ran.knob, Observed { events: 0, exposure: number(ran.edges) }),
            Step::Hurt(hurt) if hurt.harm == Harm::Tear => {
                (hurt.lot, hurt.knob, Observed { events: 1, exposure: 0.0 })
            }
            _ => continue,
        };
        let (Some(lot), Some(knob)) = (lot, knob) else { continue };
        let pair = lots.entry(lot).or_default();
        match side(cut, knob) {
            Side::Upper => pair.upper = pair.upper.plus(seen),
            Side::Lower => pair.lower = pair.lower.plus(seen),
        }
    }
    lots.into_values().collect()
}
