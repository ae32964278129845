//! Ranges of due dates hold what really happens to made-up makers about as often as they say.
#![allow(clippy::unwrap_used, reason = "a test may stop at the first surprise")]

use tests::due_dates::{Cell, missed};
use tests::due_habits::Habit;

/// The command runs two thousand; here a hundred and twenty of each cell show that nothing has gone badly wrong.
const RUNS: u64 = 120;
const SEED: u64 = 20_260_302;

#[test]
fn no_kind_of_maker_is_misled_on_either_side() {
    println!("seed {SEED}");
    let mut all = (0, 0, 0);
    for cell in Cell::all() {
        let missed = missed(&cell, RUNS, SEED);
        // At a true 15 %, 33 or more of 120 have a probability of 0.0003 (scipy's binomial distribution); there are 168 sides.
        assert!(missed.early < 33 && missed.late < 33, "seed {SEED}, {cell:?}: {missed:?}");
        all = (all.0 + missed.early, all.1 + missed.late, all.2 + missed.runs);
    }
    // Over all makers each side is missed about one time in ten.
    let tenth = all.2 / 10;
    for side in [all.0, all.1] {
        assert!((tenth * 8 / 10..=tenth * 13 / 10).contains(&side), "seed {SEED}: {all:?}");
    }
}

#[test]
fn the_range_of_a_steady_maker_is_not_wide_for_safetys_sake() {
    let cell = Cell { habit: Habit::Weekdays, history: (26, 26), hours_left: 4.0 };
    let missed = missed(&cell, 400, SEED);
    // At a true 10 %, fewer than 20 of 400 have a probability of 0.0001 (scipy's binomial distribution).
    assert!(missed.early >= 20 && missed.late >= 20, "seed {SEED}: {missed:?}");
    // Four hours at about four a week: a week ahead, with a range of no more than ten days.
    assert!(missed.median_days < 10.0, "seed {SEED}: {missed:?}");
}
