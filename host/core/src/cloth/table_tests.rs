use super::*;
use proptest::prelude::*;

fn row(line: u64, knob: f64, exposure: f64, tears: u64, stratum: &str) -> TableRow {
    TableRow { line, knob, exposure, tears, stratum: stratum.to_owned() }
}

#[test]
fn tears_without_running_are_refused_with_their_line() {
    let rows = [row(2, 1.0, 5.0, 1, ""), row(3, 2.0, 0.0, 1, "")];
    assert_eq!(
        table_report(&rows, Level::USUAL),
        Err(TableProblem::TearsWithoutExposure { line: 3, tears: 1 })
    );
}

#[test]
fn a_table_without_running_is_refused() {
    assert_eq!(table_report(&[row(2, 1.0, 0.0, 0, "")], Level::USUAL), Err(TableProblem::NoExposure));
    assert_eq!(table_report(&[], Level::USUAL), Err(TableProblem::NoExposure));
}

#[test]
fn more_tears_than_can_be_compared_are_refused_before_any_work() {
    let rows = [row(2, 1.0, 1.0, u64::MAX, ""), row(3, 2.0, 1.0, 5, "")];
    assert_eq!(table_report(&rows, Level::USUAL), Err(TableProblem::TooManyTears { tears: u64::MAX }));
}

#[test]
fn a_single_knob_value_is_one_band_and_no_comparison() {
    // Counts 1 and 3 in equal hours: 4 in 2 hours; fitted 2 each, scatter (1/2 + 1/2) / 1 by hand.
    let report = table_report(&[row(2, 7.0, 1.0, 1, ""), row(3, 7.0, 1.0, 3, "")], Level::USUAL).unwrap();
    assert_eq!((report.bands.len(), report.bands[0].tears, report.bands[0].rate), (1, 4, Some(2.0)));
    assert_eq!(report.ratio, PlainRatio::default());
    assert_eq!(report.stratified_exact, ExactRatio::default());
    assert_eq!((report.trend.slope, report.trend.dispersion), (None, Some(1.0)));
    assert_eq!(report.verdict, Verdict::CannotTellYet);
}

#[test]
fn hours_without_any_tear_have_an_upper_limit_and_nothing_else() {
    let report = table_report(&[row(2, 1.0, 10.0, 0, ""), row(3, 2.0, 10.0, 0, "")], Level::USUAL).unwrap();
    // Garwood: 3.688879 in 10 hours.
    assert!(
        report
            .bands
            .iter()
            .all(|band| band.low == Some(0.0)
                && band.high.is_some_and(|high| (high - 0.368_887_9).abs() < 1e-7))
    );
    assert_eq!((report.ratio.estimate, report.trend.slope), (None, None));
    assert_eq!(report.verdict, Verdict::CannotTellYet);
}

#[test]
fn nine_knob_values_are_cut_into_four_bands_of_exposure() {
    let rows: Vec<TableRow> = (1..=9_u32).map(|knob| row(1, f64::from(knob), 1.0, 1, "")).collect();
    let report = table_report(&rows, Level::USUAL).unwrap();
    let limits: Vec<(f64, f64)> = report.bands.iter().map(|band| (band.knob_low, band.knob_high)).collect();
    // Type 1 quartiles of nine equal weights are the third, fifth and seventh.
    assert_eq!(limits, vec![(1.0, 3.0), (4.0, 5.0), (6.0, 7.0), (8.0, 9.0)]);
}

#[test]
fn a_clear_difference_is_told_and_few_tears_are_not() {
    let many = [row(2, 1.0, 100.0, 4, ""), row(3, 2.0, 100.0, 30, "")];
    assert_eq!(table_report(&many, Level::USUAL).unwrap().verdict, Verdict::FasterTearsMore);
    let turned = [row(2, 1.0, 100.0, 30, ""), row(3, 2.0, 100.0, 4, "")];
    assert_eq!(table_report(&turned, Level::USUAL).unwrap().verdict, Verdict::SlowerTearsMore);
    let few = [row(2, 1.0, 1000.0, 0, ""), row(3, 2.0, 1.0, 5, "")];
    assert_eq!(table_report(&few, Level::USUAL).unwrap().verdict, Verdict::CannotTellYet);
    let alike = [row(2, 1.0, 100.0, 60, ""), row(3, 2.0, 100.0, 60, "")];
    assert_eq!(table_report(&alike, Level::USUAL).unwrap().verdict, Verdict::DoublingIsUnlikely);
}

#[test]
fn a_difference_that_the_rows_own_scatter_explains_is_not_told() {
    // One bad session holds nearly all the tears of the fast band: 40 against 15 is p < 0.01 for Poisson counts, but sessions
    // of the same band differ by 36, so that the widened trend is sure of nothing.
    let fast = [36, 1, 1, 1, 1];
    let rows: Vec<TableRow> =
        (0..5).flat_map(|at| [row(2, 1.0, 10.0, 3, ""), row(3, 2.0, 10.0, fast[at], "")]).collect();
    let report = table_report(&rows, Level::USUAL).unwrap();
    assert!(report.stratified_exact.p_value.is_some_and(|p| p <= 0.01), "{report:?}");
    assert!(report.trend.p_adjusted.is_some_and(|p| p > 0.05), "{report:?}");
    assert_eq!(report.verdict, Verdict::CannotTellYet);
}

proptest! {
    #[test]
    fn bands_hold_every_tear_and_all_running(
        cells in prop::collection::vec((0_u32..30, 0_u32..100, 0_u64..4, 0_u32..3), 1..60)
    ) {
        let rows: Vec<TableRow> = cells
            .iter()
            .filter(|(_, exposure, tears, _)| *exposure > 0 || *tears == 0)
            .map(|(knob, exposure, tears, rug)| {
                row(1, f64::from(*knob), f64::from(*exposure), *tears, &rug.to_string())
            })
            .collect();
        prop_assume!(rows.iter().any(|row| row.exposure > 0.0));
        let report = table_report(&rows, Level::USUAL).unwrap();
        let tears: u64 = report.bands.iter().map(|band| band.tears).sum();
        let exposure: f64 = report.bands.iter().map(|band| band.exposure).sum();
        prop_assert_eq!(tears, rows.iter().map(|row| row.tears).sum::<u64>());
        prop_assert!((exposure - rows.iter().map(|row| row.exposure).sum::<f64>()).abs() < 1e-9);
        prop_assert!(report.bands.windows(2).all(|two| two[0].knob_high < two[1].knob_low));
    }

    #[test]
    fn the_order_of_rows_does_not_matter(seed in 0_usize..7) {
        let mut rows: Vec<TableRow> = (0..7_u32)
            .map(|at| row(1, f64::from(at % 3), 1.0 + f64::from(at), u64::from(at), ["a", "b"][at as usize % 2]))
            .collect();
        let straight = table_report(&rows, Level::USUAL).unwrap();
        rows.rotate_left(seed);
        let turned = table_report(&rows, Level::USUAL).unwrap();
        prop_assert_eq!(straight.bands.len(), turned.bands.len());
        let close = |a: Option<f64>, b: Option<f64>| match (a, b) {
            (Some(a), Some(b)) => (a - b).abs() < 1e-9,
            (a, b) => a == b,
        };
        prop_assert!(close(straight.stratified_exact.estimate, turned.stratified_exact.estimate));
        prop_assert!(close(straight.trend.slope, turned.trend.slope));
    }
}
