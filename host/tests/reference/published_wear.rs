//! Published and independently recomputed cases for lives, faults, findings and forecasts, with the source of each number
//! beside it. "Recomputed" means with scipy, lifelines or R, or where it says so with mpmath at 40 digits, by solving the
//! definition itself; never with this program.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a test may stop at the first surprise"
)]

use host_core::parts::{FaultTrend, Reason, fault_report, wear_of_curve, wear_report};
use host_core::stats::{
    Costs, Drift, Ending, Faults, Level, Life, Lives, Look, Weibull, best_age, dirty_curve, first_passage,
    limit_distance, moving_average, quantile, share_limits, survival,
};
use rstest::rstest;

#[track_caller]
fn assert_near(found: Option<f64>, published: f64, within: f64) {
    let found = found.expect("a number");
    assert!((found - published).abs() <= within, "found {found}, published {published}");
}

fn lives(ended: &[f64], cut_short: &[f64]) -> Vec<Life> {
    let of = |ended| move |&time: &f64| Life { time, ended };
    ended.iter().map(of(true)).chain(cut_short.iter().map(of(false))).collect()
}

/// NIST/SEMATECH e-Handbook 8.4.1.3: ten failures, ten units removed at 500 h.
fn nist_units() -> Vec<Life> {
    lives(&[54.0, 187.0, 216.0, 240.0, 244.0, 335.0, 361.0, 373.0, 375.0, 386.0], &[500.0; 10])
}

/// The page prints shape 1.7208, scale 606.5280, log likelihood -75.135; mean 540.737 recomputed with scipy.
#[test]
fn a_censored_weibull_sample_is_that_of_the_handbook() {
    let report = wear_report(&nist_units(), None);
    assert_near(report.shape, 1.7208, 5e-5);
    assert_near(report.scale_hours, 606.528, 1e-3);
    assert_near(report.log_likelihood, -75.135, 5.1e-4);
    assert_near(report.mean_life_hours, 540.737, 5e-4);
    assert_eq!(report.reason, Reason::NoCosts);
}

/// Recomputed with mpmath: profile likelihood at the chi-square quantiles 3.841459 and (one-sided 90 %) 1.642374.
#[test]
fn its_limits_are_those_of_the_profile_likelihood() {
    let prepared = Lives::new(&nist_units()).unwrap();
    let fit = prepared.fit().unwrap();
    let shape = prepared.shape_limits(&fit, Level::USUAL);
    assert_near(shape.low, 0.905_645_358_752, 1e-8);
    assert_near(shape.high, 2.885_737_865_74, 1e-8);
    let scale = prepared.scale_limits(&fit, Level::USUAL);
    assert_near(scale.low, 437.556_745_394, 1e-5);
    assert_near(scale.high, 1_118.877_624_7, 1e-5);
    assert_near(prepared.shape_at_least(&fit, Level::new(0.9).unwrap()), 1.150_508_535_41, 1e-8);
}

/// Lieblein and Zelen (1956), fatigue of 23 ball bearings, million revolutions, as shipped with two statistics libraries
/// (others print 48.48 for 48.40); published shape 2.102 and scale 81.875; lifelines 0.30.3: 2.10185, 81.8745, -113.69196.
#[test]
fn ball_bearings_wear_as_published() {
    let revolutions = [
        17.88, 28.92, 33.00, 41.52, 42.12, 45.60, 48.40, 51.84, 51.96, 54.12, 55.56, 67.80, 68.64, 68.64,
        68.88, 84.12, 93.12, 98.64, 105.12, 105.84, 127.92, 128.04, 173.40,
    ];
    let report = wear_report(&lives(&revolutions, &[]), None);
    assert_near(report.shape, 2.101_85, 5.1e-6);
    assert_near(report.scale_hours, 81.8745, 1e-4);
    assert_near(report.log_likelihood, -113.691_96, 5.1e-6);
}

/// Acute myelogenous leukaemia, maintained arm (Miller 1981), as in R's `survival::aml`; shares and Greenwood's errors from R
/// and lifelines. The limits on the log-minus-log scale are those of `survfit(conf.type = "log-log")`, worked out from the
/// formula with mpmath.
#[test]
fn survival_of_the_maintained_arm_is_that_of_r() {
    let arm = lives(&[9.0, 13.0, 18.0, 23.0, 31.0, 34.0, 48.0], &[13.0, 28.0, 45.0, 161.0]);
    let steps = survival(&arm, Level::USUAL);
    let expected = [
        (9.0, 0.909_091, 0.086_678),
        (13.0, 0.818_182, 0.116_291),
        (18.0, 0.715_909, 0.139_665),
        (23.0, 0.613_636, 0.152_632),
        (31.0, 0.490_909, 0.164_193),
        (34.0, 0.368_182, 0.162_669),
        (48.0, 0.184_091, 0.153_493),
    ];
    assert_eq!(steps.len(), expected.len());
    for (step, (time, share, error)) in steps.iter().zip(expected) {
        assert_eq!(step.time, time);
        assert_near(Some(step.surviving), share, 5.1e-7);
        assert_near(step.standard_error, error, 5.1e-7);
    }
    assert_near(steps[0].low, 0.508_080_206, 1e-7);
    assert_near(steps[0].high, 0.986_673_823, 1e-7);
    assert_near(steps[2].low, 0.350_190_386, 1e-7);
    assert_near(steps[2].high, 0.899_023_974, 1e-7);
}

/// The same handbook data: one in twenty at each failure, by hand.
#[test]
fn survival_of_the_handbook_units_falls_by_a_twentieth_each() {
    let report = wear_report(&nist_units(), None);
    assert_eq!(report.survival.len(), 10);
    for (ended, step) in (1_u32..).zip(&report.survival) {
        assert_near(Some(step.surviving), 1.0 - f64::from(ended) / 20.0, 1e-12);
    }
}

/// Barlow and Hunter (1960) with the example of a reliability library's manual: 493.047 h and 0.00346204 an hour by scipy's
/// minimum; more figures from their equation, solved with mpmath.
#[test]
fn the_best_age_is_that_of_barlow_and_hunter() {
    let report = wear_of_curve(Weibull::new(2.5, 1000.0).unwrap(), Costs::new(1.0, 5.0).unwrap());
    assert_near(report.replace_at_hours, 493.046_957_596_634, 1e-8);
    assert_near(report.cost_per_hour, 0.003_462_042_738_782, 1e-14);
    let best = best_age(Weibull::new(2.5, 1000.0).unwrap(), Costs::new(1.0, 5.0).unwrap());
    assert_near(best.failure_cost_rate, 0.005_635_30, 5.1e-9);
}

/// NIST/SEMATECH e-Handbook 8.2.2.3, 8.2.3.4 and 8.4.5.2, "case study 1": repairs of one system, observed to 1500 h. The
/// handbook prints 0.4835 for the estimator with r - 1 (here: corrected for bias) and 310.234 h from it at the end.
#[test]
fn repairs_of_the_handbook_system_get_rarer() {
    let repairs = vec![5.0, 40.0, 43.0, 175.0, 389.0, 712.0, 747.0, 795.0, 1299.0, 1478.0];
    let faults = Faults::new(repairs, 1500.0, Ending::Time).unwrap();
    let report = fault_report(&faults, Level::new(0.9).unwrap());
    assert_near(report.mil_hdbk_chi2, 37.2281, 5.1e-5);
    assert_eq!(report.degrees_of_freedom, Some(20));
    assert_near(report.beside.test.p_rarer, 0.010_99, 5.1e-6);
    assert_eq!(report.beside.trend, FaultTrend::Rarer);
    assert_near(report.laplace_z, -1.326_95, 5.1e-6);
    assert_near(report.power_law.shape, 0.537_229, 5.1e-7);
    assert_near(report.power_law.shape_unbiased, 0.4835, 5.1e-5);
    // The handbook's hours at the end come from its own estimator; ours from maximum likelihood: 1500 / (10 * 0.537229).
    assert_near(report.power_law.shape_unbiased.map(|shape| 1500.0 / (10.0 * shape)), 310.234, 5.1e-4);
    assert_near(report.mtbf_now_hours, 279.210_542, 1e-4);
}

/// NIST/SEMATECH e-Handbook 8.1.9.2, example 1: cumulative mean time between failures for Duane's plot.
#[test]
fn hours_up_to_each_fault_are_those_of_duanes_plot() {
    let times = vec![33.0, 76.0, 145.0, 347.0, 555.0, 811.0, 1212.0, 1499.0];
    let faults = Faults::new(times, 1500.0, Ending::Time).unwrap();
    let printed = [33.0, 38.0, 48.3, 86.8, 111.0, 135.2, 173.1, 187.4];
    let found = faults.mean_between_up_to_each();
    assert_eq!(found.len(), printed.len());
    for (found, printed) in found.into_iter().zip(printed) {
        assert_near(Some(found), printed, 0.051);
    }
}

/// MIL-HDBK-189 (1981), appendix C, time-truncated at 300 h: the handbook prints 0.716, 0.454, 0.091 and 15.5 h; six figures
/// recomputed with scipy. Its beta is the shape itself.
#[test]
fn a_growth_test_is_that_of_the_military_handbook() {
    let times = vec![
        2.6, 16.5, 16.5, 17.0, 21.4, 29.1, 33.3, 56.5, 63.1, 70.6, 73.0, 77.7, 93.9, 95.5, 98.1, 101.1,
        132.0, 142.2, 147.7, 149.0, 167.2, 190.7, 193.0, 198.7, 251.9, 282.5, 286.1,
    ];
    let faults = Faults::new(times, 300.0, Ending::Time).unwrap();
    let law = faults.power_law();
    assert_near(law.shape, 0.716_339, 5.1e-7);
    assert_near(law.scale, 0.453_842, 5.1e-7);
    assert_near(law.shape_unbiased, 0.689_808, 5.1e-7);
    assert_near(law.cramer_von_mises, 0.091_061, 5.1e-7);
    assert_near(faults.mean_between_now(), 15.5110, 5.1e-5);
}

/// NIST/SEMATECH e-Handbook 8.4.5.1, fixed-time test: multipliers of time over failures.
#[rstest]
#[case(1, 0.6, 0.3340, 4.4814)]
#[case(1, 0.8, 0.2571, 9.4912)]
#[case(1, 0.9, 0.2108, 19.4957)]
#[case(1, 0.95, 0.1795, 39.4979)]
#[case(2, 0.6, 0.4674, 2.4260)]
#[case(2, 0.8, 0.3758, 3.7607)]
#[case(2, 0.9, 0.3177, 5.6281)]
#[case(2, 0.95, 0.2768, 8.2573)]
#[case(5, 0.6, 0.6324, 1.6184)]
#[case(5, 0.8, 0.5391, 2.0554)]
#[case(5, 0.9, 0.4756, 2.5379)]
#[case(5, 0.95, 0.4285, 3.0798)]
#[case(10, 0.6, 0.7326, 1.3719)]
#[case(10, 0.8, 0.6491, 1.6074)]
#[case(10, 0.9, 0.5895, 1.8432)]
#[case(10, 0.95, 0.5438, 2.0853)]
fn limits_between_faults_are_the_handbooks_factors(
    #[case] count: u32,
    #[case] share: f64,
    #[case] low: f64,
    #[case] high: f64,
) {
    let end = 100.0 * f64::from(count);
    let times = (1..=count).map(|place| f64::from(place) * 7.0).collect();
    let faults = Faults::new(times, end, Ending::Time).unwrap();
    let limits = faults.mean_between(Level::new(share).unwrap());
    assert_near(limits.estimate, 100.0, 1e-9);
    assert_near(limits.low, 100.0 * low, 0.0051);
    assert_near(limits.high, 100.0 * high, 0.0051);
}

/// Worked from the same page: 800 h with 2 failures, 1600 h with 5, 90 %; no failure in T: 0.4343 T.
#[test]
fn worked_limits_between_faults_are_those_of_the_handbook() {
    let level = Level::new(0.9).unwrap();
    let limits = |times: Vec<f64>, end| Faults::new(times, end, Ending::Time).unwrap().mean_between(level);
    let two = limits(vec![100.0, 500.0], 800.0);
    assert_near(two.low, 127.07, 0.0051);
    assert_near(two.high, 2251.23, 0.0051);
    let five = limits(vec![100.0, 500.0, 700.0, 900.0, 1500.0], 1600.0);
    assert_near(five.low, 152.19, 0.0051);
    assert_near(five.high, 812.12, 0.0051);
    assert_near(limits(vec![], 1000.0).low, 434.3, 0.051);
}

/// NIST/SEMATECH e-Handbook 6.3.2.4: weight 0.3, start 50, deviation 2.0539, three widths.
#[test]
fn the_moving_average_is_that_of_the_handbook() {
    let values = [
        52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5, 49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6,
        52.4, 53.6, 52.1,
    ];
    let printed = [
        50.60, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33, 50.11, 49.36, 49.52, 50.05,
        49.38, 49.92, 50.73, 51.23, 51.94, 51.99,
    ];
    let found = moving_average(&values, 0.3, 50.0);
    assert_eq!(found.len(), printed.len());
    for (found, printed) in found.into_iter().zip(printed) {
        assert_near(Some(found), printed, 0.0051);
    }
    assert_near(limit_distance(2.0539, 0.3, 3.0), 2.5884, 5.1e-5);
}

/// 20 h at 1.25 h a day with deviation 1.5 h: recomputed with scipy's `invgauss`.
#[test]
fn first_passage_is_the_inverse_gaussian() {
    let passage = first_passage(20.0, Drift { mean: 1.25, standard_deviation: 1.5 }).unwrap();
    assert_near(Some(passage.mean), 16.0, 1e-12);
    assert_near(Some(passage.standard_deviation), 4.8, 1e-12);
    assert_near(passage.time_of(0.1), 10.5051, 5.1e-5);
    assert_near(passage.time_of(0.5), 15.3155, 5.1e-5);
    assert_near(passage.time_of(0.9), 22.3727, 5.1e-5);
}

/// Hyndman and Fan (1996), definition 7: R's `quantile` and numpy on this sample.
#[test]
fn quantiles_are_those_of_r() {
    let sample = [99.0, 1.0, 3.0, 4.0, 8.0, 15.0, 16.0, 23.0, 42.0];
    assert_near(quantile(&sample, 0.25), 4.0, 1e-12);
    assert_near(quantile(&sample, 0.9), 53.4, 1e-12);
    assert_near(quantile(&sample, 0.05), 1.8, 1e-12);
}

/// Clopper and Pearson (1934); recomputed with mpmath from the incomplete beta function, as R's `binom.test`.
#[rstest]
#[case(1, 10, 0.002_528_578_544, 0.445_016_117)]
#[case(2, 10, 0.025_210_726_33, 0.556_095_462_3)]
#[case(3, 14, 0.046_579_287_89, 0.507_975_677)]
fn limits_of_a_share_are_exact(#[case] some: u64, #[case] all: u64, #[case] low: f64, #[case] high: f64) {
    let limits = share_limits(some, all, Level::USUAL);
    assert_near(limits.low, low, 1e-9);
    assert_near(limits.high, high, 1e-9);
}

/// Eighteen made-up looks; top and limits recomputed with mpmath, by solving the conditions of the definition.
#[test]
fn dirty_looks_give_the_curve_and_limits_of_their_definition() {
    let dirty = [4.5, 6.0, 7.5, 8.0, 9.5, 12.0, 3.5, 11.0].map(|time| Look { time, dirty: true });
    let clean = [1.0, 1.5, 2.0, 2.5, 3.0, 3.0, 4.0, 5.0, 6.5, 8.5].map(|time| Look { time, dirty: false });
    let looks = [dirty.as_slice(), &clean].concat();
    let curve = dirty_curve(&looks, 0.2, Level::USUAL).unwrap();
    assert_near(Some(curve.best.shape), 2.062_549_823_48, 1e-8);
    assert_near(Some(curve.best.scale), 6.823_933_881_7, 1e-7);
    assert_near(curve.time_of_share.estimate, 3.297_649_884_64, 1e-7);
    assert_near(curve.time_of_share.low, 1.422_952_607_86, 1e-7);
    assert_near(curve.time_of_share.high, 5.236_760_454_85, 1e-7);
}
