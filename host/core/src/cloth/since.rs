//! Tears by how long the machine had run since the cloth was tensioned. Slack cloth is named first by nearly all makers, so this
//! stands beside the question of speed, as a hint.

use std::collections::BTreeMap;

use serde::Serialize;

use super::exposure_sequence::Step;
use super::harms::HarmId;
use super::strata::{Side, Strata};
use crate::entries::Harm;
use crate::stats::{Estimate, Level, MINUTE_MS, TooManyEvents, exact_ratio};
use crate::studio::StrokeRatio;

/// Running of a kind, and the tears in it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Stretch {
    /// Strokes.
    pub strokes: u64,
    /// Run time in milliseconds.
    pub run_time_ms: u64,
    /// Tears.
    pub tears: u64,
}

/// Running sorted by the run time since tensioning.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Since {
    /// Run time since tensioning, in milliseconds: the end of the first band, and of the second; the third has none.
    pub band_ends_ms: [u64; 2],
    /// The three bands.
    pub bands: [Stretch; 3],
    /// Running of which it is not known when the cloth was tensioned.
    pub unknown: Stretch,
    /// Tears per stroke in the third band over the first, within rugs; a hint.
    pub late_to_early: Estimate,
    /// Rugs with a tear in one of the two bands and strokes in both.
    pub informative_rugs: u64,
}

/// 10 and 20 run minutes, in milliseconds: once and twice what the trade gives as a start value, which is weak.
const BAND_ENDS_MS: [u64; 2] = [10 * MINUTE_MS, 20 * MINUTE_MS];

/// Sorts a course. Whoever tears cloth tensions it again, pressed or not: the count ends at a tear.
///
/// # Errors
/// When there are more tears than can be compared.
pub fn since_tensioning(steps: &[Step], ratio: StrokeRatio, level: Level) -> Result<Since, TooManyEvents> {
    let [first, second] = BAND_ENDS_MS;
    let band = |run_ms: u64| usize::from(run_ms >= first) + usize::from(run_ms >= second);
    let (mut bands, mut unknown) = ([Tally::default(); 3], Tally::default());
    let mut strata = Strata::default();
    let mut since_ms: Option<u64> = None;
    for step in steps {
        let place = since_ms.map(band);
        let side = match place {
            Some(0) => Some(Side::Lower),
            Some(2) => Some(Side::Upper),
            _ => None,
        };
        let tally = place.and_then(|place| bands.get_mut(place)).unwrap_or(&mut unknown);
        match step {
            Step::Ran(ran) => {
                tally.run_ms += ran.run_ms;
                tally.edges += ran.edges;
                if let Some(side) = side {
                    strata.add_running(ran, side);
                }
                since_ms = since_ms.map(|since| since + ran.run_ms);
            }
            Step::Hurt(hurt) if hurt.harm == Harm::Tear => {
                tally.tears += 1;
                if let Some(side) = side {
                    strata.add_harm(hurt, side);
                }
                since_ms = None;
            }
            Step::Tensioned => since_ms = Some(0),
            Step::Hurt(_) => {}
        }
    }
    let exact = exact_ratio(&strata.pairs(), level)?;
    Ok(Since {
        band_ends_ms: BAND_ENDS_MS,
        bands: bands.map(|tally| tally.stretch(ratio)),
        unknown: unknown.stretch(ratio),
        late_to_early: Estimate { estimate: exact.estimate, low: exact.low, high: exact.high },
        informative_rugs: exact.informative_strata,
    })
}

/// Run time since tensioning at each tear and near-miss where it is known, in milliseconds. The count ends at a tear, as above;
/// where nothing was counted since, nobody knows.
#[must_use]
pub fn since_at_harms(steps: &[Step]) -> BTreeMap<HarmId, u64> {
    let mut found = BTreeMap::new();
    let mut since_ms: Option<u64> = None;
    for step in steps {
        match step {
            Step::Ran(ran) => since_ms = since_ms.map(|since| since + ran.run_ms),
            Step::Hurt(hurt) => {
                found.extend(hurt.id.zip(since_ms.filter(|since| *since > 0)));
                if hurt.harm == Harm::Tear {
                    since_ms = None;
                }
            }
            Step::Tensioned => since_ms = Some(0),
        }
    }
    found
}

#[derive(Clone, Copy, Debug, Default)]
struct Tally {
    run_ms: u64,
    edges: u64,
    tears: u64,
}

impl Tally {
    fn stretch(self, ratio: StrokeRatio) -> Stretch {
        Stretch { strokes: ratio.strokes(self.edges), run_time_ms: self.run_ms, tears: self.tears }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cloth::exposure_sequence::{Hurt, Ran};
    use crate::entries::EntryId;
    use crate::studio::RugIndex;

    const MINUTE: u64 = 60_000;

    fn ran(minutes: u64) -> Step {
        let run_ms = minutes * MINUTE;
        Step::Ran(Ran { rug: Some(RugIndex::of(0)), run_ms, edges: minutes * 600, ..Ran::default() })
    }

    const TEAR: Step =
        Step::Hurt(Hurt { id: None, harm: Harm::Tear, rug: Some(RugIndex::of(0)), lot: None, knob: None });

    #[test]
    fn each_tear_and_near_miss_knows_how_long_the_cloth_was_tight_and_after_a_tear_nobody_does() {
        let hurt = |entry, harm| {
            Step::Hurt(Hurt {
                id: Some(HarmId::Entry(EntryId(entry))),
                harm,
                rug: None,
                lot: None,
                knob: None,
            })
        };
        let steps = [
            ran(5),
            hurt(1, Harm::NearMiss),
            Step::Tensioned,
            ran(12),
            hurt(2, Harm::NearMiss),
            ran(3),
            hurt(3, Harm::Tear),
            ran(7),
            hurt(4, Harm::Tear),
            Step::Tensioned,
            hurt(5, Harm::Tear),
        ];
        let known = since_at_harms(&steps).into_iter();
        let known: Vec<(String, u64)> = known.map(|(id, ms)| (id.to_string(), ms / MINUTE)).collect();
        assert_eq!(known, [("e2".to_owned(), 12), ("e3".to_owned(), 15)]);
    }

    #[test]
    fn minutes_since_tensioning_end_at_the_tear() {
        // Not known 5; then 10 + 10 + 3 after tensioning and a tear; 7 more of which nothing is known; tensioned; 4 and a tear.
        let steps =
            [ran(5), Step::Tensioned, ran(10), ran(10), ran(3), TEAR, ran(7), Step::Tensioned, ran(4), TEAR];
        let found = since_tensioning(&steps, StrokeRatio::ONE, Level::USUAL).unwrap();
        assert_eq!(found.bands.map(|band| band.run_time_ms / MINUTE), [14, 10, 3]);
        assert_eq!(found.bands.map(|band| band.tears), [1, 0, 1]);
        assert_eq!((found.unknown.run_time_ms / MINUTE, found.unknown.tears), (12, 0));
        // One tear each in 3 and 14 minutes: 14/3.
        assert!((found.late_to_early.estimate.unwrap() - 14.0 / 3.0).abs() < 1e-9);
    }
}
