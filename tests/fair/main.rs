//! Made-up studios are told nothing about speed where it does nothing, and told it where it does.
#![allow(clippy::unwrap_used, reason = "a test may stop at the first surprise")]

use tests::fair::cells::{Cell, all};
use tests::fair::enumeration::chance_to_be_told;
use tests::fair::many_studios;
use tests::fair::studio::{FAST_SHARE, YEARS};

/// The command runs ten thousand; here a hundred and fifty of each world show that nothing has gone badly wrong.
const RUNS: u64 = 150;
const SEED: u64 = 20_260_302;

fn worlds(is_null: bool) -> Vec<Cell> {
    let twenty = all().into_iter().filter(|cell| (cell.tears_per_year - 20.0).abs() < 1e-9);
    twenty.filter(|cell| cell.is_null == is_null).collect()
}

#[test]
fn hardly_any_studio_is_ever_told_that_speed_matters_where_it_does_not() {
    println!("seed {SEED}");
    for cell in worlds(true) {
        let outcome = many_studios(&cell, RUNS, SEED);
        // At a true 5 %, 15 or more of 150 have a probability of 0.9 % (scipy's binomial distribution).
        assert!(outcome.told < 15, "seed {SEED}, {}: {outcome:?}", cell.name);
    }
}

#[test]
fn a_tripling_is_told_about_as_often_as_the_orders_of_tears_say() {
    println!("seed {SEED}");
    let cell = worlds(false)
        .into_iter()
        .find(|cell| cell.truth == Some(3.0) && cell.frailty_variance == 0.0)
        .unwrap();
    let outcome = many_studios(&cell, RUNS, SEED);
    let told = outcome.told_of_these;
    // At a true 87 % three standard deviations of 150 draws are 8.2 %.
    assert!((told - outcome.worked_out).abs() < 0.083, "seed {SEED}: {outcome:?}");
    // Where all rugs were alike from their first row to their last it would be a little more.
    let alike = chance_to_be_told(FAST_SHARE, 3.0, 20.0 * YEARS);
    assert!((told - alike).abs() < 0.11, "seed {SEED}: {told} told, {alike} worked out");
    assert!(outcome.ceiling > 0 && outcome.ceiling <= outcome.faster, "seed {SEED}: {outcome:?}");
    assert_eq!(outcome.slower, 0, "seed {SEED}: {outcome:?}");
    assert!(outcome.covered * 100 >= outcome.with_limits * 91, "seed {SEED}: {outcome:?}");
}
