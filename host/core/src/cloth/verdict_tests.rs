use super::*;
use crate::cloth::exposure_sequence::{Hurt, Ran};
use crate::studio::RugIndex;
use proptest::prelude::*;

const HOUR: u64 = 3_600_000;

fn ran(rug: usize, knob: u32, hours: u64) -> Step {
    Step::Ran(Ran {
        rug: Some(RugIndex::of(rug)),
        knob: Some(knob),
        run_ms: hours * HOUR,
        edges: hours * 36_000,
        ..Ran::default()
    })
}

fn tear(rug: Option<usize>, knob: u32) -> Step {
    Step::Hurt(Hurt { id: None, harm: Harm::Tear, rug: rug.map(RugIndex::of), lot: None, knob: Some(knob) })
}

/// Twelve hours slow, twelve fast, and so many fast tears.
fn told(fast_tears: usize) -> Vec<Step> {
    let mut steps = vec![ran(0, 300, 12), ran(0, 700, 12)];
    steps.extend((0..fast_tears).map(|_| tear(Some(0), 700)));
    steps
}

#[test]
fn the_cut_is_the_median_of_the_first_twenty_hours_by_run_time() {
    // 4 h at 200, 7 h at 500, 9 h at 800: the tenth hour is at 500.
    let steps = [ran(0, 800, 9), ran(0, 200, 4), ran(0, 500, 7)];
    assert_eq!(cut(&steps), Cut::At(500));
    assert_eq!(cut(&steps[..2]), Cut::Needs(7 * HOUR));
    // Of the last stretch only what fills the twenty hours counts: 11 h at 200 against 9 of 40 at 800.
    assert_eq!(cut(&[ran(0, 200, 11), ran(0, 800, 40)]), Cut::At(200));
}

#[test]
fn before_twenty_hours_nothing_is_told_however_many_tears_there_are() {
    let mut steps = vec![ran(0, 300, 5), ran(0, 700, 5)];
    steps.extend((0..30).map(|_| tear(Some(0), 700)));
    let answer = primary(&steps, Pace::default(), Level::USUAL).unwrap();
    assert_eq!((answer.verdict, answer.cut_knob_per_mille), (Verdict::CannotTellYet, None));
    assert_eq!((answer.cut_needs_run_time_ms, answer.tears_placed), (10 * HOUR, 30));
}

#[test]
fn eight_fast_tears_wait_for_the_look_at_nine() {
    // At a half each, 2 / 2^6 = 0.031 is not enough at the look of six; 2 / 2^9 = 0.0039 is, at nine.
    let at = |tears| primary(&told(tears), Pace::default(), Level::USUAL).unwrap();
    assert_eq!((at(8).verdict, at(8).look_at_tears), (Verdict::CannotTellYet, Some(6)));
    assert_eq!((at(9).verdict, at(9).look_at_tears), (Verdict::FasterTearsMore, Some(9)));
    assert!((at(9).ratio.unwrap().p_value.unwrap() - 2.0 / 512.0).abs() < 1e-12);
    // The next look is at fourteen; what comes before it changes nothing.
    let mut later = told(9);
    later.extend([tear(Some(0), 300), tear(Some(0), 300), ran(0, 300, 500)]);
    let still = primary(&later, Pace::default(), Level::USUAL).unwrap();
    assert_eq!((still.verdict, still.ratio), (Verdict::FasterTearsMore, at(9).ratio));
    assert_eq!((still.tears_placed, still.next_look_at_tears), (11, 14));
}

#[test]
fn tears_on_no_known_rug_or_cloth_are_counted_apart() {
    let mut steps = told(5);
    steps.extend((0..9).map(|_| tear(None, 700)));
    let answer = primary(&steps, Pace::default(), Level::USUAL).unwrap();
    assert_eq!((answer.tears_placed, answer.tears_not_placed, answer.look_at_tears), (5, 9, None));
}

#[test]
fn rugs_made_at_one_speed_only_say_nothing_and_are_counted() {
    let mut steps = told(1);
    steps.extend([ran(1, 800, 3), tear(Some(1), 800), tear(Some(1), 800)]);
    let answer = primary(&steps, Pace::default(), Level::USUAL).unwrap();
    assert_eq!((answer.informative_rugs, answer.silent_rugs), (1, 1));
}

#[test]
fn a_tripling_on_rugs_made_half_fast_takes_forty_eight_tears() {
    // scipy's binomial distributions: at 32 tears, half of the strokes fast, p <= 0.01 from 24 fast ones on, which at three
    // quarters has probability 0.593512; at 48 from 34 on, with 0.800113. With three tenths fast: 0.705012 at 32, 0.845714 at 48.
    let power = |n: u64, from: u64| (from..=n).map(|k| binomial(k, n, 0.75)).sum::<f64>();
    assert!((power(32, 24) - 0.593_512).abs() < 1e-6);
    assert!((power(48, 34) - 0.800_113).abs() < 1e-6);
    assert_eq!(tears_to_tell(3.0, 0.3), Some(48));
    assert_eq!(tears_to_tell(3.0, 0.5), Some(48));
    assert_eq!(tears_to_tell(3.0, 0.0), None);
    assert_eq!(tears_to_tell(1.0, 0.5), None);
}

#[test]
fn what_is_missing_follows_from_the_pace() {
    // 2 tears in 10 hours over 30.4375 days: 4 more in 20 hours, 2 months.
    let pace = Pace { tears: 2, run_time_ms: 10 * HOUR, span_ms: Some(MONTH_MS) };
    let missing = pace.missing(4);
    assert_eq!((missing.tears, missing.run_time_ms), (4, Some(72_000_000.0)));
    assert!((missing.months.unwrap() - 2.0).abs() < 1e-12);
    let none = Pace { tears: 0, run_time_ms: 10 * HOUR, span_ms: None }.missing(6);
    assert_eq!((none.tears, none.run_time_ms, none.months), (6, None, None));
}

proptest! {
    #[test]
    fn whatever_follows_a_look_does_not_change_what_it_knew(
        steps in prop::collection::vec((0_usize..4, 0_u32..1000, prop::option::of(1_u64..5)), 1..200),
        keep in 0_usize..200,
    ) {
        let steps: Vec<Step> = steps
            .into_iter()
            .map(|(rug, knob, hours)| match hours {
                Some(hours) => ran(rug, knob, hours),
                None => tear(Some(rug), knob),
            })
            .collect();
        let early = &steps[..keep.min(steps.len())];
        let (all, some) = (looks(&steps, 500), looks(early, 500));
        prop_assert_eq!(&all.looks[..some.looks.len()], &some.looks[..]);
        if let Cut::At(knob) = cut(early) {
            prop_assert_eq!(cut(&steps), Cut::At(knob));
        }
    }
}
