//! Cuts the power of a simulated flash chip as often as asked, and tells what got lost:
//! `cargo run --release -p tests --bin torture -- --cuts 100000 --seed 1`.
#![allow(clippy::cast_possible_truncation, reason = "a test may stop at the first surprise")]

use std::process::ExitCode;

use firmware::split_mix::SplitMix64;
use tests::arguments::number_behind;
use tests::power_cut::figures::{self, FULL_SIZE};
use tests::power_cut::flips::flips;
use tests::power_cut::life::{Plan, live};
use tests::power_cut::sweep::sweep;
use tests::power_cut::{TALLY_HEAD, Tally, all_safe, rival};

/// Cuts in one life of a small log.
const CUTS_PER_LIFE: u64 = 200;

fn main() -> ExitCode {
    let (Some(cuts), Some(seed)) = (number_behind("--cuts", 10_000), number_behind("--seed", 1)) else {
        eprintln!("torture [--cuts NUMBER] [--seed NUMBER]");
        return ExitCode::from(2);
    };
    println!("{:<34}{TALLY_HEAD}", "");
    let mut faults = 0;
    let mut report = |name: &str, tally: Tally| {
        println!("{name:<34}{tally}");
        faults += tally.faults();
    };
    let small = Plan::small(3, CUTS_PER_LIFE);
    let faulty = Plan { misprogram_one_in: Some(20_000), ..small };
    let full =
        Plan { sectors: FULL_SIZE, records_before: 400_000, full_check_every: 100, cuts: cuts / 10, ..small };
    report("3 sectors", lives(small, cuts, seed));
    report("4 sectors", lives(Plan { sectors: 4, ..small }, cuts, seed ^ 4));
    report("3 sectors, some bytes fail", lives(faulty, cuts, seed ^ 5));
    report("full size, wrapped", lives(full, full.cuts, seed ^ 6));
    report("every step of a stretch, and again", sweep(seed, 60, 1));
    report("one bit flipped", flips(seed, cuts, all_safe));
    println!("\nthe library's queue, 8 pages, bursts alone");
    println!("{:<34}{:>8} {:>6} {:>13} {:>7}", "", "cuts", "lost", "failed_writes", "bricked");
    let rivals = [
        ("4-byte words", false, true),
        ("4-byte words and scrub", true, true),
        ("the same, no weak bits", true, false),
    ];
    for (name, scrubbed, weak_bits) in rivals {
        let tally = rival::torture(seed, cuts.div_ceil(CUTS_PER_LIFE), CUTS_PER_LIFE, scrubbed, weak_bits);
        println!("{name:<34}{:>8} {:>6} {:>13} {:>7}", tally.cuts, tally.lost, tally.failed, tally.bricked);
    }
    compare(seed);
    if faults == 0 { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}

fn compare(seed: u64) {
    let (ours, theirs) = (figures::bytes_per_burst(seed), rival::bytes_per_burst(seed));
    let (our_boot, their_boot) = (figures::boot_cost(seed), rival::boot_cost(seed));
    let (segment, trace) = figures::bytes_per_record(seed);
    println!("\n{:<34}{:>12} {:>12}", "", "our log", "the library");
    println!("{:<34}{ours:>12.2} {theirs:>12.2}", "flash per burst, all in (bytes)");
    let days = figures::days_of_capacity;
    println!("{:<34}{:>12.0} {:>12.0}", "days at 3 h of running a day", days(ours), days(theirs));
    println!("{:<34}{:>12} {:>12}", "start, full: bytes read", our_boot.read_bytes, their_boot.read_bytes);
    println!("{:<34}{:>12} {:>12}", "start, full: reads", our_boot.reads, their_boot.reads);
    println!(
        "{:<34}{:>12} {:>12}",
        "start, full: bytes programmed", our_boot.programmed_bytes, their_boot.programmed_bytes
    );
    println!("\nour log: a segment takes {segment:.2} bytes, a control trace {trace:.1}");
}

fn lives(plan: Plan, cuts: u64, seed: u64) -> Tally {
    let mut seeds = SplitMix64::new(seed);
    let mut sum = Tally::default();
    while sum.cuts < cuts {
        let seed = seeds.next_u64();
        let tally = live(&plan, seed);
        if tally.faults() > 0 {
            println!("  failing life: {} sectors, {} cuts, seed {seed:#x}: {tally}", plan.sectors, plan.cuts);
        }
        sum = sum.plus(tally);
    }
    sum
}
