//! The torture bites: with one precaution left out, the same torture reports faults.

use firmware::flash_log::safeguards::Safeguard;
use firmware::sim::nor::{Nor, SECTOR};
use tests::power_cut::flips::flips;
use tests::power_cut::life::{Plan, live};
use tests::power_cut::{Sabotage, Tally};

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

fn plan(sabotage: Sabotage) -> Plan {
    Plan { sabotage, ..Plan::small(3, 100) }
}

/// As if a sector had one header.
fn wipe_second_headers(nor: &mut Nor) {
    for sector in 2..nor.bytes().len() / SECTOR {
        nor.load(sector * SECTOR + 4_012, &[0xFF; 84]);
    }
}

#[test]
fn without_the_mark_of_a_finished_erase_records_are_lost() {
    let tally = first_faults(plan(|nor| nor.leave_out(Safeguard::CleanMark)), 40);
    assert!(tally.lost > 0, "{tally:?}");
}

#[test]
fn without_a_bit_that_comes_last_a_torn_record_passes_for_a_whole_one() {
    let tally = first_faults(plan(|nor| nor.leave_out(Safeguard::FinishLast)), 400);
    assert!(tally.faults() > 0, "{tally:?}");
}

#[test]
fn without_reading_back_records_are_lost_on_a_chip_that_fails() {
    let plan = Plan { misprogram_one_in: Some(20_000), ..plan(|nor| nor.leave_out(Safeguard::ReadBack)) };
    let tally = first_faults(plan, 40);
    assert!(tally.faults() > 0, "{tally:?}");
}

#[test]
fn without_the_second_header_a_flipped_bit_costs_a_sector() {
    let tally = flips(1, 400, wipe_second_headers);
    assert!(tally.lost > 0, "{tally:?}");
}

#[test]
fn without_a_second_place_for_settings_a_cut_takes_them_along() {
    let tally = first_faults(plan(Nor::join_first_sectors), 40);
    assert!(tally.settings_torn + tally.boots_repeated > 0, "{tally:?}");
}

#[test]
fn without_skipping_numbers_one_is_given_out_twice() {
    // Only a flip in the newest record shows it, one bit in two thousand.
    let found = (0..20).map(|seed| flips(seed, 1_000, |nor| nor.leave_out(Safeguard::SequenceSkip)).reused);
    assert!(found.into_iter().any(|reused| reused > 0));
}

#[test]
fn without_bit_repair_a_flipped_bit_costs_records() {
    let tally = flips(1, 100, |nor| nor.leave_out(Safeguard::BitRepair));
    assert!(tally.lost > 0, "{tally:?}");
}

#[test]
fn without_a_second_programming_a_half_programmed_record_goes_later() {
    let tally = first_faults(plan(|nor| nor.leave_out(Safeguard::Refresh)), 400);
    assert!(tally.faults() > 0, "{tally:?}");
}
