use super::*;
use crate::cloth::exposure::Exposure;
use crate::entries::Harm;
use crate::studio::StrokeRatio;
use proptest::prelude::*;

fn ran(cells: &[(u32, u64, u64)], unknown: (u64, u64)) -> Exposure {
    let mut exposure = Exposure::default();
    for (reading, run_ms, edges) in cells {
        exposure.by_reading.entry(*reading).or_default().add(*run_ms, *edges);
    }
    exposure.unknown.add(unknown.0, unknown.1);
    exposure
}

fn tear(reading: Option<u32>) -> Seen {
    Seen { harm: Harm::Tear, reading }
}

#[test]
fn a_tear_counts_in_the_band_of_the_knob_before_it() {
    // Four places with a quarter of the strokes each are four bands.
    let exposure = ran(&[(100, 10, 50), (300, 20, 50), (600, 30, 50), (900, 40, 50)], (5, 7));
    let seen = [tear(Some(100)), tear(Some(299)), tear(Some(950)), tear(None)];
    let banded = Banded::of(&exposure, &seen, StrokeRatio::ONE);
    assert_eq!(banded.tops, vec![100, 300, 600, 900]);
    assert_eq!(banded.parts.iter().map(|part| part.tears).collect::<Vec<_>>(), vec![1, 1, 0, 1]);
    assert_eq!((banded.unknown.tears, banded.unknown.strokes, banded.unknown.run_time_ms), (1, 7, 5));
    let bands = banded.bands(SpeedBy::Knob, Level::USUAL);
    let limits: Vec<_> = bands
        .iter()
        .map(|band| (band.knob_low_per_mille.unwrap(), band.knob_high_per_mille.unwrap()))
        .collect();
    assert_eq!(limits, vec![(0, 100), (101, 300), (301, 600), (601, 1000)]);
}

#[test]
fn near_misses_are_never_added_to_tears() {
    let exposure = ran(&[(100, 10, 50), (900, 40, 50)], (0, 0));
    let seen = [Seen { harm: Harm::NearMiss, reading: Some(100) }, tear(Some(100))];
    let part = Banded::of(&exposure, &seen, StrokeRatio::ONE).totals();
    assert_eq!((part.tears, part.near_misses), (1, 1));
}

#[test]
fn without_any_reading_all_tears_are_unknown() {
    let banded = Banded::of(&ran(&[], (1000, 12)), &[tear(Some(500))], StrokeRatio::ONE);
    assert!(banded.parts.is_empty());
    assert_eq!((banded.unknown.tears, banded.unknown.strokes), (1, 12));
}

#[test]
fn rates_are_per_hundred_thousand_strokes_and_per_hour() {
    // 5 tears in 200,000 strokes and 2 hours; Garwood's limits of 5 are 1.623486 and 11.668332.
    let part = Part { strokes: 200_000, run_time_ms: 7_200_000, tears: 5, near_misses: 0 };
    let strokes = per_100000_strokes(5, part, Level::USUAL);
    assert!((strokes.estimate.unwrap() - 2.5).abs() < 1e-12);
    assert!((strokes.high.unwrap() - 11.668_332 / 2.0).abs() < 1e-6);
    assert!((per_hour(5, part, Level::USUAL).low.unwrap() - 1.623_486 / 2.0).abs() < 1e-6);
}

proptest! {
    #[test]
    fn bands_and_unknown_make_the_totals(
        cells in prop::collection::vec((0_u32..=1000, 0_u64..100_000, 0_u64..1000), 0..40),
        unknown in (0_u64..100_000, 0_u64..1000),
        harms in prop::collection::vec((any::<bool>(), prop::option::of(0_u32..=1000)), 0..40),
        edges in 1_u32..5,
        strokes in 1_u32..5,
    ) {
        let exposure = ran(&cells, unknown);
        let seen: Vec<Seen> = harms
            .iter()
            .map(|(tear, reading)| Seen { harm: if *tear { Harm::Tear } else { Harm::NearMiss }, reading: *reading })
            .collect();
        let ratio = StrokeRatio::new(edges, strokes).unwrap();
        let totals = Banded::of(&exposure, &seen, ratio).totals();
        let all_edges = cells.iter().map(|cell| cell.2).sum::<u64>() + unknown.1;
        prop_assert_eq!(totals.strokes, all_edges * u64::from(strokes) / u64::from(edges));
        prop_assert_eq!(totals.run_time_ms, cells.iter().map(|cell| cell.1).sum::<u64>() + unknown.0);
        prop_assert_eq!(totals.tears, harms.iter().filter(|harm| harm.0).count() as u64);
        prop_assert_eq!(totals.near_misses, harms.iter().filter(|harm| !harm.0).count() as u64);
    }
}
