//! The writing of one record is cut at every byte.

use std::ops::Range;

use firmware::sim::nor::Nor;
use firmware::store::{StartFacts, Store};
use shared_types::RecordSeq;
use shared_types::log::Record;

use super::work::Work;
use super::{chip, layout, open};

/// Sectors of the log.
pub const SECTORS: usize = 3;
/// Records in front of the one that is cut.
const BEFORE: u32 = 5;

/// Powers the chip and opens its store.
///
/// # Panics
/// When that fails.
#[must_use]
pub fn start(mut nor: Nor) -> Store<Nor> {
    nor.power_on();
    open(nor, SECTORS).map_err(|(error, _)| error).unwrap()
}

/// All records of a store, with their numbers.
///
/// # Panics
/// When they cannot be read.
pub fn records(store: &mut Store<Nor>) -> Vec<(u32, Record)> {
    let mut records = Vec::new();
    store
        .read_from(RecordSeq(0), &mut |seq, record| {
            records.push((seq.0, record.clone()));
            true
        })
        .unwrap();
    records
}

/// What came of records whose writing was cut at every byte, each looked at over several starts.
#[derive(Clone, Copy, Debug, Default)]
pub struct Torn {
    /// Cuts.
    pub cuts: u64,
    /// Records that came up whole.
    pub whole: u64,
    /// Records that did not come up.
    pub absent: u64,
    /// There with another content, or not any more, or changed by a start after another record, or its number given out again.
    pub wrong: u64,
}

impl Torn {
    /// Adds what other cuts have found.
    #[must_use]
    pub const fn plus(self, other: Self) -> Self {
        Self {
            cuts: self.cuts + other.cuts,
            whole: self.whole + other.whole,
            absent: self.absent + other.absent,
            wrong: self.wrong + other.wrong,
        }
    }
}

/// Writes records and cuts the last of them at every byte, for each of these seeds.
///
/// # Panics
/// When the power does not go where it should.
#[must_use]
pub fn torn_records(seeds: Range<u64>) -> Torn {
    let mut torn = Torn::default();
    for seed in seeds {
        let mut work = Work::new(seed);
        let mut store = start(chip(SECTORS, seed));
        let written: Vec<Record> = (0..=BEFORE).map(|_| work.anything(store.boot())).collect();
        for record in &written[..BEFORE as usize] {
            store.append(record).unwrap();
        }
        let nor = store.into_flash();
        let mut uncut = start(nor.clone());
        let steps_before = uncut.flash().counts().steps;
        uncut.append(&written[BEFORE as usize]).unwrap();
        for step in 0..uncut.flash().counts().steps - steps_before {
            look_at_one(&mut torn, start(nor.clone()), (&written, step));
        }
    }
    torn
}

fn look_at_one(torn: &mut Torn, store: Store<Nor>, (written, step): (&[Record], u64)) {
    torn.cuts += 1;
    let facts = StartFacts { chip_id: None, random: 11 };
    let mut nor = store.into_flash();
    nor.power_on();
    let mut store = Store::open(nor, layout(SECTORS), facts).map_err(|it| it.0).unwrap();
    store.commit().unwrap();
    // The power goes while the record is written, the start before it being whole.
    let mut nor = {
        store.flash_mut().cut_after(step);
        assert!(store.append(&written[BEFORE as usize]).is_err(), "the power did not go at step {step}");
        store.into_flash()
    };
    // Until something is written behind it, a record that nobody was told of may still come up whole, but never go again.
    let mut seen = 0;
    for _ in 0..3 {
        let mut store = start(nor);
        let found = records(&mut store);
        let is_right = found.iter().all(|(seq, record)| written.get(*seq as usize) == Some(record));
        torn.wrong += u64::from(!is_right || found.len() < seen.max(BEFORE as usize));
        seen = found.len();
        nor = store.into_flash();
    }
    // Every start of a logger writes one.
    let mut store = start(nor);
    let mut expected = records(&mut store);
    torn.wrong += u64::from(expected.len() < seen);
    if expected.len() > BEFORE as usize {
        torn.whole += 1;
    } else {
        torn.absent += 1;
    }
    let next = store.append(&written[0]).unwrap();
    torn.wrong += u64::from(next.0 < expected.len() as u32);
    expected.push((next.0, written[0].clone()));
    let mut nor = store.into_flash();
    for _ in 0..4 {
        let mut store = start(nor);
        torn.wrong += u64::from(records(&mut store) != expected);
        nor = store.into_flash();
    }
}
