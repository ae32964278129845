//! Runs one torture of the simulated chip until its first fault, or `BUDGET` times: `first_fault TORTURE BUDGET`.
//!
//! Counts the runs, the cuts and the faults by kind, a line each. Built against each copy of the firmware in
//! `tests/src/mutants/`, it shows that the torture notices what is left out.

use std::process::ExitCode;

use tests::power_cut::flips::flips;
use tests::power_cut::life::{Plan, live};
use tests::power_cut::torn::{Torn, torn_records};
use tests::power_cut::{TALLY_HEAD, Tally, all_safe};

/// Flips in one log of `logs-flipped`.
const FLIPS_IN_A_LOG: u64 = 1_000;

fn main() -> ExitCode {
    let mut arguments = std::env::args().skip(1);
    let torture = arguments.next().unwrap_or_default();
    let Some(budget) = arguments.next().and_then(|it| it.parse().ok()) else { return usage() };
    let plan = Plan::small(3, 100);
    let has_faults = |tally: &Tally| tally.faults() > 0;
    match torture.as_str() {
        "lives" => tell(budget, |seed| live(&plan, seed), has_faults),
        "lives-on-a-failing-chip" => {
            let plan = Plan { misprogram_one_in: Some(20_000), ..plan };
            tell(budget, |seed| live(&plan, seed), has_faults);
        }
        "flips" => tell(1, |_| flips(1, budget, all_safe), has_faults),
        // Only a flip in the newest record shows a number that is given out again, one bit in two thousand.
        "logs-flipped" => {
            tell(budget, |seed| flips(seed, FLIPS_IN_A_LOG, all_safe), |tally| tally.reused > 0);
        }
        "torn-records" => tell_torn(budget),
        _ => return usage(),
    }
    ExitCode::SUCCESS
}

fn usage() -> ExitCode {
    eprintln!("first_fault lives|lives-on-a-failing-chip|flips|logs-flipped|torn-records BUDGET");
    ExitCode::from(2)
}

fn tell(budget: u64, run: impl Fn(u64) -> Tally, is_enough: impl Fn(&Tally) -> bool) {
    let mut sum = Tally::default();
    let mut runs = 0;
    while runs < budget && !is_enough(&sum) {
        sum = sum.plus(run(runs));
        runs += 1;
    }
    println!("runs {runs}\nfaults {}", sum.faults());
    for (name, count) in TALLY_HEAD.split_whitespace().zip(sum.to_string().split_whitespace()) {
        println!("{name} {count}");
    }
}

fn tell_torn(budget: u64) {
    let mut sum = Torn::default();
    let mut runs = 0;
    while runs < budget && sum.wrong == 0 {
        sum = sum.plus(torn_records(runs..runs + 1));
        runs += 1;
    }
    println!("runs {runs}\nfaults {}\ncuts {}", sum.wrong, sum.cuts);
}
