use shared_types::{RunMillis, UtcMillis};

use super::*;

const M2: u64 = 1_000_000;
const HOUR: u64 = 3_600_000;

fn wanted(width_mm: u32, height_mm: u32) -> Wanted {
    Wanted {
        width_mm,
        height_mm,
        style: None,
        colours: None,
        level: Level::new(0.8).unwrap(),
        machine_hour_rate: None,
        tufting_hour_wage: None,
    }
}

/// Run hours per square metre: 1.0, 1.2, 0.9, 1.5; twice that at the frame; 40,000 strokes an hour.
fn four_rugs() -> Vec<OwnRug> {
    [(1, 10), (1, 12), (2, 18), (1, 15)]
        .map(|(area, tenths): (u64, u64)| OwnRug {
            area_mm2: area * M2,
            style: Some(Style::Cut),
            run_ms: tenths * HOUR / 10,
            strokes: Some(tenths * 4_000),
            tufting_ms: Some(tenths * HOUR / 5),
        })
        .to_vec()
}

fn near(found: Option<f64>, expected: f64) {
    assert!(
        found.is_some_and(|found| (found - expected).abs() < 1e-9 * expected.abs().max(1.0)),
        "{found:?} {expected}"
    );
}

/// scipy 1.17.1: exp(mean -+ t(0.9, 3) s sqrt(1 + 1/4)) of ln 1.0, 1.2, 0.9, 1.5 per square metre, times half a square
/// metre; the median is 1.128180927925918.
#[test]
fn four_own_rugs_give_a_range() {
    let found = quote(&wanted(1_000, 500), &four_rugs(), &[]);
    assert_eq!((found.basis, found.own_rugs, found.level), (Basis::OwnRugs, 4, Some(0.8)));
    near(found.run_hours.estimate, 1.128_180_927_925_918 / 2.0);
    near(found.run_hours.low, 0.748_567_884_445_521_6 / 2.0);
    near(found.run_hours.high, 1.700_302_981_978_136_6 / 2.0);
    near(found.tufting_hours.high, 1.700_302_981_978_136_6);
    near(found.strokes.low, 0.748_567_884_445_521_6 * 20_000.0);
    assert!(!found.is_outside_own_sizes);
    assert_eq!(found.checked_on_own_rugs, None, "three others are too few to foretell the fourth");
    assert_eq!(found.cost, Estimate::default());
}

#[test]
fn cost_takes_only_the_hours_whose_price_is_known() {
    let priced = Wanted { machine_hour_rate: Some(0.5), ..wanted(1_000, 1_000) };
    let machine_only = quote(&priced, &four_rugs(), &[]);
    near(machine_only.cost.estimate, 0.5 * 1.128_180_927_925_918);
    // By hand: twice as long at the frame at 20 an hour is 40 per run hour; 40.5 in all.
    let both = quote(&Wanted { tufting_hour_wage: Some(20.0), ..priced }, &four_rugs(), &[]);
    near(both.cost.low, 40.5 * 0.748_567_884_445_521_6);
    let mut untimed = four_rugs();
    untimed[2].tufting_ms = None;
    let open = quote(&Wanted { tufting_hour_wage: Some(20.0), ..priced }, &untimed, &[]);
    assert_eq!((open.tufting_hours, open.cost), (Estimate::default(), Estimate::default()));
    assert!(open.run_hours.estimate.is_some());
}

#[test]
fn three_rugs_and_no_sample_give_no_number_at_all() {
    let found = quote(&wanted(800, 1_200), &four_rugs()[..3], &[]);
    assert_eq!((found.basis, found.own_rugs, found.own_rugs_needed), (Basis::None, 3, 4));
    assert_eq!((found.run_hours, found.strokes, found.cost), Default::default());
}

#[test]
fn a_sample_square_gives_a_number_without_a_range() {
    let sample = |style, run_ms| SampleSquare {
        style,
        width_mm: 152,
        height_mm: 152,
        run: RunMillis(run_ms),
        strokes: Some(3_000),
        tufting_ms: None,
        at: UtcMillis(0),
    };
    let (cut, looped) = (sample(Some(Style::Cut), 240_000), sample(Some(Style::Loop), 120_000));
    let asked = Wanted { style: Some(Style::Cut), ..wanted(1_520, 1_520) };
    let found = quote(&asked, &four_rugs()[..3], &[cut.clone(), looped.clone()]);
    assert_eq!((found.basis, found.sample_squares), (Basis::SampleSquare, 1));
    // By hand: a hundred squares of four minutes are 400 minutes, 3,000 strokes each are 300,000.
    near(found.run_hours.estimate, 400.0 / 60.0);
    near(found.strokes.estimate, 300_000.0);
    assert_eq!((found.run_hours.low, found.tufting_hours.estimate, found.level), (None, None, None));
    // Of any style: both squares together, three minutes a square.
    let both = quote(&wanted(1_520, 1_520), &[], &[cut, looped]);
    near(both.run_hours.estimate, 300.0 / 60.0);
    assert_eq!(both.sample_squares, 2);
}

#[test]
fn rugs_of_another_or_an_unknown_style_do_not_count_for_a_style() {
    let mut rugs = four_rugs();
    rugs[0].style = None;
    let cut = quote(&Wanted { style: Some(Style::Cut), ..wanted(1_000, 1_000) }, &rugs, &[]);
    assert_eq!((cut.basis, cut.own_rugs), (Basis::None, 3));
    let looped = quote(&Wanted { style: Some(Style::Loop), ..wanted(1_000, 1_000) }, &rugs, &[]);
    assert_eq!(looped.own_rugs, 0);
    assert_eq!(quote(&wanted(1_000, 1_000), &rugs, &[]).own_rugs, 4);
}

#[test]
fn a_size_far_from_all_own_rugs_is_told() {
    // The largest own rug has two square metres, the smallest one.
    for (side_mm, is_outside) in [(2_000, false), (2_001, true), (708, false), (707, true)] {
        let found = quote(&wanted(side_mm, side_mm), &four_rugs(), &[]);
        assert_eq!(found.is_outside_own_sizes, is_outside, "{side_mm}");
    }
}

#[test]
fn the_range_is_tried_on_each_own_rug_in_turn() {
    let mut rugs = four_rugs();
    rugs.extend(four_rugs());
    // Forty times as long as any other: its own range, from eight rugs alike, cannot hold it; the wide ranges with it
    // among the others hold the eight.
    rugs.push(OwnRug { run_ms: 40 * HOUR, ..rugs[0] });
    let check = quote(&wanted(1_000, 1_000), &rugs, &[]).checked_on_own_rugs.unwrap();
    assert_eq!((check.held, check.of), (8, 9));
}
