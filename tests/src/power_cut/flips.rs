//! One flipped bit anywhere in the chip.

use firmware::sim::nor::SECTOR;
use firmware::split_mix::SplitMix64;

use super::oracle::Oracle;
use super::sweep::wrapped;
use super::{Sabotage, Tally, open};

const SECTORS: usize = 3;

/// Flips one bit at a time, `count` of them drawn, in a wrapped log; opens, looks, writes and opens again. `cuts` counts
/// the flips. Only the very last record may go, and only if the bit lies in its sector.
#[must_use]
pub fn flips(seed: u64, count: u64, sabotage: Sabotage) -> Tally {
    let (mut nor, oracle, work) = wrapped(seed);
    sabotage(&mut nor);
    let mut rng = SplitMix64::new(seed);
    let bits = nor.bytes().len() as u64 * 8;
    let mut tally = Tally::default();
    for _ in 0..count {
        let bit = rng.below(bits);
        let (mut nor, mut oracle, mut work) = (nor.clone(), oracle.clone(), work.clone());
        nor.flip(bit);
        allow_the_last(&mut oracle, bit);
        oracle.tally.cuts += 1;
        for _ in 0..2 {
            let mut store = match open(nor, SECTORS) {
                Ok(store) => store,
                Err((_, back)) => {
                    oracle.note_bricked();
                    nor = back;
                    continue;
                }
            };
            oracle.check(&mut store, 0);
            work.restart();
            for _ in 0..3 {
                let record = work.next(store.boot());
                match store.append(&record) {
                    Ok(seq) => oracle.promise(seq, &record, store.flash()),
                    Err(_) => oracle.note_bricked(),
                }
            }
            nor = store.into_flash();
        }
        tally = tally.plus(oracle.tally);
    }
    tally
}

/// Flips `bits` bits within eight bytes of the entries, `count` times over. That may cost the rest of a sector, but no store
/// may tell what nobody wrote; returns the records that it did.
#[must_use]
pub fn bunches(seed: u64, count: u64, bits: u64) -> u64 {
    let (nor, oracle, _) = wrapped(seed);
    let mut rng = SplitMix64::new(seed);
    let first = 2 * SECTOR as u64;
    let bytes = nor.bytes().len() as u64 - first - 8;
    (0..count)
        .map(|_| {
            let mut nor = nor.clone();
            let at = first + rng.below(bytes);
            for _ in 0..bits {
                nor.flip(8 * at + rng.below(64));
            }
            open(nor, SECTORS).map_or(1, |mut store| oracle.invented(&mut store))
        })
        .sum()
}

fn allow_the_last(oracle: &mut Oracle, bit: u64) {
    let sector = (bit / 8) as usize / SECTOR;
    let last = oracle.highest();
    if last.and_then(|last| oracle.sector_of(last)) == Some(sector) {
        oracle.may_miss = last;
    }
}
