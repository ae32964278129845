//! Ranges of due dates hold what really happens to made-up makers, on whom nothing was tuned, about as often as is promised.
#![allow(clippy::unwrap_used, reason = "a test may stop at the first surprise")]

use host_core::care::forecast::PLACES;
use tests::due_dates::{Cell, Maker, TENTHS, simulated};
use tests::due_habits::Habit;
use tests::due_promise::Summary;

/// The command runs two thousand; here a hundred and twenty of each cell show that nothing has gone badly wrong.
const RUNS: u64 = 120;
const SEED: u64 = 20_260_302;

#[test]
fn the_promise_is_kept_for_makers_of_whom_nothing_was_known() {
    println!("seed {SEED}");
    let promised: Vec<Maker> = Maker::judges().into_iter().filter(|maker| maker.is_promised()).collect();
    let summary = Summary::of(simulated(&promised, &[PLACES], RUNS, SEED));
    assert_eq!(summary.broken(), Vec::<String>::new(), "seed {SEED}: {summary}");
}

#[test]
fn the_range_of_a_steady_maker_is_not_wide_for_safetys_sake() {
    let steady = simulated(&[Maker::ChosenOn(Habit::Weekdays)], &[PLACES, TENTHS], 400, SEED);
    let is_one = |cell: &&Cell| cell.history == (26, 26) && cell.hours_left == 4.0;
    let [cell, tenths] = [PLACES, TENTHS]
        .map(|places| steady.iter().filter(is_one).find(|cell| cell.places == places).unwrap());
    // At a true 5 %, fewer than 7 of 400 have a probability of 0.0002 (binomial distribution).
    assert!(cell.early >= 7 && cell.late >= 7, "seed {SEED}: {cell:?}");
    // Between the places 0.05 and 0.95 a normal distribution is 1.28 times as long as between 0.1 and 0.9 (1.645 / 1.282).
    assert!(cell.median_days < 1.4 * tenths.median_days, "seed {SEED}: {cell:?} {tenths:?}");
}
