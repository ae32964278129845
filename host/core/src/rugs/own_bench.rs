//! Yarn and work away from the frame on own finished rugs, per square metre and per rug.

use serde::Serialize;

use super::commission::{ColourYarn, Commissions};
use super::own_rugs::area_mm2;
use crate::entries::JobKind;
use crate::stats::{HOUR_MS, LEAST_VALUES, number};
use crate::studio::{Rug, Studio};

const MM2_PER_M2: f64 = 1_000_000.0;
const MG_PER_KG: f64 = 1_000_000.0;
/// Work that grows with the area.
const BY_AREA: [JobKind; 5] =
    [JobKind::Stretching, JobKind::Tracing, JobKind::Gluing, JobKind::Shearing, JobKind::Backing];

/// Work that comes once with every rug.
const BY_RUG: [JobKind; 3] = [JobKind::Designing, JobKind::Client, JobKind::Packing];

/// A mean over own finished rugs.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct OwnMean {
    /// The mean: all amounts over all areas, or over all rugs.
    pub mean: f64,
    /// Rugs behind it; of several kinds of work, of that with the fewest.
    pub rugs: u64,
}

/// Yarn and labour besides the frame, of own finished rugs.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct OwnBench {
    /// Kilograms of yarn per square metre, of rugs of which every colour was weighed after the work.
    pub yarn_kg_per_m2: Option<OwnMean>,
    /// Hours of designing, client, packing and other work per rug, of rugs of which the first three were all noted, or other
    /// work alone; none below four rugs.
    pub hours_per_rug: Option<OwnMean>,
    /// Hours of stretching, tracing, gluing, shearing and backing per square metre; none where one of them was noted on
    /// fewer than four rugs.
    pub hours_per_m2: Option<OwnMean>,
}

impl OwnBench {
    /// Adds up own finished rugs that have a size.
    #[must_use]
    pub fn of(studio: &Studio, commissions: &Commissions) -> Self {
        let finished: Vec<(&Rug, u64)> = studio
            .rugs
            .iter()
            .filter(|rug| rug.state().is_done())
            .filter_map(|rug| Some((rug, area_mm2(rug)?)))
            .collect();
        let yarn: Vec<(u64, u64)> =
            finished.iter().filter_map(|(rug, area)| Some((*area, used_mg(commissions, rug)?))).collect();
        let of_job = |job: JobKind| -> Vec<(u64, u64)> {
            let noted = finished.iter().map(|(rug, area)| (*area, noted_ms(commissions, rug, job)));
            noted.filter(|(_, ms)| *ms > 0).collect()
        };
        let once: Vec<(u64, u64)> =
            finished.iter().filter_map(|(rug, area)| Some((*area, once_ms(commissions, rug)?))).collect();
        let by_area: Option<Vec<OwnMean>> =
            BY_AREA.into_iter().map(|job| per_area(&enough(of_job(job))?, number(HOUR_MS))).collect();
        Self {
            yarn_kg_per_m2: per_area(&yarn, MG_PER_KG),
            hours_per_rug: enough(once).map(|once| {
                let rugs = u64::try_from(once.len()).unwrap_or(u64::MAX);
                OwnMean { mean: sum(&once).1 / number(HOUR_MS) / number(rugs), rugs }
            }),
            hours_per_m2: by_area.map(|means| OwnMean {
                mean: means.iter().map(|mean| mean.mean).sum(),
                rugs: means.iter().map(|mean| mean.rugs).min().unwrap_or(0),
            }),
        }
    }
}

fn enough(values: Vec<(u64, u64)>) -> Option<Vec<(u64, u64)>> {
    (values.len() >= LEAST_VALUES).then_some(values)
}

/// All amounts over all areas, from pairs of an area in square millimetres and an amount.
fn per_area(values: &[(u64, u64)], unit: f64) -> Option<OwnMean> {
    let (area, amount) = sum(values);
    let rugs = u64::try_from(values.len()).unwrap_or(u64::MAX);
    (area > 0.0).then(|| OwnMean { mean: amount / unit / (area / MM2_PER_M2), rugs })
}

fn sum(values: &[(u64, u64)]) -> (f64, f64) {
    values.iter().fold((0.0, 0.0), |(areas, amounts), (area, amount)| {
        (areas + number(*area), amounts + number(*amount))
    })
}

/// Yarn of a rug in milligrams, where every colour was weighed after the work.
fn used_mg(commissions: &Commissions, rug: &Rug) -> Option<u64> {
    let colours = commissions.told(&rug.order.rug)?.yarn_by_colour();
    let used: Option<Vec<u64>> = colours.iter().map(ColourYarn::used_mg).collect();
    Some(used?.into_iter().fold(0, u64::saturating_add)).filter(|used| *used > 0)
}

/// Work that comes once with a rug, in milliseconds; none where some kind of it was noted and another was not.
fn once_ms(commissions: &Commissions, rug: &Rug) -> Option<u64> {
    let kinds = BY_RUG.map(|job| noted_ms(commissions, rug, job));
    let noted = kinds.iter().filter(|ms| **ms > 0).count();
    let all = kinds.into_iter().fold(noted_ms(commissions, rug, JobKind::Other), u64::saturating_add);
    (all > 0 && (noted == 0 || noted == BY_RUG.len())).then_some(all)
}

fn noted_ms(commissions: &Commissions, rug: &Rug, job: JobKind) -> u64 {
    let spans = commissions.jobs_of(&rug.order.rug).filter(|span| span.job == job);
    spans.filter_map(|span| span.lasted_ms).fold(0, u64::saturating_add)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::entries::WorkChange::{Finished, Started};
    use crate::entries::{EntryBody, JobAdded, RugName, RugOrdered, YarnMove, YarnWeighed};
    use crate::test_facts::{HOUR, MONDAY_8, entries, machine, work};
    use shared_types::UtcMillis;

    fn own(rugs: &[&str], said: Vec<EntryBody>) -> OwnBench {
        let rugs = rugs.iter().flat_map(|name| {
            let ordered = EntryBody::RugOrdered(RugOrdered {
                rug: RugName((*name).to_owned()),
                width_mm: Some(500),
                height_mm: Some(1_000),
                cloth_lot: None,
                at: UtcMillis(MONDAY_8),
            });
            [ordered, work(name, None, Started, MONDAY_8), work(name, None, Finished, MONDAY_8 + HOUR)]
        });
        let said = entries([machine(1)].into_iter().chain(rugs).chain(said));
        OwnBench::of(&Studio::of(&said), &Commissions::of(&said))
    }

    fn yarn(rug: &str, colour: &str, moved: YarnMove, grams: u64) -> EntryBody {
        EntryBody::YarnWeighed(YarnWeighed {
            rug: RugName(rug.to_owned()),
            colour: colour.to_owned(),
            moved,
            weight_mg: grams * 1_000,
            at: UtcMillis(MONDAY_8),
        })
    }

    fn job(rug: &str, job: JobKind, minutes: u64) -> EntryBody {
        EntryBody::JobAdded(JobAdded {
            job,
            rug: Some(RugName(rug.to_owned())),
            lasted_ms: minutes * 60_000,
            at: UtcMillis(MONDAY_8),
            note: None,
        })
    }

    #[test]
    fn only_rugs_of_which_every_colour_was_weighed_tell_the_yarn() {
        // By hand: Fox took 1,500 - 250 g = 1.25 kg on half a square metre: 2.5 kg a square metre. Owl's red was not weighed after.
        let said = vec![
            yarn("Fox", "blue", YarnMove::Out, 1_500),
            yarn("Fox", "blue", YarnMove::Back, 250),
            yarn("Owl", "blue", YarnMove::Out, 900),
            yarn("Owl", "blue", YarnMove::Back, 100),
            yarn("Owl", "red", YarnMove::Out, 900),
        ];
        assert_eq!(own(&["Fox", "Owl"], said).yarn_kg_per_m2, Some(OwnMean { mean: 2.5, rugs: 1 }));
    }

    #[test]
    fn bench_time_takes_four_rugs_of_every_kind_of_work() {
        let names = ["A", "B", "C", "D"];
        let mut said: Vec<EntryBody> =
            names.iter().flat_map(|rug| BY_AREA.map(|kind| job(rug, kind, 15))).collect();
        said.extend(names.iter().take(3).map(|rug| job(rug, JobKind::Other, 60)));
        // By hand: five kinds of a quarter of an hour on half a square metre are 2.5 hours a square metre.
        let three = own(&names, said.clone());
        assert_eq!((three.hours_per_rug, three.hours_per_m2), (None, Some(OwnMean { mean: 2.5, rugs: 4 })));
        said.push(job("D", JobKind::Other, 180));
        assert_eq!(own(&names, said.clone()).hours_per_rug, Some(OwnMean { mean: 1.5, rugs: 4 }));
        said.remove(0);
        assert_eq!(own(&names, said).hours_per_m2, None);
    }

    #[test]
    fn work_that_comes_once_with_a_rug_counts_where_all_its_kinds_were_noted() {
        let names = ["A", "B", "C", "D"];
        let mut said: Vec<EntryBody> = names[..3]
            .iter()
            .flat_map(|rug| {
                [(JobKind::Designing, 90), (JobKind::Client, 20), (JobKind::Packing, 10)]
                    .map(|(kind, minutes)| job(rug, kind, minutes))
            })
            .collect();
        said.push(job("D", JobKind::Packing, 10));
        said.push(job("D", JobKind::Other, 60));
        assert_eq!(own(&names, said.clone()).hours_per_rug, None, "of D the designing is missing");
        said.extend([job("D", JobKind::Designing, 40), job("D", JobKind::Client, 10)]);
        // By hand: three rugs of two hours each and one of 10 + 60 + 40 + 10 minutes are eight hours on four rugs.
        assert_eq!(own(&names, said).hours_per_rug, Some(OwnMean { mean: 2.0, rugs: 4 }));
    }
}
