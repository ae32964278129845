//! How fast the machine ran at each place of the knob, and how its strokes were shared between the places.

use super::PLACES;
use crate::cloth::exposure_sequence::{LotIndex, Step};
use crate::entries::Harm;
use crate::stats::{isotonic, number};
use crate::studio::StrokeRatio;
use std::collections::BTreeSet;

/// Running at one place of the knob.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Place {
    /// Which of the equal parts of the travel, from 0.
    pub part: usize,
    /// The stroke rate there, strokes per second; never lower than at a slower place.
    pub strokes_per_second: f64,
    /// Its share of all strokes at known places.
    pub share: f64,
    /// Doublings of the stroke rate above the mean of all strokes.
    pub doublings: f64,
    /// Strokes.
    pub strokes: f64,
    /// Tears.
    pub tears: u64,
}

/// A machine's running on cloth.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Running {
    /// Places at which it ran, slow to fast.
    pub places: Vec<Place>,
    /// Rugs that it worked on.
    pub rugs: u64,
    /// Strokes of a rug, the mean; none without a rug.
    pub strokes_per_rug: Option<f64>,
    /// All strokes on cloth, the knob known or not.
    pub strokes: f64,
    /// All tears, the knob before them known or not.
    pub tears: u64,
    /// How much more the tears of rugs scatter than chance alone makes them; never below 1.
    pub scatter: f64,
}

/// The part of the travel in which a knob place lies.
#[must_use]
pub fn part_of(knob_per_mille: u32) -> usize {
    usize::try_from(knob_per_mille.min(1_000)).unwrap_or(0) * PLACES / 1_001
}

/// The highest knob place of a part, per mille of the travel.
#[must_use]
pub fn top_of(part: usize) -> u32 {
    let parts = u32::try_from(PLACES).unwrap_or(1);
    u32::try_from(part).map_or(1_000, |part| (part + 1) * 1_000 / parts)
}

impl Running {
    /// Sums a course up, or what was run and torn of one cloth.
    #[must_use]
    pub fn of(steps: &[Step], ratio: StrokeRatio, only: Option<LotIndex>) -> Self {
        let (edges_of, strokes_of) = ratio.parts();
        let per_edge = f64::from(strokes_of) / f64::from(edges_of);
        let mut sums = [Sums::default(); PLACES];
        let mut rugs = BTreeSet::new();
        let (mut strokes, mut on_rugs, mut tears) = (0.0, 0.0, 0);
        let is_wanted = |lot: Option<LotIndex>| only.is_none() || lot == only;
        for step in steps {
            match step {
                Step::Ran(ran) if is_wanted(ran.lot) => {
                    let made = number(ran.edges) * per_edge;
                    strokes += made;
                    if ran.rug.is_some() {
                        rugs.extend(ran.rug);
                        on_rugs += made;
                    }
                    if let Some(sum) = ran.knob.and_then(|knob| sums.get_mut(part_of(knob))) {
                        sum.strokes += made;
                        sum.add_rate(ran.rate, ran.run_ms);
                    }
                }
                Step::Hurt(hurt) if hurt.harm == Harm::Tear && is_wanted(hurt.lot) => {
                    tears += 1;
                    if let Some(sum) = hurt.knob.and_then(|knob| sums.get_mut(part_of(knob))) {
                        sum.tears += 1;
                    }
                }
                _ => {}
            }
        }
        let rugs = u64::try_from(rugs.len()).unwrap_or(u64::MAX);
        Self {
            places: places(&sums),
            rugs,
            strokes_per_rug: (rugs > 0 && on_rugs > 0.0).then(|| on_rugs / number(rugs)),
            strokes,
            tears,
            scatter: scatter(steps, only),
        }
    }

    /// The place of the running that is nearest to a part of the travel; none without any.
    #[must_use]
    pub fn nearest(&self, part: usize) -> Option<usize> {
        (0..self.places.len())
            .min_by_key(|index| self.places.get(*index).map(|place| place.part.abs_diff(part)))
    }
}

#[derive(Clone, Copy, Debug, Default)]
struct Sums {
    strokes: f64,
    rate_times_ms: f64,
    rated_ms: f64,
    tears: u64,
}

impl Sums {
    fn add_rate(&mut self, tenths: Option<u32>, run_ms: u64) {
        if let Some(tenths) = tenths {
            self.rate_times_ms += f64::from(tenths) / 10.0 * number(run_ms);
            self.rated_ms += number(run_ms);
        }
    }
}

/// Places with strokes and a rate above zero. A faster place is never given a lower rate than a slower one: what little running
/// there is at some places would else make a faster knob look slower.
fn places(sums: &[Sums; PLACES]) -> Vec<Place> {
    let rated = sums.iter().enumerate().filter(|(_, sum)| sum.strokes > 0.0 && sum.rate_times_ms > 0.0);
    let rates: Vec<f64> = rated.clone().map(|(_, sum)| sum.rate_times_ms / sum.rated_ms).collect();
    let weights: Vec<f64> = rated.clone().map(|(_, sum)| sum.rated_ms).collect();
    let rates = isotonic(&rates, &weights);
    let all: f64 = rated.clone().map(|(_, sum)| sum.strokes).sum();
    let mut places: Vec<Place> = rated
        .zip(rates)
        .map(|((part, sum), rate)| Place {
            part,
            strokes_per_second: rate,
            share: sum.strokes / all,
            doublings: rate.log2(),
            strokes: sum.strokes,
            tears: sum.tears,
        })
        .collect();
    let mean: f64 = places.iter().map(|place| place.share * place.doublings).sum();
    for place in &mut places {
        place.doublings -= mean;
    }
    places
}

/// Pearson's chi-square of the rugs' tears against their strokes, over its degrees of freedom; at least 1.
fn scatter(steps: &[Step], only: Option<LotIndex>) -> f64 {
    let mut rugs = std::collections::BTreeMap::new();
    for step in steps {
        match step {
            Step::Ran(ran) if only.is_none() || ran.lot == only => {
                if let Some(rug) = ran.rug {
                    rugs.entry(rug).or_insert((0.0, 0.0)).1 += number(ran.edges);
                }
            }
            Step::Hurt(hurt) if hurt.harm == Harm::Tear && (only.is_none() || hurt.lot == only) => {
                if let Some(rug) = hurt.rug {
                    rugs.entry(rug).or_insert((0.0, 0.0)).0 += 1.0;
                }
            }
            _ => {}
        }
    }
    let worked: Vec<(f64, f64)> = rugs.into_values().filter(|(_, edges)| *edges > 0.0).collect();
    let (tears, edges) = worked.iter().fold((0.0, 0.0), |sum, rug| (sum.0 + rug.0, sum.1 + rug.1));
    let Some(degrees) = worked.len().checked_sub(1).filter(|degrees| *degrees > 0 && tears > 0.0) else {
        return 1.0;
    };
    let chi_square: f64 = worked
        .iter()
        .map(|(seen, run)| {
            let expected = tears * run / edges;
            (seen - expected).powi(2) / expected
        })
        .sum();
    (chi_square / number(u64::try_from(degrees).unwrap_or(u64::MAX))).max(1.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cloth::exposure_sequence::{Hurt, Ran};
    use crate::studio::RugIndex;

    fn ran(rug: usize, knob: u32, tenths: u32, seconds: u64) -> Step {
        Step::Ran(Ran {
            rug: Some(RugIndex::of(rug)),
            knob: Some(knob),
            rate: Some(tenths),
            run_ms: seconds * 1_000,
            edges: seconds * u64::from(tenths) / 10,
            ..Ran::default()
        })
    }

    #[test]
    fn the_travel_is_cut_into_twenty_equal_parts() {
        assert_eq!([0, 50, 51, 600, 601, 1_000].map(part_of), [0, 0, 1, 11, 12, 19]);
        assert_eq!([0, 11, 19].map(top_of), [50, 600, 1_000]);
    }

    #[test]
    fn a_faster_place_never_has_a_lower_rate() {
        // 10 strokes/s for 100 s at 30 %, 8 for 50 s at 50 %, 20 for 10 s at 90 %: the first two together (1000 + 400) / 150.
        let steps = [ran(0, 300, 100, 100), ran(0, 500, 80, 50), ran(0, 900, 200, 10)];
        let places = Running::of(&steps, StrokeRatio::ONE, None).places;
        let rates: Vec<f64> = places.iter().map(|place| place.strokes_per_second).collect();
        assert!((rates[0] - 1400.0 / 150.0).abs() < 1e-12 && (rates[1] - rates[0]).abs() < 1e-12);
        assert!((rates[2] - 20.0).abs() < 1e-12);
        assert!((places[0].share - 1000.0 / 1600.0).abs() < 1e-12);
        let mean: f64 = places.iter().map(|place| place.share * place.doublings).sum();
        assert!(mean.abs() < 1e-12);
    }

    #[test]
    fn rugs_that_tear_unequally_widen_the_scatter_and_equal_ones_never_narrow_it() {
        let tear = |rug| {
            Step::Hurt(Hurt {
                id: None,
                harm: Harm::Tear,
                rug: Some(RugIndex::of(rug)),
                lot: None,
                knob: Some(300),
            })
        };
        let rugs = [ran(0, 300, 100, 100), ran(1, 300, 100, 100)];
        // Four tears on one of two equal rugs: (4 - 2)^2 / 2 + (0 - 2)^2 / 2 = 4 over one degree of freedom.
        let unequal: Vec<Step> = rugs.into_iter().chain([tear(0); 4]).collect();
        assert!((Running::of(&unequal, StrokeRatio::ONE, None).scatter - 4.0).abs() < 1e-12);
        let equal: Vec<Step> = rugs.into_iter().chain([tear(0), tear(1)]).collect();
        assert!((Running::of(&equal, StrokeRatio::ONE, None).scatter - 1.0).abs() < 1e-12);
    }
}
