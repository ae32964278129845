//! The last bit of something: of a record, of an erase, of a new log. What a cut leaves there is settled by the next start.

use firmware::sim::nor::Nor;
use firmware::store::Store;
use shared_types::RecordSeq;
use shared_types::link::LogState;
use tests::mutants::{FINISH_LAST, REFRESH};
use tests::power_cut::chip;
use tests::power_cut::torn::{SECTORS, records, start, torn_records};
use tests::power_cut::work::Work;

use super::safeguards::assert_bites;

#[test]
fn a_record_cut_at_any_byte_is_there_whole_or_not_at_all_and_is_settled_by_the_next_one() {
    let torn = torn_records(0..12);
    assert_eq!(torn.wrong, 0, "{torn:?}");
    // Only a cut in the very last byte can leave it whole; most leave it absent.
    assert!(torn.cuts >= 150 && torn.whole > 0 && torn.absent > 10 * torn.whole, "{torn:?}");
}

#[test]
fn without_the_bit_that_comes_last_or_its_second_programming_the_same_cuts_go_wrong() {
    // A torn segment passes its check of eight bits by chance once in some hundred cuts, so that takes many.
    assert_bites(FINISH_LAST, "torn-records", 500, &["faults"]);
    assert_bites(REFRESH, "torn-records", 60, &["faults"]);
}

/// A chip whose log region holds something else.
fn foreign(seed: u64) -> Nor {
    let mut nor = chip(SECTORS, seed);
    nor.load(0x2000, &[0x5A; 0x3000]);
    nor
}

/// Asks for a new log and makes it up to its last step.
fn but_for_the_last_step(seed: u64) -> Store<Nor> {
    let mut store = start(foreign(seed));
    while store.log_state() != (LogState::Formatting { sectors_left: 0 }) {
        store.format_unreadable().unwrap();
    }
    store
}

#[test]
fn a_new_log_whose_last_step_is_cut_is_begun_by_the_next_start_unasked() {
    let mut uncut = but_for_the_last_step(0);
    let before = uncut.flash().counts().steps;
    assert_eq!(uncut.format_unreadable(), Ok(true));
    let steps = uncut.flash().counts().steps - before;
    let LogState::Ready { log: wanted, .. } = uncut.log_state() else { panic!("no log") };
    assert!(steps > 256 + 2 * 64, "an erase, a mark, two headers and a slot: {steps} steps");
    for step in 0..steps {
        let mut store = but_for_the_last_step(step);
        store.flash_mut().cut_after(step);
        assert!(store.format_unreadable().is_err(), "the power did not go at step {step}");
        let mut store = start(store.into_flash());
        let LogState::Ready { log, next, .. } = store.log_state() else {
            panic!("cut at step {step}: {:?}", store.log_state())
        };
        assert_eq!((log, next), (wanted, RecordSeq(0)), "cut at step {step}");
        let record = Work::new(1).next(store.boot());
        assert_eq!(store.append(&record), Ok(RecordSeq(0)), "cut at step {step}");
        let mut store = start(store.into_flash());
        assert_eq!(records(&mut store), [(0, record)], "cut at step {step}");
    }
}

#[test]
fn the_erase_of_the_oldest_sector_cut_at_any_step_costs_that_sector_alone() {
    let mut store = start(chip(SECTORS, 7));
    let mut work = Work::new(7);
    let mut written = Vec::new();
    // Until the ring has gone round twice and the next sector wants erasing.
    let oldest = loop {
        let record = work.anything(store.boot());
        store.append(&record).unwrap();
        written.push(record);
        let LogState::Ready { oldest, .. } = store.log_state() else { panic!("no log") };
        let mut probe = start(store.flash().clone());
        let erases = probe.flash().counts().erases;
        probe.prepare_while_still().unwrap();
        if oldest.0 > 300 && probe.flash().counts().erases > erases {
            break oldest.0;
        }
    };
    let nor = store.into_flash();
    let mut uncut = start(nor.clone());
    let before = uncut.flash().counts().steps;
    uncut.prepare_while_still().unwrap();
    let LogState::Ready { oldest: oldest_after, .. } = uncut.log_state() else { panic!("no log") };
    assert!(oldest_after.0 > oldest, "a sector was given up");
    for step in 0..uncut.flash().counts().steps - before {
        let mut store = start(nor.clone());
        store.flash_mut().cut_after(step);
        assert!(store.prepare_while_still().is_err(), "the power did not go at step {step}");
        let mut store = start(store.into_flash());
        let found = records(&mut store);
        let first = found[0].0;
        assert!(first == oldest || first == oldest_after.0, "cut at step {step}: from {first} on");
        assert_eq!(found.len(), written.len() - first as usize, "cut at step {step}");
        assert!(found.iter().all(|(seq, record)| written[*seq as usize] == *record), "cut at step {step}");
        store.prepare_while_still().unwrap();
        let LogState::Ready { oldest, .. } = store.log_state() else { panic!("no log") };
        assert_eq!(oldest, oldest_after, "cut at step {step}: the erase is finished");
    }
}
