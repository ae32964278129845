//! The database under a bad disk, in the measure of a minute; the long run is `store_torture`.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    clippy::cast_possible_truncation,
    reason = "a test may stop at the first surprise"
)]

mod input;

use tests::store_torture::program::Program;
use tests::store_torture::{bytes, disk};

const SEED: u64 = 20_261_130;

#[test]
fn a_changed_byte_is_told_or_changes_nothing() {
    let tally = bytes::change(&Program::found().unwrap(), 40, SEED).unwrap();
    assert_eq!((tally.changes, tally.wrong, tally.other), (40, 0, 0), "seed {SEED}: {tally:?}");
    // Half of the file is read for each answer; were nothing told, nothing was looked at.
    assert!(tally.told > 25, "seed {SEED}: {tally:?}");
}

#[test]
fn whatever_the_disk_does_an_act_is_kept_whole_or_not_at_all() {
    let program = Program::found().unwrap();
    let library = disk::compiled(&program).unwrap().display().to_string();
    for harm in disk::HARMS {
        let tally = disk::harm(&program, &library, harm, 25, SEED).unwrap();
        assert_eq!(tally.faults(), 0, "seed {SEED}, {harm}: {tally:?}");
        assert!(tally.reached > 2, "seed {SEED}, {harm}: {tally:?}");
    }
}
