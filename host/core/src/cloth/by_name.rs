//! Running, tears and near-misses by rug and by cloth lot, each sorted into the same bands as the whole.

use std::collections::BTreeMap;

use serde::Serialize;

use super::banded::{Part, strokes_of};
use super::exposure::Running;
use super::exposure_sequence::{ExposureSequence, LotIndex, Ran, Step};
use super::harms::HarmRecord;
use super::speed_by::SpeedBy;
use crate::entries::Harm;
use crate::studio::{StrokeRatio, Studio};

/// One rug, or one cloth lot.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Named {
    /// Its name.
    pub name: String,
    /// By band, slow to fast, as the whole is banded.
    pub bands: Vec<Part>,
    /// Running without a reading, and tears of which the reading before is not known.
    pub unknown: Part,
    /// All of it.
    pub together: Part,
}

/// How a machine's running is sorted.
#[derive(Clone, Copy, Debug)]
pub struct Sorting<'a> {
    /// The highest reading of each band.
    pub tops: &'a [u32],
    /// Which reading.
    pub by: SpeedBy,
    /// Edges to strokes.
    pub ratio: StrokeRatio,
}

#[derive(Clone, Debug, Default)]
struct Sums {
    running: Vec<Running>,
    parts: Vec<Part>,
}

impl Sorting<'_> {
    /// By rug, in the order of their names.
    #[must_use]
    pub fn by_rug<'n>(
        self,
        course: &ExposureSequence,
        studio: &'n Studio,
        harms: &[&'n HarmRecord],
    ) -> Vec<Named> {
        let name = |rug| studio.rug_at(rug).map(|rug| rug.order.rug.0.as_str());
        let running = self.running(course, |ran| ran.rug);
        let running = running.into_iter().filter_map(|(rug, ran)| Some((name(rug)?, ran)));
        self.named(running, harms, |harm| harm.rug.as_ref().map(|rug| rug.0.as_str()))
    }

    /// By cloth lot, in the order of their names.
    #[must_use]
    pub fn by_cloth_lot<'n>(self, course: &'n ExposureSequence, harms: &[&'n HarmRecord]) -> Vec<Named> {
        let name = |lot: LotIndex| course.lots.get(lot.number()).map(String::as_str);
        let running = self.running(course, |ran| ran.lot);
        let running = running.into_iter().filter_map(|(lot, ran)| Some((name(lot)?, ran)));
        // The same spelling as of the running.
        let known = |own| course.lots.iter().find(|lot| lot.eq_ignore_ascii_case(own)).map(String::as_str);
        self.named(running, harms, |harm| harm.cloth_lot.as_deref().map(|own| known(own).unwrap_or(own)))
    }

    /// The band of a reading, the last one above all tops; after the last band what has no reading.
    fn band(self, reading: Option<u32>) -> usize {
        match (reading, self.tops.len().checked_sub(1)) {
            (Some(reading), Some(last)) => self.tops.iter().position(|top| reading <= *top).unwrap_or(last),
            _ => self.tops.len(),
        }
    }

    /// Running by band of each rug or lot.
    fn running<Key: Ord>(
        self,
        course: &ExposureSequence,
        key_of: impl Fn(&Ran) -> Option<Key>,
    ) -> BTreeMap<Key, Vec<Running>> {
        let mut sums: BTreeMap<Key, Vec<Running>> = BTreeMap::new();
        for step in &course.steps {
            let Step::Ran(ran) = step else { continue };
            let Some(key) = key_of(ran) else { continue };
            let bands = sums.entry(key).or_insert_with(|| vec![Running::default(); self.tops.len() + 1]);
            let band = self.band(if self.by == SpeedBy::Knob { ran.knob } else { ran.rate });
            if let Some(running) = bands.get_mut(band) {
                running.add(ran.run_ms, ran.edges);
            }
        }
        sums
    }

    fn named<'n>(
        self,
        running: impl Iterator<Item = (&'n str, Vec<Running>)>,
        harms: &[&'n HarmRecord],
        name_of_harm: impl Fn(&'n HarmRecord) -> Option<&'n str>,
    ) -> Vec<Named> {
        let bands = self.tops.len() + 1;
        let empty = || Sums { running: vec![Running::default(); bands], parts: vec![Part::default(); bands] };
        let mut sums: BTreeMap<&str, Sums> = BTreeMap::new();
        for (name, ran) in running {
            for (sum, ran) in sums.entry(name).or_insert_with(empty).running.iter_mut().zip(ran) {
                sum.add(ran.run_ms, ran.edges);
            }
        }
        for harm in harms {
            let Some(name) = name_of_harm(harm) else { continue };
            let knob = harm.knob_before.map(|knob| u32::from(knob.get()));
            let band = self.band(if self.by == SpeedBy::Knob { knob } else { harm.rate_before });
            if let Some(part) = sums.entry(name).or_insert_with(empty).parts.get_mut(band) {
                match harm.harm {
                    Harm::Tear => part.tears += 1,
                    Harm::NearMiss => part.near_misses += 1,
                }
            }
        }
        sums.into_iter().map(|(name, sums)| self.summed(name, sums)).collect()
    }

    fn summed(self, name: &str, sums: Sums) -> Named {
        let strokes = strokes_of(sums.running.into_iter(), self.ratio);
        let with_harm =
            |(ran, harm): (Part, Part)| Part { tears: harm.tears, near_misses: harm.near_misses, ..ran };
        let mut bands: Vec<Part> = strokes.into_iter().zip(sums.parts).map(with_harm).collect();
        let together = bands.iter().fold(Part::default(), |sum, part| sum.plus(*part));
        let unknown = bands.pop().unwrap_or_default();
        Named { name: name.to_owned(), bands, unknown, together }
    }
}
