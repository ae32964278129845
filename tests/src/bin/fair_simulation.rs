//! Tries the answer to "does speed tear cloth?" on made-up studios:
//! `cargo run --release -p tests --bin fair_simulation -- --runs 10000 --seed 1`.

use std::process::ExitCode;

use tests::fair::cells::{Cell, all};
use tests::fair::enumeration::chance_to_be_told;
use tests::fair::studio::{FAST_SHARE, YEARS};
use tests::fair::{Outcome, many_studios};

/// At most this share of studios may ever be told that speed matters where it does not.
const MOST_FALSE: f64 = 0.05;
/// At least this share of 95 % limits must hold the truth.
const LEAST_COVERED: f64 = 0.95;

fn main() -> ExitCode {
    let (Some(runs), Some(seed)) = (argument("--runs", 10_000), argument("--seed", 1)) else {
        eprintln!("fair_simulation [--runs NUMBER] [--seed NUMBER]");
        return ExitCode::from(2);
    };
    println!("{runs} studios in each line, {YEARS} years each; seed {seed}");
    println!(
        "{:<44}{:>6} {:>10} {:>8} {:>8} {:>10} {:>9} {:>9} {:>8}",
        "what is true",
        "a year",
        "ever told",
        "faster",
        "slower",
        "worked out",
        "covered",
        "estimate",
        "width"
    );
    let cells = all();
    let mut failed = 0;
    for (cell, outcome) in run_all(&cells, runs, seed) {
        failed += u64::from(!print(cell, &outcome));
    }
    println!(
        "\never told: any look within three years said that speed matters; at most {} % where it does not.",
        100.0 * MOST_FALSE
    );
    println!("worked out: the same chance from all orders of tears, coded apart, where rugs are alike.");
    println!(
        "covered: 95 % limits of the last look that hold the truth; estimate and width (high over low): the middle ones."
    );
    println!("No promise is made for what is not measured, nor for caution that lasts as long as the rug.");
    if failed == 0 {
        return ExitCode::SUCCESS;
    }
    println!("{failed} lines break their promise");
    ExitCode::FAILURE
}

/// Two at a time, in order.
fn run_all(cells: &[Cell], runs: u64, seed: u64) -> Vec<(&Cell, Outcome)> {
    let mut outcomes = Vec::new();
    for pair in cells.chunks(2) {
        std::thread::scope(|scope| {
            let started: Vec<_> =
                pair.iter().map(|cell| (cell, scope.spawn(move || many_studios(cell, runs, seed)))).collect();
            for (cell, handle) in started {
                if let Ok(outcome) = handle.join() {
                    outcomes.push((cell, outcome));
                }
            }
        });
    }
    outcomes
}

#[expect(clippy::cast_precision_loss, reason = "runs are far below 2^52")]
fn print(cell: &Cell, outcome: &Outcome) -> bool {
    let share = |count: u64, of: u64| if of == 0 { f64::NAN } else { count as f64 / of as f64 };
    let told = share(outcome.told, outcome.runs);
    let covered = share(outcome.covered, outcome.with_limits);
    let percent =
        |value: f64| if value.is_nan() { "-".to_owned() } else { format!("{:.2} %", 100.0 * value) };
    let is_alike = cell.two_places && cell.frailty_variance == 0.0 && cell.wrong_presses == 0.0;
    let worked_out = if is_alike {
        percent(chance_to_be_told(FAST_SHARE, cell.fast_factor, cell.tears_per_year * YEARS))
    } else {
        "-".to_owned()
    };
    let number = |value: f64| if value.is_nan() { "-".to_owned() } else { format!("{value:.2}") };
    let is_covered = cell.is_null || cell.truth.is_none() || covered >= LEAST_COVERED;
    let keeps = is_covered && (!cell.is_null || told <= MOST_FALSE);
    println!(
        "{:<44}{:>6} {:>10} {:>8} {:>8} {worked_out:>10} {:>9} {:>9} {:>8}{}",
        cell.name,
        cell.tears_per_year,
        percent(told),
        percent(share(outcome.faster, outcome.runs)),
        percent(share(outcome.slower, outcome.runs)),
        percent(covered),
        number(outcome.median_estimate),
        number(outcome.median_width),
        if keeps { "" } else { "  BROKEN" }
    );
    keeps
}

fn argument(name: &str, default: u64) -> Option<u64> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    match arguments.iter().position(|argument| argument == name) {
        Some(place) => arguments.get(place + 1)?.parse().ok(),
        None => Some(default),
    }
}
