//! The power goes, three hundred times.

use tests::board_image::{board_image, image_without_second_slot};
use tests::board_torture::{Plan, UsedFlash, torture};

/// Enough to meet every phase of a start and of a day; `board_torture` does thousands.
const CUTS: u64 = 300;

#[test]
fn three_hundred_cuts_at_any_instruction_cost_nothing_that_was_told() {
    let image = board_image().to_owned();
    let used = UsedFlash::make(&image, 1);
    let plan = Plan { image, cuts: CUTS, cuts_per_life: 25, seed: 20_310_405, workers: 2 };
    let toll = torture(&plan, &used, &|_, _| {});
    println!("{toll}");
    assert_eq!(toll.faults(), 0, "{:#?}", toll.failures);
    assert_eq!(toll.cuts, CUTS);
    let inside = |place: &str| toll.places.get(place).copied().unwrap_or(0);
    assert!(inside("in an erase") >= 10 && inside("in a program") >= 30, "{toll}");
    assert!(inside("at an instruction") >= 100, "{toll}");
    assert!(toll.confirmed >= 5, "presses were hardly watched: {toll}");
}

#[test]
fn with_one_settings_slot_instead_of_two_the_same_cuts_cost_settings() {
    let image = image_without_second_slot();
    let used = UsedFlash::make(&image, 2);
    let plan = Plan { image, cuts: 60, cuts_per_life: 20, seed: 7, workers: 2 };
    let toll = torture(&plan, &used, &|_, _| {});
    println!("{toll}");
    assert!(toll.lost > 0, "a safeguard is missing and nobody has noticed: {toll}");
}
