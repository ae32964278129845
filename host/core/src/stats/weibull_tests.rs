use super::*;
use proptest::prelude::*;

fn lives(ended: &[f64], cut_short: &[f64]) -> Vec<Life> {
    let of = |ended| move |&time: &f64| Life { time, ended };
    ended.iter().map(of(true)).chain(cut_short.iter().map(of(false))).collect()
}

fn fit(ended: &[f64], cut_short: &[f64]) -> Option<WeibullFit> {
    Lives::new(&lives(ended, cut_short))?.fit()
}

#[test]
fn fewer_than_two_ended_lives_have_no_fit() {
    assert_eq!(fit(&[], &[5.0, 6.0]), None);
    assert_eq!(fit(&[5.0], &[7.0, 8.0, 9.0]), None);
    assert_eq!(fit(&[], &[]), None);
}

#[test]
fn lives_that_all_end_together_at_the_very_end_have_no_fit() {
    assert_eq!(fit(&[100.0, 100.0, 100.0], &[20.0, 100.0]), None);
    // As soon as one is cut short later, the curve need not be infinitely steep.
    assert!(fit(&[100.0, 100.0, 100.0], &[150.0]).is_some_and(|fit| fit.best.shape > 1.0));
}

#[test]
fn lives_alike_to_the_ninth_figure_are_still_told_apart() {
    let found = fit(&[100.0, 100.000_000_1, 100.000_000_2, 100.000_000_05], &[]).unwrap();
    assert!(found.best.shape > 1e8, "{found:?}");
    assert!((found.best.scale - 100.0).abs() < 1e-5, "{found:?}");
}

#[test]
fn two_lives_are_worked_out_by_hand() {
    // Lives 1 and e: with y the logarithm of the life and x = shape, the score is e^x / (1 + e^x) - 1/x - 1/2 = 0. Since
    // e^x / (1 + e^x) - 1/2 = tanh(x/2) / 2, it says x tanh(x/2) = 2, whose root is twice that of u tanh u = 1,
    // u = 1.19967864025773 (the root of the Laplace limit, tabulated): x = 2.39935728051547.
    let found = fit(&[1.0, std::f64::consts::E], &[]).unwrap();
    assert!((found.best.shape - 2.399_357_280_515_47).abs() < 1e-12, "{found:?}");
}

#[test]
fn the_mean_and_the_shares_are_those_of_an_exponential_at_shape_one() {
    let exponential = Weibull::new(1.0, 50.0).unwrap();
    assert!((exponential.mean().unwrap() - 50.0).abs() < 1e-10);
    assert!((exponential.surviving(50.0) - (-1.0_f64).exp()).abs() < 1e-15);
    assert!((exponential.time_of_share(0.5).unwrap() - 50.0 * 2.0_f64.ln()).abs() < 1e-10);
    assert_eq!((exponential.surviving(0.0), exponential.surviving(-1.0)), (1.0, 1.0));
}

#[test]
fn a_mean_too_large_for_a_number_is_none() {
    assert_eq!(Weibull::new(0.001, 1.0).unwrap().mean(), None);
    assert_eq!(Weibull::new(0.0, 1.0), None);
    assert_eq!(Weibull::new(1.0, f64::INFINITY), None);
}

/// Ended and cut-short lives with some spread, ties included.
fn any_lives() -> impl Strategy<Value = Vec<Life>> {
    proptest::collection::vec((1_u32..400, any::<bool>()), 4..40)
        .prop_map(|rows| {
            rows.into_iter().map(|(time, ended)| Life { time: f64::from(time), ended }).collect::<Vec<_>>()
        })
        .prop_filter("two lives that ended before the longest", |lives| {
            let longest = lives.iter().map(|life| life.time).fold(0.0, f64::max);
            let ended: Vec<f64> = lives.iter().filter(|life| life.ended).map(|life| life.time).collect();
            ended.len() >= 2 && ended.iter().any(|&time| time < longest)
        })
}

proptest! {
    #[test]
    fn no_neighbour_is_more_likely(lives in any_lives(), by in 0.001_f64..0.5) {
        let found = Lives::new(&lives).unwrap().fit().unwrap();
        // The likelihood written out from its definition, not from the profile.
        let likelihood = |shape: f64, scale: f64| -> f64 {
            lives.iter().map(|life| {
                let ratio = life.time / scale;
                let hazard = (shape / scale).ln() + (shape - 1.0) * ratio.ln();
                (if life.ended { hazard } else { 0.0 }) - ratio.powf(shape)
            }).sum()
        };
        let Weibull { shape, scale } = found.best;
        let top = likelihood(shape, scale);
        prop_assert!((top - found.log_likelihood).abs() < 1e-7 * (1.0 + top.abs()), "{top} {found:?}");
        for (k, s) in [(1.0 + by, 1.0), (1.0 - by, 1.0), (1.0, 1.0 + by), (1.0, 1.0 - by)] {
            prop_assert!(likelihood(shape * k, scale * s) <= top + 1e-9);
        }
    }

    #[test]
    fn another_unit_of_time_changes_only_the_scale(lives in any_lives(), power in -200_i32..200) {
        let unit = 10.0_f64.powi(power);
        let other: Vec<Life> = lives.iter().map(|life| Life { time: life.time * unit, ..*life }).collect();
        let (one, two) = (Lives::new(&lives).unwrap(), Lives::new(&other).unwrap());
        let (a, b) = (one.fit().unwrap(), two.fit().unwrap());
        prop_assert!((a.best.shape / b.best.shape - 1.0).abs() < 1e-9);
        prop_assert!((a.best.scale * unit / b.best.scale - 1.0).abs() < 1e-9);
        let (a, b) = (one.scale_limits(&a, Level::USUAL), two.scale_limits(&b, Level::USUAL));
        for (a, b) in [(a.low, b.low), (a.high, b.high)] {
            prop_assert_eq!(a.is_some(), b.is_some());
            if let (Some(a), Some(b)) = (a, b) {
                prop_assert!((a * unit / b - 1.0).abs() < 1e-6);
            }
        }
    }

    #[test]
    fn limits_enclose_the_best_value_and_the_one_sided_one_is_nearer(lives in any_lives()) {
        let prepared = Lives::new(&lives).unwrap();
        let found = prepared.fit().unwrap();
        let shape = prepared.shape_limits(&found, Level::USUAL);
        let at_least = prepared.shape_at_least(&found, Level::new(0.9).unwrap()).unwrap();
        prop_assert!(shape.low.unwrap() < at_least && at_least < found.best.shape);
        prop_assert!(found.best.shape < shape.high.unwrap());
        let scale = prepared.scale_limits(&found, Level::USUAL);
        prop_assert!(scale.low.is_none_or(|low| low < found.best.scale));
        prop_assert!(scale.high.is_none_or(|high| high > found.best.scale));
    }
}
