use super::*;
use proptest::prelude::*;

fn by_time(times: &[f64], end: f64) -> Faults {
    Faults::new(times.to_vec(), end, Ending::Time).unwrap()
}

#[track_caller]
fn assert_near(found: Option<f64>, by_hand: f64) {
    assert!(found.is_some_and(|found| (found - by_hand).abs() < 1e-12 * by_hand.abs().max(1.0)), "{found:?}");
}

#[test]
fn two_faults_are_worked_out_by_hand() {
    // Faults at 1 and 10 of 100: the logarithms of end over fault are 2 L and L with L = ln 10, 3 L in all.
    let faults = by_time(&[1.0, 10.0], 100.0);
    let l = 10.0_f64.ln();
    assert_near(faults.trend_test().chi_square, 6.0 * l);
    assert_eq!(faults.trend_test().degrees_of_freedom, Some(4));
    assert_near(faults.laplace(), (0.01 + 0.1 - 1.0) * 6.0_f64.sqrt());
    let law = faults.power_law();
    assert_near(law.shape, 2.0 / (3.0 * l));
    assert_near(law.shape_unbiased, 1.0 / (3.0 * l));
    // 100^(2 / 3L) = e^(4/3).
    assert_near(law.scale, 2.0 * (-4.0_f64 / 3.0).exp());
    assert_near(faults.mean_between_now(), 100.0 / (4.0 / (3.0 * l)));
    assert_near(faults.mean_between(Level::USUAL).estimate, 50.0);
}

#[test]
fn the_fault_that_ends_the_observation_is_not_free() {
    let faults = Faults::new(vec![1.0, 10.0, 100.0], 100.0, Ending::Failure).unwrap();
    let l = 10.0_f64.ln();
    assert_near(faults.trend_test().chi_square, 6.0 * l);
    assert_eq!(faults.trend_test().degrees_of_freedom, Some(4));
    assert_near(faults.laplace(), (0.01 + 0.1 - 1.0) * 6.0_f64.sqrt());
    let law = faults.power_law();
    assert_near(law.shape, 1.0 / l);
    assert_near(law.shape_unbiased, 1.0 / (3.0 * l));
}

#[test]
fn without_a_fault_there_is_only_a_lower_limit() {
    let none = by_time(&[], 1000.0);
    let limits = none.mean_between(Level::new(0.9).unwrap());
    // exp(-1000 / m) = 0.1.
    assert_near(limits.low, 1000.0 / 10.0_f64.ln());
    assert_eq!((limits.estimate, limits.high), (None, None));
    assert_eq!(
        (none.laplace(), none.trend_test(), none.power_law()),
        (None, TrendTest::default(), PowerLaw::default())
    );
    assert_eq!(none.mean_between_now(), None);
}

#[test]
fn one_fault_that_ends_the_observation_shows_no_trend() {
    let one = Faults::new(vec![40.0], 40.0, Ending::Failure).unwrap();
    assert_eq!(
        (one.laplace(), one.trend_test(), one.power_law()),
        (None, TrendTest::default(), PowerLaw::default())
    );
    // Exponential: the limits are 40 over -ln(0.025) and 40 over -ln(0.975).
    let limits = one.mean_between(Level::USUAL);
    assert!(limits.low.is_some_and(|low| (low + 40.0 / 0.025_f64.ln()).abs() < 1e-5), "{limits:?}");
    assert!(limits.high.is_some_and(|high| (high + 40.0 / 0.975_f64.ln()).abs() < 1e-2), "{limits:?}");
}

#[test]
fn faults_only_at_the_very_end_have_no_curve() {
    let late = by_time(&[100.0, 100.0], 100.0);
    assert_eq!(late.power_law(), PowerLaw::default());
    assert_eq!(late.trend_test().chi_square, Some(0.0));
    assert_eq!(late.trend_test().p_more_often, Some(0.0));
}

#[test]
fn one_fault_has_a_shape_but_none_that_is_unbiased() {
    let law = by_time(&[10.0], 100.0).power_law();
    assert_near(law.shape, 1.0 / 10.0_f64.ln());
    assert_eq!((law.shape_unbiased, law.cramer_von_mises), (None, None));
}

#[test]
fn what_is_no_history_is_refused() {
    for (times, end) in [
        (vec![2.0, 1.0], 3.0),
        (vec![0.0, 1.0], 3.0),
        (vec![1.0, 4.0], 3.0),
        (vec![f64::NAN], 3.0),
        (vec![], 0.0),
        (vec![], f64::INFINITY),
    ] {
        assert_eq!(Faults::new(times, end, Ending::Time), None);
    }
    assert_eq!(Faults::new(vec![1.0, 2.0], 3.0, Ending::Failure), None);
    assert_eq!(Faults::new(vec![], 3.0, Ending::Failure), None);
}

proptest! {
    #[test]
    fn another_unit_of_time_changes_only_what_is_a_time(
        rows in proptest::collection::vec(1_u32..10_000, 3..40), power in -150_i32..150, is_time in any::<bool>()
    ) {
        let mut times: Vec<f64> = rows.iter().copied().map(f64::from).collect();
        times.sort_by(f64::total_cmp);
        let last = times.last().copied().unwrap();
        let (end, ending) = if is_time { (last + 5.0, Ending::Time) } else { (last, Ending::Failure) };
        prop_assume!(times.iter().any(|&time| time < end));
        let unit = 10.0_f64.powi(power);
        let one = Faults::new(times.clone(), end, ending).unwrap();
        let other = Faults::new(times.iter().map(|time| time * unit).collect(), end * unit, ending).unwrap();
        let same = |a: Option<f64>, b: Option<f64>, by: f64| match (a, b) {
            (Some(a), Some(b)) => (a * by - b).abs() <= 1e-9 * b.abs().max(1e-6),
            (a, b) => a == b,
        };
        prop_assert!(same(one.laplace(), other.laplace(), 1.0));
        prop_assert!(same(one.trend_test().chi_square, other.trend_test().chi_square, 1.0));
        let (a, b) = (one.power_law(), other.power_law());
        prop_assert!(same(a.shape, b.shape, 1.0) && same(a.cramer_von_mises, b.cramer_von_mises, 1.0));
        let relative = |a: Option<f64>, b: Option<f64>| {
            a.zip(b).is_none_or(|(a, b)| (a * unit / b - 1.0).abs() < 1e-9)
        };
        prop_assert!(relative(one.mean_between_now(), other.mean_between_now()));
        let (a, b) = (one.mean_between(Level::USUAL), other.mean_between(Level::USUAL));
        prop_assert!(relative(a.estimate, b.estimate) && relative(a.low, b.low) && relative(a.high, b.high));
        prop_assert!(a.low < a.estimate && a.estimate < a.high);
    }

    #[test]
    fn the_two_tails_of_the_trend_test_make_one(rows in proptest::collection::vec(1_u32..999, 1..60)) {
        let mut times: Vec<f64> = rows.iter().copied().map(f64::from).collect();
        times.sort_by(f64::total_cmp);
        let test = by_time(&times, 1000.0).trend_test();
        prop_assert!((test.p_rarer.unwrap() + test.p_more_often.unwrap() - 1.0).abs() < 1e-9);
    }
}

#[test]
fn faults_just_before_the_end_and_times_far_apart_keep_their_distance_from_the_curve() {
    // Worked out from the definitions with mpmath at 30 digits.
    let late = by_time(&[999.999_999_999_9; 2], 1000.0).power_law();
    assert!(late.cramer_von_mises.is_some_and(|w| (w - 0.189_364_229_584_284_46).abs() < 1e-12), "{late:?}");
    let far = by_time(&[1e-300; 3], 1e300).power_law();
    assert!(far.cramer_von_mises.is_some_and(|w| (w - 0.250_540_057_249_404_23).abs() < 1e-12), "{far:?}");
}
