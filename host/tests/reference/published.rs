//! Published and independently recomputed cases for the statistics, with the source of each number beside it.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a test may stop at the first surprise"
)]

use host_core::cloth::{TableReport, TableRow, table_report};
use host_core::stats::{Level, Observed, Pair, count_limits, exact_ratio, mantel_haenszel, rate};
use rstest::rstest;

const WARP_BREAKS: &str = include_str!("warpbreaks.csv");
const SHIPS: &str = include_str!("ships.csv");

#[track_caller]
fn assert_near(found: Option<f64>, published: f64, within: f64) {
    let found = found.expect("a number");
    assert!((found - published).abs() <= within, "found {found}, published {published}");
}

fn pair(a: u64, t1: f64, b: u64, t0: f64) -> Pair {
    Pair { upper: Observed { events: a, exposure: t1 }, lower: Observed { events: b, exposure: t0 } }
}

/// Garwood (1936), Biometrika 28, 437-442; digits from chi-square quantiles of scipy and from R's `poisson.test`.
#[rstest]
#[case::none(0, 0.0, 3.688_879)]
#[case::one(1, 0.025_318, 5.571_643)]
#[case::two(2, 0.242_209, 7.224_688)]
#[case::three(3, 0.618_672, 8.767_273)]
#[case::five(5, 1.623_486, 11.668_332)]
#[case::ten(10, 4.795_389, 18.390_356)]
#[case::twenty(20, 12.216_520, 30.888_378)]
#[case::fifty(50, 37.110_964, 65.918_767)]
fn exact_limits_of_a_count_are_garwoods(#[case] events: u64, #[case] low: f64, #[case] high: f64) {
    let limits = count_limits(events, Level::USUAL);
    assert_near(limits.low, low, 5.1e-7);
    assert_near(limits.high, high, 5.1e-7);
}

/// R source, tests/Examples/stats-Ex.Rout.save, section "poisson.test": 137 events in 24.19893.
#[test]
fn a_rate_has_the_limits_of_rs_help_page() {
    let found = rate(Observed { events: 137, exposure: 24.198_93 }, Level::USUAL);
    assert_near(found.estimate, 5.661_407, 5.1e-7);
    assert_near(found.low, 4.753_125, 5.1e-7);
    assert_near(found.high, 6.692_709, 5.1e-7);
}

/// The same page: 11 events in 800 against 21 in 3011.
#[test]
fn two_rates_compare_as_on_rs_help_page() {
    let found = exact_ratio(&[pair(11, 800.0, 21, 3011.0)], Level::USUAL).unwrap();
    assert_near(found.estimate, 1.971_488, 5.1e-7);
    assert_near(found.low, 0.858_426_4, 5.1e-8);
    assert_near(found.high, 4.277_265_9, 5.1e-8);
    assert_near(found.p_value, 0.079_67, 5.1e-6);
}

/// Fluoroscopy: Boice and Monson (1977) as in Rothman and Greenland; recomputed with scipy.
#[test]
fn two_rates_compare_as_in_the_fluoroscopy_study() {
    let found = exact_ratio(&[pair(41, 28_010.0, 15, 19_017.0)], Level::USUAL).unwrap();
    assert_near(found.estimate, 1.855_759, 5.1e-7);
    assert_near(found.low, 1.005_684, 5.1e-7);
    assert_near(found.high, 3.609_300, 5.1e-7);
    assert_near(found.p_value, 0.040_85, 5.1e-6);
}

/// British doctors, Doll and Hill (1966) as in Rothman and Greenland: deaths and person-years of smokers and others by age.
fn doctors() -> [Pair; 5] {
    [
        pair(32, 52_407.0, 2, 18_790.0),
        pair(104, 43_248.0, 12, 10_673.0),
        pair(206, 28_612.0, 28, 5_710.0),
        pair(186, 12_663.0, 28, 2_585.0),
        pair(102, 5_317.0, 31, 1_462.0),
    ]
}

/// Mantel-Haenszel ratio and Greenland-Robins limits as published; that the strata differ: deviance 12.13237 on 4 degrees of
/// freedom (statsmodels), whose chi-square tail is 0.0163936 (scipy).
#[test]
fn strata_are_weighted_as_for_the_british_doctors() {
    let found = mantel_haenszel(&doctors(), Level::USUAL);
    assert_near(found.estimate, 1.424_682, 5.1e-7);
    assert_near(found.low, 1.154_703, 5.1e-7);
    assert_near(found.high, 1.757_784, 5.1e-7);
    assert_near(found.p_strata_differ, 0.016_393_6, 1e-6);
}

/// The conditional estimate equals the Poisson regression's adjusted ratio 1.425519 (published digits, statsmodels); limits and
/// probability by convolving scipy's binomial distributions.
#[test]
fn the_stratified_exact_ratio_of_the_british_doctors_is_found() {
    let found = exact_ratio(&doctors(), Level::USUAL).unwrap();
    assert_near(found.estimate, 1.425_519, 5.1e-7);
    assert_near(found.low, 1.153_317_92, 1e-7);
    assert_near(found.high, 1.777_394_33, 1e-7);
    assert_near(found.p_value, 7.015_844_78e-4, 1e-9);
    assert_eq!(found.informative_strata, 5);
}

fn lines(csv: &str) -> impl Iterator<Item = (u64, Vec<&str>)> {
    (1..).zip(csv.lines()).skip(1).map(|(line, row)| (line, row.split(',').collect()))
}

fn warp_breaks() -> TableReport {
    let rows: Vec<TableRow> = lines(WARP_BREAKS)
        .map(|(line, row)| TableRow {
            line,
            knob: match row[2] {
                "L" => 1.0,
                "M" => 2.0,
                _ => 3.0,
            },
            exposure: 1.0,
            tears: row[0].parse().unwrap(),
            stratum: row[1].to_owned(),
        })
        .collect();
    assert_eq!(rows.len(), 54);
    table_report(&rows, Level::USUAL).unwrap()
}

/// Totals as published: 655, 475, 390 over 18 looms each; limits from scipy's chi-square quantiles.
#[test]
fn warp_breaks_add_up_by_tension() {
    let report = warp_breaks();
    let bands: Vec<(f64, u64, f64)> =
        report.bands.iter().map(|band| (band.knob_low, band.tears, band.exposure)).collect();
    assert_eq!(bands, vec![(1.0, 655, 18.0), (2.0, 475, 18.0), (3.0, 390, 18.0)]);
    for (band, (low, high)) in report.bands.iter().zip([
        (33.655_137_27, 39.285_550_48),
        (24.068_803_98, 28.872_249_83),
        (19.569_416_33, 23.927_448_08),
    ]) {
        assert_near(band.rate, band.tears as f64 / 18.0, 1e-12);
        assert_near(band.low, low, 1e-7);
        assert_near(band.high, high, 1e-7);
    }
}

/// R and statsmodels: breaks on wool and tension scored 1, 2, 3. Plain Poisson says z = -8.28; the scatter of the looms makes
/// that t = -4.04. A report with the first number alone would be wrong.
#[test]
fn the_warp_breaks_trend_is_widened_by_the_looms_own_scatter() {
    let trend = warp_breaks().trend;
    assert_near(trend.slope, -0.264_553, 5.1e-7);
    assert_near(trend.standard_error, 0.031_964_228_6, 1e-9);
    assert_near(trend.z_poisson, -8.2765, 5.1e-5);
    assert_near(trend.dispersion, 4.201_386_967, 1e-8);
    assert_near(trend.t_adjusted, -4.0379, 5.1e-5);
    assert_near(trend.p_adjusted, 1.815_922e-4, 1e-9);
    assert_eq!(trend.residual_degrees_of_freedom, 51);
}

/// Highest against lowest tension, wool ignored: 390 against 655 in equal exposure (scipy's beta quantiles).
#[test]
fn warp_breaks_of_high_and_low_tension_compare() {
    let ratio = warp_breaks().ratio;
    assert_near(ratio.estimate, 390.0 / 655.0, 1e-12);
    assert_near(ratio.low, 0.523_914_659_6, 1e-9);
    assert_near(ratio.high, 0.675_975_717_9, 1e-9);
    assert_near(ratio.p_value, 2.202_97e-16, 1e-19);
}

/// Calls while driving, Redelmeier and Tibshirani (1997): 157 drivers on the telephone only in the minutes before the collision, 24
/// only at the same time of the day before. Paired data are one stratum with equal exposure; exact limits by scipy's beta quantiles.
#[test]
fn pairs_compare_as_in_the_study_of_calls_while_driving() {
    let found = exact_ratio(&[pair(157, 1.0, 24, 1.0)], Level::USUAL).unwrap();
    assert_near(found.estimate, 6.541_667, 5.1e-7);
    assert_near(found.low, 4.239_948, 5.1e-7);
    assert_near(found.high, 10.515_481, 5.1e-7);
}

/// Ship damage: knob = period, stratum = type and year. Poisson regression, stratified ratio, weighted ratio and likelihood
/// ratio recomputed with statsmodels and scipy; 6 of the 40 rows have no service and must be dropped, never become ln(0).
///
/// The recipe, with statsmodels 0.14 or later: `d = s[s.service > 0]; d["st"] = d.type + d.year.astype(str);
/// m = smf.glm("incidents ~ period + C(st)", d, family=sm.families.Poisson(), offset=np.log(d.service)).fit(tol=1e-12)`; then
/// `m.params["period"]`, `m.bse["period"]`, `m.tvalues["period"]`, `m.pearson_chi2 / m.df_resid`, `m.df_resid`, and the fourth's
/// root under the third.
#[test]
fn ship_damage_is_worked_out_as_by_a_general_library() {
    let rows: Vec<TableRow> = lines(SHIPS)
        .map(|(line, row)| TableRow {
            line,
            knob: row[2].parse().unwrap(),
            exposure: row[3].parse().unwrap(),
            tears: row[4].parse().unwrap(),
            stratum: format!("{}{}", row[0], row[1]),
        })
        .collect();
    assert_eq!(rows.len(), 40);
    let report = table_report(&rows, Level::USUAL).unwrap();
    assert_eq!(report.dropped_rows, 6);
    assert_near(report.trend.slope, 0.025_669_689_4, 1e-8);
    assert_near(report.trend.standard_error, 0.007_908_984_6, 1e-8);
    assert_near(report.trend.z_poisson, 3.245_636_56, 1e-6);
    assert_near(report.trend.dispersion, 1.336_002_635, 1e-6);
    assert_near(report.trend.t_adjusted, 2.807_994_35, 1e-6);
    assert_near(report.trend.p_adjusted, 0.014_801_458_5, 1e-7);
    assert_eq!(report.trend.residual_degrees_of_freedom, 13);
    assert_near(report.stratified_exact.estimate, 1.469_680_96, 1e-7);
    assert_near(report.stratified_exact.low, 1.157_436_66, 1e-7);
    assert_near(report.stratified_exact.high, 1.868_937_18, 1e-7);
    assert_near(report.stratified_exact.p_value, 0.001_166_058_07, 1e-9);
    assert_eq!(report.stratified_exact.informative_strata, 11);
    assert_near(report.mantel_haenszel.estimate, 1.458_717_34, 1e-7);
    assert_near(report.mantel_haenszel.low, 1.160_931_47, 1e-6);
    assert_near(report.mantel_haenszel.high, 1.832_887_07, 1e-6);
    assert_near(report.mantel_haenszel.p_strata_differ, 0.147_865_18, 1e-7);
}
