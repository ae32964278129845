//! Damages the database, the disk under it and the program that writes it, and tells what got lost:
//! `cargo build --release -p host && cargo run --release -p tests --bin store_torture -- --cuts 1000 --seed 1`; `--races 50`
//! adds rounds of several writers at once.

use std::process::ExitCode;

use tests::arguments::number_behind;
use tests::store_torture::program::Program;
use tests::store_torture::{bytes, disk, races};

fn main() -> ExitCode {
    let numbers = (number_behind("--cuts", 200), number_behind("--seed", 1), number_behind("--races", 0));
    let (Some(cuts), Some(seed), Some(rounds)) = numbers else {
        eprintln!("store_torture [--cuts NUMBER] [--seed NUMBER] [--races ROUNDS]");
        return ExitCode::from(2);
    };
    match torture(cuts, seed, rounds) {
        Ok(0) => ExitCode::SUCCESS,
        Ok(faults) => {
            println!("{faults} faults");
            ExitCode::FAILURE
        }
        Err(why) => {
            eprintln!("{why}");
            ExitCode::FAILURE
        }
    }
}

fn torture(cuts: u64, seed: u64, rounds: u64) -> Result<u64, String> {
    let program = Program::found()?;
    let library = disk::compiled(&program)?.display().to_string();
    println!("seed {seed}");
    println!(
        "{:<30}{:>7}{:>8}{:>6}{:>6}{:>14}{:>8}{:>8}",
        "", "runs", "reached", "lost", "half", "refused, kept", "broken", "silent"
    );
    let mut faults = 0;
    for harm in disk::HARMS {
        let tally = disk::harm(&program, &library, harm, cuts, seed)?;
        println!(
            "{harm:<30}{:>7}{:>8}{:>6}{:>6}{:>14}{:>8}{:>8}",
            tally.runs,
            tally.reached,
            tally.lost,
            tally.half,
            tally.refused_but_kept,
            tally.broken,
            tally.silent
        );
        // Where no call was reached, nothing was tried.
        faults += tally.faults() + u64::from(tally.reached == 0);
    }
    println!("\n{:<30}{:>7}{:>8}{:>8}{:>8}{:>8}", "", "changes", "right", "told", "wrong", "other");
    let tally = bytes::change(&program, cuts, seed)?;
    println!(
        "{:<30}{:>7}{:>8}{:>8}{:>8}{:>8}",
        "one byte changed", tally.changes, tally.right, tally.told, tally.wrong, tally.other
    );
    faults += tally.wrong + tally.other;
    if rounds > 0 {
        println!("\n{:<30}{:>7}{:>8}{:>8}", "four writers at once", "rounds", "broken", "silent");
        for (name, tally) in races::race(&program, rounds)? {
            println!("{name:<30}{:>7}{:>8}{:>8}", tally.rounds, tally.broken, tally.silent);
            faults += tally.broken + tally.silent;
        }
    }
    Ok(faults)
}
