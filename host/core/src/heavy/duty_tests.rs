#![allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a test may stop at the first surprise"
)]
use super::*;
use crate::heavy::chains::{Run, stretches};
use proptest::prelude::*;
use rstest::rstest;

const MINUTE: u64 = 60_000;

/// Runs and rests in minutes, one after the other.
fn cycles(run: f64, rest: f64, times: usize) -> Chain {
    let ms = |minutes: f64| (minutes * 60_000.0).round() as u64;
    (0..times).map(|line| Run { at_ms: line as u64 * (ms(run) + ms(rest)), run_ms: ms(run), line }).collect()
}

/// IEC 60034-1: the cyclic duration factor is N / (N + R). 2.5 min of load and 7.5 min of rest are 25 %, 4 and 6 are
/// 40 %. The last two are a trap: 10 min of load in 40 min are 25 % as well, but of a cycle of 40 min; a window of 10 min
/// is full.
#[rstest]
#[case::quarter(2.5, 7.5, 10, 25)]
#[case::two_fifths(4.0, 6.0, 10, 40)]
#[case::fifteen(1.5, 8.5, 10, 15)]
#[case::sixty(6.0, 4.0, 10, 60)]
#[case::no_rest(10.0, 0.0, 10, 100)]
#[case::long_cycle_in_its_own_window(10.0, 30.0, 40, 25)]
#[case::long_cycle_in_the_usual_window(10.0, 30.0, 10, 100)]
fn identical_cycles_have_the_factor_of_the_standard(
    #[case] run: f64,
    #[case] rest: f64,
    #[case] window_minutes: u64,
    #[case] percent: u64,
) {
    let window = window_minutes * MINUTE;
    let found = busiest(&cycles(run, rest, 12), window, None);
    assert_eq!(found.run_ms * 100, percent * window);
}

/// Twelve cycles of 4 min in 10 at a rating of 40 % are just allowed; one millisecond less allowed and every one of the
/// twelve is too much.
#[test]
fn a_factor_at_the_rating_is_not_above_it() {
    let chain = cycles(4.0, 6.0, 12);
    let most = 4 * MINUTE;
    assert_eq!(busiest(&chain, 10 * MINUTE, Some(most)).times_above, 0);
    assert_eq!(busiest(&chain, 10 * MINUTE, Some(most - 1)).times_above, 12);
}

#[test]
fn one_long_run_is_too_much_as_often_as_it_fills_the_window() {
    // By hand: 35 min hold three whole windows of 10 min.
    let chain = vec![Run { at_ms: 0, run_ms: 35 * MINUTE, line: 0 }];
    let found = busiest(&chain, 10 * MINUTE, Some(4 * MINUTE));
    assert_eq!((found.run_ms, found.times_above), (10 * MINUTE, 3));
}

#[test]
fn the_busiest_window_may_begin_in_the_middle_of_a_chain_and_cut_its_last_run() {
    // By hand, in seconds: runs at 0-10, 100-130, 140-200; a window of 60 s from 100 holds 30 + 20 = 50, from 140 on 60.
    let run = |at: u64, run: u64, line| Run { at_ms: at * 1_000, run_ms: run * 1_000, line };
    let chain = vec![run(0, 10, 0), run(100, 30, 1), run(140, 60, 2)];
    assert_eq!(busiest(&chain, 60_000, None), Busiest { run_ms: 60_000, line: 2, times_above: 0 });
    assert_eq!(busiest(&chain, 90_000, None), Busiest { run_ms: 80_000, line: 1, times_above: 0 });
}

#[test]
fn nothing_ran_nothing_is_busy() {
    assert_eq!(busiest(&Vec::new(), 600_000, Some(0)), Busiest::default());
}

#[test]
fn ratings_are_read_as_plates_write_them() {
    for (text, rating, written) in [
        ("S1", DutyRating::S1, "S1"),
        ("S2 60 min", DutyRating::S2 { minutes: 60 }, "S2 60 min"),
        ("s2-30min", DutyRating::S2 { minutes: 30 }, "S2 30 min"),
        ("S3 25 %", DutyRating::S3 { percent: 25, cycle_minutes: None }, "S3 25 %"),
        ("S3 40%", DutyRating::S3 { percent: 40, cycle_minutes: None }, "S3 40 %"),
        (
            "S3 25 %, cycle 20 min",
            DutyRating::S3 { percent: 25, cycle_minutes: Some(20) },
            "S3 25 %, cycle 20 min",
        ),
        ("S3 25% 20min", DutyRating::S3 { percent: 25, cycle_minutes: Some(20) }, "S3 25 %, cycle 20 min"),
    ] {
        assert_eq!(text.parse(), Ok(rating), "{text}");
        assert_eq!(rating.to_string(), written);
    }
}

#[test]
fn what_is_no_rating_is_refused() {
    for text in [
        "",
        "S2",
        "S3 25",
        "25 %",
        "S3 0 %",
        "S3 101 %",
        "S2 0 min",
        "S2 241 min",
        "S3 x %",
        "S9",
        "S2 1.5 min",
    ] {
        assert_eq!(text.parse::<DutyRating>(), Err(NotARating(text.to_owned())), "{text}");
    }
}

/// Any runs and pauses, at least a millisecond each.
fn any_chain() -> impl Strategy<Value = Chain> {
    prop::collection::vec((1_u64..20_000, 1_u64..30_000), 0..60).prop_map(|parts| {
        let mut at_ms = 0;
        parts
            .into_iter()
            .enumerate()
            .map(|(line, (pause, run_ms))| {
                at_ms += pause;
                let run = Run { at_ms, run_ms, line };
                at_ms += run_ms;
                run
            })
            .collect()
    })
}

/// Running between two moments, added up run by run.
fn running(chain: &Chain, from: u64, to: u64) -> u64 {
    chain.iter().map(|run| run.ends_ms().min(to).saturating_sub(run.at_ms.max(from))).sum()
}

proptest! {
    #[test]
    fn no_window_is_busier_than_the_busiest(chain in any_chain(), window in 1_u64..120_000, from in 0_u64..3_000_000) {
        let found = busiest(&chain, window, None);
        prop_assert!(found.run_ms <= window, "the factor is at most 1");
        prop_assert!(running(&chain, from, from + window) <= found.run_ms);
        if let Some(first) = chain.iter().find(|run| run.line == found.line) {
            prop_assert_eq!(running(&chain, first.at_ms, first.at_ms + window), found.run_ms, "it is where it says");
        }
    }

    #[test]
    fn a_longer_window_holds_no_less_and_has_no_higher_factor_than_twice(chain in any_chain(), window in 1_u64..120_000) {
        let (short, long) = (busiest(&chain, window, None), busiest(&chain, 2 * window, None));
        prop_assert!(long.run_ms >= short.run_ms && long.run_ms <= 2 * short.run_ms);
    }

    #[test]
    fn a_rating_is_passed_where_the_busiest_window_passes_it_and_nowhere_else(
        chain in any_chain(), window in 1_u64..120_000, percent in 0_u64..=100,
    ) {
        let most = window * percent / 100;
        let found = busiest(&chain, window, Some(most));
        prop_assert_eq!(found.times_above > 0, found.run_ms > most);
        let span = chain.last().map_or(0, Run::ends_ms);
        prop_assert!(found.times_above.saturating_sub(1) * window <= span, "the counted windows do not overlap");
    }

    #[test]
    fn stretches_hold_all_running_and_a_longer_pause_makes_no_more_of_them(chain in any_chain(), pause in 0_u64..40_000) {
        let spans: u64 = stretches(&chain, pause).map(|stretch| stretch.span_ms).sum();
        let run: u64 = chain.iter().map(|run| run.run_ms).sum();
        prop_assert!(spans >= run);
        prop_assert!(stretches(&chain, pause + 1).count() <= stretches(&chain, pause).count());
        prop_assert_eq!(stretches(&chain, 0).map(|stretch| stretch.span_ms).sum::<u64>(), run);
    }
}
