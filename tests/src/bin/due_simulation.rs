//! Tries due dates on made-up makers: `cargo run --release -p tests --bin due_simulation -- --runs 2000 --seed 1`.

use std::process::ExitCode;

use host_core::care::forecast::{PLACES, Places};
use tests::arguments::number_behind;
use tests::due_dates::{Cell, HOURS_LEFT, Maker, TENTHS, simulated, weeks_of};
use tests::due_promise::{Summary, share};

/// The places between which was chosen.
const SWEEP: [Places; 6] = [
    Places { early: 0.03, late: 0.97 },
    Places { early: 0.04, late: 0.96 },
    Places { early: 0.05, late: 0.95 },
    Places { early: 0.06, late: 0.94 },
    Places { early: 0.08, late: 0.92 },
    TENTHS,
];

fn main() -> ExitCode {
    let (Some(runs), Some(seed)) = (number_behind("--runs", 2_000), number_behind("--seed", 1)) else {
        eprintln!("due_simulation [--runs NUMBER] [--seed NUMBER]");
        return ExitCode::from(2);
    };
    println!("{runs} forecasts in each cell; seed {seed}");
    println!("per cent of runs before / after the range, and its median length in days;");
    println!("in brackets the same read at 0.1 and 0.9 of the draws");
    println!("\nJUDGE ONLY; nothing was chosen on these");
    let judged = simulated(&Maker::judges(), &[PLACES, TENTHS], runs, seed);
    print_table(&judged);
    let (promised, others): (Vec<Cell>, Vec<Cell>) = judged.iter().partition(|cell| cell.maker.is_promised());
    let summary = at(&promised, PLACES);
    println!("\nof whom something is promised: {summary}\n  at 0.1 and 0.9: {}", at(&promised, TENTHS));
    println!(
        "of whom nothing is promised: {}\n  at 0.1 and 0.9: {}",
        at(&others, PLACES),
        at(&others, TENTHS)
    );
    println!("\nCHOSEN ON these");
    let chosen_on = simulated(&Maker::chosen_on(), &SWEEP, runs, seed);
    print_table(&chosen_on);
    println!();
    for places in SWEEP {
        println!("at {} and {}: {}", places.early, places.late, at(&chosen_on, places));
    }
    let broken = summary.broken();
    if broken.is_empty() {
        println!("\nThe promise is kept.");
        return ExitCode::SUCCESS;
    }
    println!("\nThe promise is broken:");
    for broken in broken {
        println!("  {broken}");
    }
    ExitCode::FAILURE
}

/// The cells that were read at such places.
fn at(cells: &[Cell], places: Places) -> Summary {
    Summary::of(cells.iter().copied().filter(|cell| cell.places == places).collect())
}

fn print_table(cells: &[Cell]) {
    print!("{:<17}{:>6}", "maker", "weeks");
    for hours in HOURS_LEFT {
        print!(" | {:<35}", format!("{hours} h left"));
    }
    println!();
    let told: Vec<&Cell> = cells.iter().filter(|cell| [PLACES, TENTHS].contains(&cell.places)).collect();
    for line in told.chunk_by(|one, next| (one.maker, one.history) == (next.maker, next.history)) {
        let Some(first) = line.first() else { continue };
        print!("{:<17}{:>6}", first.maker.name(), weeks_of(first.history));
        for cells in line.chunk_by(|one, next| one.hours_left.total_cmp(&next.hours_left).is_eq()) {
            let of = |places| {
                cells
                    .iter()
                    .find(|cell| cell.places == places)
                    .map_or_else(String::new, |cell| in_words(cell))
            };
            print!(" | {} ({})", of(PLACES), of(TENTHS));
        }
        println!();
    }
}

fn in_words(cell: &Cell) -> String {
    let share = |count| 100.0 * share(count, cell.runs);
    format!("{:4.1} /{:5.1} {:4.0}", share(cell.early), share(cell.late), cell.median_days)
}
