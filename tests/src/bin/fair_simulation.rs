//! Tries the answer to "does speed tear cloth?" on made-up studios:
//! `cargo run --release -p tests --bin fair_simulation -- --runs 10000 --seed 1`.

use std::process::ExitCode;

use tests::arguments::number_behind;
use tests::fair::cells::{Cell, all};
use tests::fair::studio::YEARS;
use tests::fair::{Outcome, many_studios};

/// At most this share of studios may ever be told that speed matters where it does not.
const MOST_FALSE: f64 = 0.05;
/// At least this share of 95 % limits must hold the truth.
const LEAST_COVERED: f64 = 0.95;
/// What was told and what was worked out differ by at most so much: three and a half standard deviations of a thousand draws are 5.5 %.
const MOST_APART: f64 = 0.055;

fn main() -> ExitCode {
    let (Some(runs), Some(seed)) = (number_behind("--runs", 10_000), number_behind("--seed", 1)) else {
        eprintln!("fair_simulation [--runs NUMBER] [--seed NUMBER]");
        return ExitCode::from(2);
    };
    println!("{runs} studios in each line, {YEARS} years each; seed {seed}");
    println!(
        "{:<42}{:>6} {:>9} {:>8} {:>8} {:>8} {:>17} {:>8} {:>7} {:>7} {:>8} {:>7} {:>7}",
        "what is true",
        "a year",
        "ever told",
        "faster",
        "slower",
        "ceiling",
        "told/worked out",
        "covered",
        "above",
        "below",
        "estimate",
        "bias",
        "width"
    );
    let mut failed = 0;
    for pair in all().chunks(2) {
        for (cell, outcome) in run_both(pair, runs, seed) {
            failed += u64::from(!print(cell, &outcome));
        }
    }
    println!(
        "\never told: any look within three years said that speed matters or proposed a ceiling; at most {} % where it does not.",
        100.0 * MOST_FALSE
    );
    println!(
        "ceiling: proposed at any look, for a maker whose time is worth nothing, so as readily as can be."
    );
    println!(
        "told/worked out: of the first thousand, and the chance of it from all orders of their tears, coded apart; they differ by at most {} %.",
        100.0 * MOST_APART
    );
    println!(
        "covered: 95 % limits of the last look that hold the truth; above, below: those that lie above it and below it."
    );
    println!(
        "estimate and width (high over low): the middle ones; bias: the logarithm of estimate over truth."
    );
    println!("No promise is made for what is not measured, nor for caution that lasts as long as the rug.");
    if failed == 0 {
        return ExitCode::SUCCESS;
    }
    println!("{failed} lines break their promise");
    ExitCode::FAILURE
}

/// Both at the same time, in order.
fn run_both(pair: &[Cell], runs: u64, seed: u64) -> Vec<(&Cell, Outcome)> {
    std::thread::scope(|scope| {
        let started: Vec<_> =
            pair.iter().map(|cell| (cell, scope.spawn(move || many_studios(cell, runs, seed)))).collect();
        started
            .into_iter()
            .map(|(cell, handle)| {
                (cell, handle.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic)))
            })
            .collect()
    })
}

#[expect(clippy::cast_precision_loss, reason = "runs are far below 2^52")]
fn print(cell: &Cell, outcome: &Outcome) -> bool {
    let share = |count: u64, of: u64| if of == 0 { f64::NAN } else { count as f64 / of as f64 };
    let told = share(outcome.told, outcome.runs);
    let covered = share(outcome.covered, outcome.with_limits);
    let percent =
        |value: f64| if value.is_nan() { "-".to_owned() } else { format!("{:.2} %", 100.0 * value) };
    let number = |value: f64| if value.is_nan() { "-".to_owned() } else { format!("{value:.2}") };
    let is_covered = cell.is_null || cell.truth.is_none() || covered >= LEAST_COVERED;
    let is_as_worked_out =
        !cell.can_be_worked_out() || (outcome.told_of_these - outcome.worked_out).abs() <= MOST_APART;
    let keeps = is_covered && is_as_worked_out && (!cell.is_null || told <= MOST_FALSE);
    let both = if cell.can_be_worked_out() {
        format!("{} / {}", percent(outcome.told_of_these), percent(outcome.worked_out))
    } else {
        "-".to_owned()
    };
    let bias = cell.truth.map_or(f64::NAN, |truth| (outcome.median_estimate / truth).ln());
    let missed = |count: u64| percent(share(count, outcome.with_limits));
    println!(
        "{:<42}{:>6} {:>9} {:>8} {:>8} {:>8} {both:>17} {:>8} {:>7} {:>7} {:>8} {:>7} {:>7}{}",
        cell.name,
        cell.tears_per_year,
        percent(told),
        percent(share(outcome.faster, outcome.runs)),
        percent(share(outcome.slower, outcome.runs)),
        percent(share(outcome.ceiling, outcome.runs)),
        percent(covered),
        missed(outcome.missed[0]),
        missed(outcome.missed[1]),
        number(outcome.median_estimate),
        number(bias),
        number(outcome.median_width),
        if keeps { "" } else { "  BROKEN" }
    );
    keeps
}
