//! The making of a log is cut at every step.

use firmware::sim::nor::Nor;
use firmware::store::Store;
use shared_types::BootId;
use shared_types::link::LogState;
use tests::power_cut::work::Work;
use tests::power_cut::{chip, open};

const SECTORS: usize = 3;

fn open_powered(mut nor: Nor) -> Store<Nor> {
    nor.power_on();
    open(nor, SECTORS).map_err(|(error, _)| error).unwrap()
}

#[track_caller]
fn assert_takes_a_record(store: &mut Store<Nor>, step: u64) {
    assert!(
        matches!(store.log_state(), LogState::Ready { .. }),
        "cut at step {step}: {:?}",
        store.log_state()
    );
    let record = Work::new(1).next(store.boot());
    assert!(store.append(&record).is_ok(), "cut at step {step}");
}

#[test]
fn a_first_start_that_is_cut_at_any_step_is_made_up_for_by_the_next() {
    let uncut = open_powered(chip(SECTORS, 1)).into_flash().counts().steps;
    assert!(uncut > 500, "only {uncut} steps");
    for step in 0..uncut {
        let mut nor = chip(SECTORS, step);
        nor.cut_after(step);
        let Err((_, nor)) = open(nor, SECTORS) else { panic!("the power did not go at step {step}") };
        assert_takes_a_record(&mut open_powered(nor), step);
    }
}

/// A chip whose log region holds something else, and which has started once.
fn foreign(seed: u64) -> Nor {
    let mut nor = chip(SECTORS, seed);
    nor.load(0x2000, &[0x5A; 0x3000]);
    let store = open_powered(nor);
    assert_eq!((store.boot(), store.log_state()), (BootId(1), LogState::Unreadable));
    store.into_flash()
}

#[test]
fn a_log_made_on_demand_is_either_made_or_asked_for_again_after_a_cut() {
    let nor = foreign(1);
    let before = nor.counts().steps;
    let mut store = open_powered(nor);
    while !store.format_unreadable().unwrap() {}
    let steps = store.flash().counts().steps - before;
    for step in (0..steps).step_by(3) {
        let mut nor = foreign(step);
        nor.cut_after(step);
        let nor = match open(nor, SECTORS) {
            Ok(mut store) => {
                let outcome =
                    std::iter::repeat_with(|| store.format_unreadable()).find(|done| *done != Ok(false));
                assert!(outcome.unwrap().is_err(), "the power did not go at step {step}");
                store.into_flash()
            }
            Err((_, nor)) => nor,
        };
        let mut store = open_powered(nor);
        assert!(store.boot() > BootId(1), "cut at step {step}");
        while !store.format_unreadable().unwrap() {}
        assert_takes_a_record(&mut store, step);
    }
}
