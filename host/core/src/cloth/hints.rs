//! What stands beside the primary question: near-misses, the cloth, the trend over the whole knob. Hints, each with limits and none
//! with a probability: whoever asks ten questions gets one false answer.

use std::collections::BTreeMap;

use serde::Serialize;

use super::exposure_sequence::{LotIndex, Step};
use super::strata::{Side, Strata, place_of, side};
use crate::entries::Harm;
use crate::stats::{
    Estimate, Level, Observed, Pair, TooManyEvents, TrendRow, exact_ratio, fisher, mantel_haenszel, number,
    share, trend,
};
use crate::studio::RugIndex;

/// Below this probability, worked out but not shown, two things are said to differ.
const DIFFERS_P: f64 = 0.05;
/// The trend is told for a tenth of the knob's travel. Per mille.
const TREND_STEP: f64 = 100.0;

/// Hints beside the primary question.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct Hints {
    /// Near-misses per stroke, fast over slow, within rugs; never added to the tears.
    pub near_misses_fast_to_slow: Estimate,
    /// The share of tears among tears and near-misses while fast.
    pub tear_share_fast: Option<f64>,
    /// ... and while slow.
    pub tear_share_slow: Option<f64>,
    /// The two shares differ more than chance makes them: near-misses may not be pressed alike at both speeds.
    pub uneven_reporting: bool,
    /// Tears per stroke, fast over slow, by weights within cloth lots.
    pub by_cloth_lot: Estimate,
    /// The lots disagree about it; null with fewer than two lots that say anything.
    pub cloth_lots_disagree: Option<bool>,
    /// By what factor tears per stroke grow for each tenth of the knob's travel, within rugs; limits widened by the scatter of
    /// the sessions.
    pub trend_for_a_tenth_of_the_knob: Estimate,
    /// How much more sessions differ than chance alone would make them; 1 for chance alone. May be below 1.
    pub scatter_of_sessions: Option<f64>,
}

/// Gathers the hints, with the cut of the primary question.
///
/// # Errors
/// When there are more near-misses than can be compared.
pub fn hints(steps: &[Step], cut: u32, level: Level) -> Result<Hints, TooManyEvents> {
    let mut near_misses = Strata::default();
    let (mut tears, mut nearly) = ([0_u64; 2], [0_u64; 2]);
    for step in steps {
        match step {
            Step::Ran(ran) => {
                if let Some(knob) = ran.knob {
                    near_misses.add_running(ran, side(cut, knob));
                }
            }
            Step::Hurt(hurt) => {
                let Some(knob) = hurt.knob else { continue };
                let side = side(cut, knob);
                let counts = if hurt.harm == Harm::Tear { &mut tears } else { &mut nearly };
                match side {
                    Side::Upper => counts[0] += 1,
                    Side::Lower => counts[1] += 1,
                }
                if hurt.harm == Harm::NearMiss {
                    near_misses.add_harm(hurt, side);
                }
            }
            _ => {}
        }
    }
    let nearly_ratio = exact_ratio(&near_misses.pairs(), level)?;
    let lots = mantel_haenszel(&by_lot(steps, cut), level);
    let trend = trend(&sessions(steps));
    Ok(Hints {
        near_misses_fast_to_slow: Estimate {
            estimate: nearly_ratio.estimate,
            low: nearly_ratio.low,
            high: nearly_ratio.high,
        },
        tear_share_fast: share([tears[0], nearly[0]]),
        tear_share_slow: share([tears[1], nearly[1]]),
        uneven_reporting: fisher([tears[0], nearly[0]], [tears[1], nearly[1]]) <= DIFFERS_P,
        by_cloth_lot: Estimate { estimate: lots.estimate, low: lots.low, high: lots.high },
        cloth_lots_disagree: lots.p_strata_differ.map(|p| p <= DIFFERS_P),
        trend_for_a_tenth_of_the_knob: trend.factor(TREND_STEP, level),
        scatter_of_sessions: trend.dispersion,
    })
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

/// One row for each session, rug and tenth of the knob's travel in it: the score is the middle of the tenth.
fn sessions(steps: &[Step]) -> Vec<TrendRow> {
    let mut rows: BTreeMap<(RugIndex, usize, u32), Observed> = BTreeMap::new();
    let mut session = 0;
    for step in steps {
        let (rug, knob, seen) = match step {
            Step::Ran(ran) => {
                session = ran.session;
                (ran.rug, ran.knob, Observed { events: 0, exposure: number(ran.edges) })
            }
            Step::Hurt(hurt) if hurt.harm == Harm::Tear && place_of(hurt).is_some() => {
                (hurt.rug, hurt.knob, Observed { events: 1, exposure: 0.0 })
            }
            _ => continue,
        };
        if let (Some(rug), Some(knob)) = (rug, knob) {
            let row = rows.entry((rug, session, knob.min(999) / 100)).or_default();
            *row = row.plus(seen);
        }
    }
    rows.into_iter()
        // A tear at a place where the session never ran says that one of the two was misread; it cannot be used here.
        .filter(|(_, seen)| seen.exposure > 0.0)
        .map(|((rug, _, tenth), seen)| TrendRow { score: f64::from(tenth * 100 + 50), stratum: rug.0, seen })
        .collect()
}
