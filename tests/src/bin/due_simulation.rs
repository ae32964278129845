//! Tries due dates on made-up makers: `cargo run --release -p tests --bin due_simulation -- --runs 2000 --seed 1`.

use std::process::ExitCode;

use tests::arguments::number_behind;
use tests::due_dates::{Cell, HISTORIES, HOURS_LEFT, Missed, is_kept, missed, weeks_of};
use tests::due_habits::Habit;
use tests::two_threads::each;

fn main() -> ExitCode {
    let (Some(runs), Some(seed)) = (number_behind("--runs", 2_000), number_behind("--seed", 1)) else {
        eprintln!("due_simulation [--runs NUMBER] [--seed NUMBER]");
        return ExitCode::from(2);
    };
    println!("{runs} forecasts in each cell; seed {seed}");
    println!(
        "early, late: per cent of runs before and after the 80 % range; 10 is the aim, * is outside 5 to 15"
    );
    println!("in whole days as they are shown, in brackets; then the middle length of the range in days\n");
    let cells = Cell::all();
    let outcomes = each(&cells, |cell| missed(cell, runs, seed));
    print_table(&cells, &outcomes);
    let outside = outcomes.iter().filter(|outcome| !keeps(outcome)).count();
    if outside == 0 {
        println!("\nall {} cells keep their promise", cells.len());
        return ExitCode::SUCCESS;
    }
    println!("\n{outside} of {} cells break their promise", cells.len());
    ExitCode::FAILURE
}

fn print_table(cells: &[Cell], outcomes: &[Missed]) {
    print!("{:<18}{:>6}", "habit", "weeks");
    for hours in HOURS_LEFT {
        print!(" | {:<38}", format!("{hours} h left"));
    }
    println!();
    for habit in Habit::ALL {
        for history in HISTORIES {
            print!("{:<18}{:>6}", habit.name(), weeks_of(history));
            let line = cells.iter().zip(outcomes);
            for (_, outcome) in line.filter(|(cell, _)| cell.habit == habit && cell.history == history) {
                print!(" | {}", in_words(outcome));
            }
            println!();
        }
    }
}

fn in_words(outcome: &Missed) -> String {
    let side = |count, by_days| {
        let share = share(count, outcome.runs);
        let flag = if is_kept(share) { ' ' } else { '*' };
        format!("{:4.1}{flag} ({:4.1})", 100.0 * share, 100.0 * self::share(by_days, outcome.runs))
    };
    format!(
        "early {} late {} {:4.0}",
        side(outcome.early, outcome.early_by_days),
        side(outcome.late, outcome.late_by_days),
        outcome.median_days
    )
}

fn keeps(outcome: &Missed) -> bool {
    is_kept(share(outcome.early, outcome.runs)) && is_kept(share(outcome.late, outcome.runs))
}

#[expect(clippy::cast_precision_loss, reason = "runs are far below 2^52")]
fn share(count: u64, of: u64) -> f64 {
    count as f64 / of as f64
}
