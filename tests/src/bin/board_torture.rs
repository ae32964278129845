//! Cuts the power of the emulated board as often as asked, at any instruction and inside any flash operation, and tells what got lost:
//! `cargo run --release -p tests --bin board_torture -- --cuts 5000 --seed 1`.
//!
//! `--without second-slot` does the same to an image with one precaution left out, to show that it would be noticed.

use std::process::ExitCode;
use std::time::Instant;

use tests::board_image::{board_image, image_without_second_slot};
use tests::board_torture::{Plan, Toll, UsedFlash, torture};

/// Cuts in one life, from the log as it was made.
const CUTS_PER_LIFE: u64 = 50;
/// Failures that are printed.
const SHOWN: usize = 20;

fn main() -> ExitCode {
    let (Some(cuts), Some(seed), Some(workers)) =
        (argument("--cuts", 300), argument("--seed", 1), argument("--workers", 2))
    else {
        return usage();
    };
    let arguments: Vec<String> = std::env::args().collect();
    let image = match arguments.iter().position(|argument| argument == "--without") {
        None => board_image().to_owned(),
        Some(at) if arguments.get(at + 1).is_some_and(|name| name == "second-slot") => {
            image_without_second_slot()
        }
        Some(_) => return usage(),
    };
    let workers = usize::try_from(workers).unwrap_or(1);
    let began = Instant::now();
    let used = UsedFlash::make(&image, seed);
    println!("{} records stand in a log whose last sector has just been begun", used.records.len());
    let plan = Plan { image, cuts, cuts_per_life: CUTS_PER_LIFE, seed, workers };
    let tell = |seed, toll: &Toll| {
        eprintln!("life {seed:#018x}: {} cuts, {} faults", toll.cuts, toll.faults());
    };
    let toll = torture(&plan, &used, &tell);
    for failure in toll.failures.iter().take(SHOWN) {
        println!("{failure}");
    }
    if toll.failures.len() > SHOWN {
        println!("and {} more", toll.failures.len() - SHOWN);
    }
    println!("{toll}\nseed {seed}, {} s", began.elapsed().as_secs());
    if toll.faults() == 0 && toll.cuts >= cuts { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}

fn usage() -> ExitCode {
    eprintln!("board_torture [--cuts NUMBER] [--seed NUMBER] [--workers NUMBER] [--without second-slot]");
    ExitCode::from(2)
}

/// The number behind `name`, `otherwise` when it is not there, nothing when it is no number.
fn argument(name: &str, otherwise: u64) -> Option<u64> {
    let mut arguments = std::env::args().skip_while(|argument| argument != name).skip(1);
    match arguments.next() {
        None if std::env::args().any(|argument| argument == name) => None,
        None => Some(otherwise),
        Some(number) => number.parse().ok(),
    }
}
