use super::*;
use proptest::prelude::*;

fn looks(dirty: &[f64], clean: &[f64]) -> Vec<Look> {
    let of = |dirty| move |&time: &f64| Look { time, dirty };
    dirty.iter().map(of(true)).chain(clean.iter().map(of(false))).collect()
}

#[test]
fn looks_of_one_kind_or_parted_by_one_time_are_separated() {
    for (dirty, clean) in [
        (&[5.0, 6.0][..], &[1.0, 2.0][..]),
        (&[2.0, 6.0][..], &[1.0, 2.0][..]),
        (&[1.0, 2.0][..], &[5.0, 6.0][..]),
        (&[1.0, 2.0][..], &[][..]),
        (&[][..], &[1.0][..]),
    ] {
        let looks = looks(dirty, clean);
        assert!(are_separated(&looks), "{looks:?}");
        assert_eq!(dirty_curve(&looks, 0.2, Level::USUAL), None);
    }
    assert!(!are_separated(&looks(&[2.0, 6.0], &[1.0, 3.0])));
}

/// Looks that are not separated, ties included.
fn any_looks() -> impl Strategy<Value = Vec<Look>> {
    proptest::collection::vec((1_u32..60, any::<bool>()), 8..30)
        .prop_map(|rows| {
            rows.into_iter().map(|(time, dirty)| Look { time: f64::from(time), dirty }).collect::<Vec<_>>()
        })
        .prop_filter("not separated", |looks| !are_separated(looks))
}

/// The logarithm of likelihood times prior, written out from the definition.
fn height(looks: &[Look], shape: f64, scale: f64) -> f64 {
    let of = |look: &Look| {
        let clean = (-(look.time / scale).powf(shape)).exp();
        if look.dirty { (1.0 - clean).ln() } else { clean.ln() }
    };
    looks.iter().map(of).sum::<f64>() - 2.0 * (shape.ln() - 2.0_f64.ln()).powi(2)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    #[test]
    fn no_neighbour_is_higher(looks in any_looks(), by in 0.005_f64..0.6) {
        let found = dirty_curve(&looks, 0.2, Level::USUAL).unwrap().best;
        let top = height(&looks, found.shape, found.scale);
        for (k, s) in [(1.0 + by, 1.0), (1.0 - by, 1.0), (1.0, 1.0 + by), (1.0, 1.0 - by), (1.0 + by, 1.0 + by)] {
            prop_assert!(height(&looks, found.shape * k, found.scale * s) <= top + 1e-9);
        }
    }

    #[test]
    fn another_unit_of_time_changes_only_the_times(looks in any_looks(), power in -100_i32..100) {
        let unit = 10.0_f64.powi(power);
        let other: Vec<Look> = looks.iter().map(|look| Look { time: look.time * unit, ..*look }).collect();
        let (a, b) = (
            dirty_curve(&looks, 0.2, Level::USUAL).unwrap(),
            dirty_curve(&other, 0.2, Level::USUAL).unwrap(),
        );
        prop_assert!((a.best.shape / b.best.shape - 1.0).abs() < 1e-6);
        prop_assert!((a.best.scale * unit / b.best.scale - 1.0).abs() < 1e-6);
        let times = |curve: DirtyCurve| [curve.time_of_share.estimate, curve.time_of_share.low, curve.time_of_share.high];
        for (a, b) in times(a).into_iter().zip(times(b)) {
            if let (Some(a), Some(b)) = (a, b) {
                prop_assert!((a * unit / b - 1.0).abs() < 1e-5, "{} {}", a * unit, b);
            }
        }
    }

    #[test]
    fn the_share_at_its_time_is_the_share(looks in any_looks(), share in 0.05_f64..0.9) {
        let found = dirty_curve(&looks, share, Level::USUAL).unwrap();
        let time = found.time_of_share.estimate.unwrap();
        prop_assert!((1.0 - found.best.surviving(time) - share).abs() < 1e-9);
        prop_assert!(found.time_of_share.low.is_none_or(|low| low < time));
        prop_assert!(found.time_of_share.high.is_none_or(|high| high > time));
    }
}
