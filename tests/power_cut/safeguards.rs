//! The torture bites: with one precaution left out, the same torture reports faults.

use firmware::sim::nor::{Nor, SECTOR};
use tests::mutants::{
    BIT_REPAIR, CLEAN_MARK, FINISH_LAST, Mutant, READ_BACK, REFRESH, SEQUENCE_SKIP, UNPATCHED, first_fault,
};
use tests::power_cut::Tally;
use tests::power_cut::flips::flips;
use tests::power_cut::life::{Plan, live};

/// Shows that the torture finds one of these `kinds` of faults without the precaution, and none of any kind in as many runs with it.
#[track_caller]
pub fn assert_bites(mutant: Mutant, torture: &str, budget: u64, kinds: &[&str]) {
    let found = first_fault(mutant, torture, budget);
    println!("{}, {torture}: {found:?}", mutant.name);
    assert!(kinds.iter().any(|kind| found[*kind] > 0), "{}, {torture}: {found:?}", mutant.name);
    let runs = if torture == "flips" { budget } else { found["runs"] };
    let honest = first_fault(UNPATCHED, torture, runs);
    assert_eq!((honest["faults"], honest["runs"]), (0, found["runs"]), "{torture}: {honest:?}");
}

/// Lives until something goes wrong, within a budget.
fn first_faults(plan: Plan, lives: u64) -> Tally {
    let mut sum = Tally::default();
    for seed in 0..lives {
        sum = sum.plus(live(&plan, seed));
        if sum.faults() > 0 {
            break;
        }
    }
    sum
}

/// As if a sector had one header.
fn wipe_second_headers(nor: &mut Nor) {
    for sector in 2..nor.bytes().len() / SECTOR {
        nor.load(sector * SECTOR + 4_012, &[0xFF; 84]);
    }
}

#[test]
fn without_the_mark_of_a_finished_erase_records_are_lost() {
    assert_bites(CLEAN_MARK, "lives", 40, &["lost"]);
}

#[test]
fn without_a_bit_that_comes_last_a_torn_record_passes_for_a_whole_one() {
    assert_bites(FINISH_LAST, "lives", 400, &["faults"]);
}

#[test]
fn without_reading_back_records_are_lost_on_a_chip_that_fails() {
    assert_bites(READ_BACK, "lives-on-a-failing-chip", 40, &["faults"]);
}

#[test]
fn without_the_second_header_a_flipped_bit_costs_a_sector() {
    let tally = flips(1, 400, wipe_second_headers);
    assert!(tally.lost > 0, "{tally:?}");
}

#[test]
fn without_a_second_place_for_settings_a_cut_takes_them_along() {
    let tally = first_faults(Plan { sabotage: Nor::join_first_sectors, ..Plan::small(3, 100) }, 40);
    assert!(tally.settings_torn + tally.boots_repeated > 0, "{tally:?}");
}

#[test]
fn without_skipping_numbers_one_is_given_out_twice() {
    assert_bites(SEQUENCE_SKIP, "logs-flipped", 20, &["reused"]);
}

#[test]
fn without_bit_repair_a_flipped_bit_costs_records() {
    assert_bites(BIT_REPAIR, "flips", 100, &["lost"]);
}

#[test]
fn without_a_second_programming_a_half_programmed_record_goes_later() {
    assert_bites(REFRESH, "lives", 400, &["faults"]);
}
