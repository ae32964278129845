//! Cuts the power of the emulated board as often as asked, at any instruction and inside any flash operation, and tells what got lost:
//! `cargo run --release -p tests --bin board_torture -- --cuts 5000 --seed 1`.
//!
//! `--life 0x1234` lives one life again, by the number that a failure names; the seed must be the one it was found with.
//! `--without second-slot` does the same to an image with one precaution left out, to show that it would be noticed.

use std::process::ExitCode;
use std::time::Instant;

use tests::arguments::number_behind;
use tests::board_image::{board_image, image_without_second_slot};
use tests::board_torture::{Plan, Toll, UsedFlash, live, torture};

/// Cuts in one life, from the log as it was made.
const CUTS_PER_LIFE: u64 = 50;
/// Failures that are printed.
const SHOWN: usize = 20;

fn main() -> ExitCode {
    let (Some(cuts), Some(seed), Some(workers)) =
        (number_behind("--cuts", 300), number_behind("--seed", 1), number_behind("--workers", 2))
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
    let Ok(life) = life_asked_for() else { return usage() };
    let workers = usize::try_from(workers).unwrap_or(1);
    let began = Instant::now();
    let used = UsedFlash::make(&image, seed);
    println!("{} records stand in a log whose last sector has just been begun", used.records.len());
    let plan = Plan { image, cuts, cuts_per_life: CUTS_PER_LIFE, seed, workers };
    let tell = |seed, toll: &Toll| {
        eprintln!("life {seed:#018x}: {} cuts, {} faults", toll.cuts, toll.faults());
    };
    let toll = match life {
        None => torture(&plan, &used, &tell),
        Some(life) => live(&plan.image, &used, life, CUTS_PER_LIFE.min(cuts)),
    };
    for failure in toll.failures.iter().take(SHOWN) {
        println!("{failure}");
    }
    if toll.failures.len() > SHOWN {
        println!("and {} more", toll.failures.len() - SHOWN);
    }
    println!("{toll}\nseed {seed}, {} s", began.elapsed().as_secs());
    let planned = if life.is_some() { CUTS_PER_LIFE.min(cuts) } else { cuts };
    if toll.faults() == 0 && toll.cuts >= planned { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}

fn usage() -> ExitCode {
    eprintln!(
        "board_torture [--cuts NUMBER] [--seed NUMBER] [--workers NUMBER] [--life 0xNUMBER] [--without second-slot]"
    );
    ExitCode::from(2)
}

/// The life behind `--life`, none where it is not asked for.
fn life_asked_for() -> Result<Option<u64>, std::num::ParseIntError> {
    let mut arguments = std::env::args().skip_while(|argument| argument != "--life");
    if arguments.next().is_none() {
        return Ok(None);
    }
    let number = arguments.next().unwrap_or_default();
    u64::from_str_radix(number.trim_start_matches("0x"), 16).map(Some)
}
