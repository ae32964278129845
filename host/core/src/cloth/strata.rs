//! Strokes and harm on two sides, kept apart by rug: a rug is compared only with itself, because cloth, design and frame differ
//! more from rug to rug than anything a knob does.

use std::collections::BTreeMap;

use super::exposure_sequence::{Hurt, LotIndex, Ran};
use crate::stats::{Observed, Pair, number};
use crate::studio::RugIndex;

/// What is compared only within itself.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Within {
    /// One rug.
    Rug(RugIndex),
    /// All rugs of one cloth, for harm of which only the cloth is known.
    Lot(LotIndex),
}

/// One of the two sides of a comparison.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    /// Above the line of the ratio.
    Upper,
    /// Below it.
    Lower,
}

/// Strokes and harm on both sides, by stratum.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Strata {
    pairs: BTreeMap<Within, Pair>,
}

/// Strokes and tears in parts of the knob's travel, by stratum.
#[derive(Clone, Debug, PartialEq)]
pub struct Parted<const PARTS: usize> {
    /// By stratum; the parts from slow to fast.
    pub places: BTreeMap<Within, [Observed; PARTS]>,
}

impl<const PARTS: usize> Default for Parted<PARTS> {
    fn default() -> Self {
        Self { places: BTreeMap::new() }
    }
}

impl<const PARTS: usize> Parted<PARTS> {
    /// Adds running, shared between the parts, to its rug and to its cloth.
    pub fn add_shared(&mut self, ran: &Ran, shares: &[f64; PARTS]) {
        let places = [ran.rug.map(Within::Rug), ran.lot.map(Within::Lot)];
        for place in places.into_iter().flatten() {
            let parts = self.places.entry(place).or_insert([Observed::default(); PARTS]);
            for (part, share) in parts.iter_mut().zip(shares) {
                part.exposure += number(ran.edges) * share;
            }
        }
    }

    /// Adds a tear to its stratum.
    pub fn add_tear(&mut self, place: Within, part: usize) {
        let parts = self.places.entry(place).or_insert([Observed::default(); PARTS]);
        if let Some(part) = parts.get_mut(part) {
            part.events += 1;
        }
    }
}

impl Strata {
    /// Two parts as two sides: the first below the line, the second above it.
    #[must_use]
    pub fn of_two(parted: Parted<2>) -> Self {
        let pair = |[lower, upper]: [Observed; 2]| Pair { upper, lower };
        Self { pairs: parted.places.into_iter().map(|(place, parts)| (place, pair(parts))).collect() }
    }

    /// Adds running to one side of its rug and of its cloth. Running of which neither is known belongs nowhere.
    pub fn add_running(&mut self, ran: &Ran, side: Side) {
        let places = [ran.rug.map(Within::Rug), ran.lot.map(Within::Lot)];
        for place in places.into_iter().flatten() {
            side_of(self.pairs.entry(place).or_default(), side).exposure += number(ran.edges);
        }
    }

    /// Adds a tear or near-miss to its rug, or to its cloth where the rug is not known; without either it belongs nowhere.
    pub fn add_harm(&mut self, hurt: &Hurt, side: Side) {
        if let Some(place) = place_of(hurt) {
            side_of(self.pairs.entry(place).or_default(), side).events += 1;
        }
    }

    /// The pairs with at least one event; strata without any say nothing.
    #[must_use]
    pub fn pairs(&self) -> Vec<Pair> {
        self.pairs.values().filter(|pair| pair.upper.events + pair.lower.events > 0).copied().collect()
    }

    /// How the strokes of the strata with harm are shared: the share above the line, weighted by harm; none without any.
    #[must_use]
    pub fn upper_share(&self) -> Option<f64> {
        let (mut weighted, mut weight) = (0.0, 0.0);
        for pair in self.pairs.values().filter(|pair| pair.is_informative()) {
            let events = number(pair.upper.events + pair.lower.events);
            weighted += events * pair.upper.exposure / (pair.upper.exposure + pair.lower.exposure);
            weight += events;
        }
        (weight > 0.0).then(|| weighted / weight)
    }
}

/// Where harm is compared.
#[must_use]
pub fn place_of(hurt: &Hurt) -> Option<Within> {
    hurt.rug.map(Within::Rug).or_else(|| hurt.lot.map(Within::Lot))
}

fn side_of(pair: &mut Pair, side: Side) -> &mut Observed {
    match side {
        Side::Upper => &mut pair.upper,
        Side::Lower => &mut pair.lower,
    }
}

/// The side of a knob place.
#[must_use]
pub const fn side(cut: u32, knob: u32) -> Side {
    if knob > cut { Side::Upper } else { Side::Lower }
}
