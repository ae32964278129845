//! What our log costs: flash per burst, and a start.

use firmware::sim::nor::{NorCounts, SECTOR};
use shared_types::log::Event;
use shared_types::{BootId, RecordSeq};

use super::work::Work;
use super::{chip, open};

/// Sectors of the log on the board: 2 MiB of flash less program and settings.
pub const FULL_SIZE: usize = 470;

/// Bytes of flash per burst, everything included: headers, marks, checks, continued segments, control traces.
#[must_use]
pub fn bytes_per_burst(seed: u64) -> f64 {
    let mut work = Work::new(seed);
    let Ok(mut store) = open(chip(16, seed), 16) else { panic!("a blank chip opens") };
    let mut last = None;
    let mut sectors = 0_u32;
    // Twelve whole sectors.
    while sectors < 13 {
        store.append(&work.next(BootId(1))).expect("no cut here");
        let sector = store.flash().last_programmed_sector();
        sectors += u32::from(last != Some(sector));
        last = Some(sector);
    }
    12.0 * SECTOR as f64 / work.bursts as f64
}

/// Bytes programmed for the average record of each kind: segments, control traces.
#[must_use]
pub fn bytes_per_record(seed: u64) -> (f64, f64) {
    let mut work = Work::new(seed);
    let Ok(mut store) = open(chip(64, seed), 64) else { panic!("a blank chip opens") };
    let (mut segments, mut traces) = ((0_u64, 0_u64), (0_u64, 0_u64));
    for _ in 0..10_000 {
        let record = work.next(BootId(1));
        let before = store.flash().counts();
        store.append(&record).expect("no cut here");
        let after = store.flash().counts();
        // Two programs are an entry and its last bit, which stands in a byte that was counted already; more mean a new
        // sector's header as well.
        if after.programs - before.programs == 2 {
            let is_segment = matches!(record.event, Event::Segment(_));
            let sum = if is_segment { &mut segments } else { &mut traces };
            *sum = (sum.0 + 1, sum.1 + after.programmed_bytes - before.programmed_bytes - 1);
        }
    }
    (segments.1 as f64 / segments.0 as f64, traces.1 as f64 / traces.0 as f64)
}

/// Days until a full-size log overwrites its oldest record, at three hours of running a day.
#[must_use]
pub fn days_of_capacity(bytes_per_burst: f64) -> f64 {
    // Mean of a lognormal: median times exp(sigma squared over two); 6 s * exp(0.32) is 8.26 s.
    let mean_burst_s = 6.0 * (0.8_f64 * 0.8 / 2.0).exp();
    let bursts_a_day = 3.0 * 3_600.0 / mean_burst_s;
    // One sector waits erased.
    (FULL_SIZE - 1) as f64 * SECTOR as f64 / bytes_per_burst / bursts_a_day
}

/// What one start reads and writes with a full log of full size.
#[must_use]
pub fn boot_cost(seed: u64) -> NorCounts {
    let mut work = Work::new(seed);
    let Ok(mut store) = open(chip(FULL_SIZE, seed), FULL_SIZE) else { panic!("a blank chip opens") };
    while !store.overran() {
        store.append(&work.next(BootId(1))).expect("no cut here");
    }
    let mut nor = store.into_flash();
    nor.reset_counts();
    let Ok(mut store) = open(nor, FULL_SIZE) else { panic!("a full log opens") };
    let counts = store.flash().counts();
    let end = store.read_from(RecordSeq(0), &mut |_, _| false).expect("no cut here");
    assert!(!end.reached_end, "the full log holds records");
    counts
}
