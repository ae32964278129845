//! A cut at every single step of a short stretch of work on a wrapped log, and a second one during the start after it.

use firmware::sim::nor::Nor;
use firmware::split_mix::SplitMix64;

use super::life::one_task;
use super::oracle::Oracle;
use super::work::Work;
use super::{Tally, chip, open};

const SECTORS: usize = 3;

/// A chip whose log has gone round at least once and is about to go on to the next sector, and what it promised.
#[must_use]
pub fn wrapped(seed: u64) -> (Nor, Oracle, Work) {
    let mut oracle = Oracle::default();
    let mut work = Work::new(seed);
    let Ok(mut store) = open(chip(SECTORS, seed), SECTORS) else {
        panic!("a blank chip without cuts cannot be opened")
    };
    oracle.check(&mut store, 0);
    let mut sectors_seen = 0;
    let mut in_sector = 0;
    let mut last = usize::MAX;
    // Stops a dozen records before the sixth sector is full, by the fewest that a sector held before.
    let mut fewest = usize::MAX;
    while sectors_seen < 6 || in_sector + 12 < fewest {
        let record = work.anything(store.boot());
        let seq = store.append(&record).expect("no cut here");
        oracle.promise(seq, &record, store.flash());
        let sector = store.flash().last_programmed_sector() as usize;
        if sector != last {
            if sectors_seen > 0 {
                fewest = fewest.min(in_sector);
            }
            (last, in_sector, sectors_seen) = (sector, 0, sectors_seen + 1);
        }
        in_sector += 1;
    }
    (store.into_flash(), oracle, work)
}

/// Cuts at every step, from the start's first byte to the end of the work. Steps are tried `stride` apart.
#[must_use]
pub fn sweep(seed: u64, tasks: u32, stride: usize) -> Tally {
    let (nor, oracle, work) = wrapped(seed);
    let uncut = stretch(nor.clone(), oracle.clone(), work.clone(), seed, tasks);
    let steps = uncut.0.counts().steps - nor.counts().steps;
    let mut tally = uncut.1.tally;
    for step in (0..steps).step_by(stride) {
        let mut nor = nor.clone();
        nor.cut_after(step);
        let (mut nor, mut oracle, mut work) = stretch(nor, oracle.clone(), work.clone(), seed, tasks);
        let mut rng = SplitMix64::new(seed ^ step);
        // The start after the cut is cut as well, and then there is peace.
        nor.power_on();
        nor.cut_after(rng.below(700));
        (nor, oracle, work) = stretch(nor, oracle, work, seed ^ step, 3);
        nor.power_on();
        oracle.tally.cuts += 2;
        tally = tally.plus(stretch(nor, oracle, work, seed ^ step ^ 1, 30).1.tally);
    }
    tally
}

/// Opens, checks, works, until all is done or the power is off; then the oracle has the last look at the next start.
fn stretch(nor: Nor, mut oracle: Oracle, mut work: Work, seed: u64, tasks: u32) -> (Nor, Oracle, Work) {
    let mut rng = SplitMix64::new(seed);
    work.restart();
    match open(nor, SECTORS) {
        Ok(mut store) => {
            oracle.check(&mut store, 0);
            for _ in 0..tasks {
                if store.flash().is_on() {
                    one_task(&mut rng, &mut work, &mut oracle, &mut store);
                }
            }
            (store.into_flash(), oracle, work)
        }
        Err((_, nor)) => {
            if nor.is_on() {
                oracle.note_bricked();
            }
            (nor, oracle, work)
        }
    }
}
