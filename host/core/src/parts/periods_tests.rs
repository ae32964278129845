use shared_types::RunMillis;

use super::*;
use crate::stats::HOUR_MS;
use crate::test_facts::entries;

const HOUR: i64 = 3_600_000;
const ONE: MachineTag = MachineTag(1);

/// A machine that runs one hour in each hour of the calendar from hour 100 on, written by hand so that no log is needed.
fn grounds(machine: MachineTag) -> Grounds {
    let by_hand = (100..2000).map(|hour| (UtcMillis(hour * HOUR + HOUR / 2), RunMillis(HOUR_MS))).collect();
    Grounds::of(machine, &History { by_hand, ..History::default() })
}

fn on(serial: Option<&str>, hour: i64) -> EntryBody {
    EntryBody::PartFitted(PartFitted {
        machine: ONE,
        part: PartName::of("needle"),
        serial: serial.map(str::to_owned),
        at: UtcMillis(hour * HOUR),
        note: None,
        from_stock: None,
        off_entry: None,
    })
}

fn off(serial: Option<&str>, hour: i64, why: TakenOff) -> EntryBody {
    EntryBody::PartTakenOff(PartTakenOff {
        machine: ONE,
        part: PartName::of("needle"),
        serial: serial.map(str::to_owned),
        at: UtcMillis(hour * HOUR),
        why,
        note: None,
    })
}

fn lives(bodies: impl IntoIterator<Item = EntryBody>, now: i64) -> Vec<PartLife> {
    let periods = part_periods(&entries(bodies), &[grounds(ONE)], UtcMillis(now * HOUR));
    part_lives(&periods, &PartName::of("Needle"))
}

fn times(lives: &[PartLife]) -> Vec<(f64, bool)> {
    lives_for_statistics(lives).iter().map(|life| (life.time, life.ended)).collect()
}

#[test]
fn only_wear_ends_a_life_and_a_part_still_on_has_lasted_until_now() {
    let found = lives(
        [
            on(None, 100),
            off(None, 150, TakenOff::WornOut),
            on(None, 150),
            off(None, 170, TakenOff::Strike),
            on(None, 170),
            off(None, 200, TakenOff::Lost),
            on(None, 200),
        ],
        260,
    );
    assert_eq!(times(&found), [(50.0, true), (20.0, false), (30.0, false), (60.0, false)]);
}

#[test]
fn the_same_mark_fitted_again_goes_on_with_its_life_until_it_is_worn() {
    let pair = Some("A");
    let found = lives(
        [
            on(pair, 100),
            off(pair, 130, TakenOff::StillGood),
            on(Some("B"), 130),
            off(Some("B"), 150, TakenOff::StillGood),
            on(pair, 150),
            off(pair, 200, TakenOff::WornOut),
            on(pair, 210),
        ],
        220,
    );
    // A ran 30 and 50 hours until it was worn; sharpened, it begins anew.
    assert_eq!(times(&found), [(80.0, true), (20.0, false), (10.0, false)]);
    assert_eq!(found[0].fittings, 2);
}

#[test]
fn without_a_mark_a_part_fitted_again_is_another_one() {
    let found = lives(
        [
            on(None, 100),
            off(None, 120, TakenOff::StillGood),
            on(None, 130),
            off(None, 140, TakenOff::WornOut),
        ],
        150,
    );
    assert_eq!(times(&found), [(20.0, false), (10.0, true)]);
}

#[test]
fn a_part_fitted_long_before_the_first_record_is_left_out() {
    let found = lives([on(None, 50), off(None, 150, TakenOff::WornOut), on(None, 150)], 160);
    assert_eq!(found[0].counts, LifeCounts::BeganBeforeRecords);
    assert_eq!(times(&found), [(10.0, false)]);
    // Up to a day before is as good as at it.
    assert_eq!(times(&lives([on(None, 80), off(None, 150, TakenOff::WornOut)], 160)), [(50.0, true)]);
}

#[test]
fn worn_out_without_running_is_left_out() {
    let found = lives([on(None, 100), off(None, 100, TakenOff::WornOut)], 160);
    assert_eq!((found[0].counts, times(&found).len()), (LifeCounts::NothingRan, 0));
}

#[test]
fn hours_of_the_machine_stand_beside_each_fitting() {
    let periods = part_periods(
        &entries([on(None, 110), off(None, 150, TakenOff::Precaution)]),
        &[grounds(ONE)],
        UtcMillis(300 * HOUR),
    );
    assert_eq!((periods[0].machine_hours_at_fitting, periods[0].machine_hours_at_end), (10.0, 50.0));
}

#[test]
fn taking_off_withdrawn_leaves_the_part_on() {
    let mut bodies = vec![on(None, 100), off(None, 120, TakenOff::WornOut)];
    bodies.push(EntryBody::Withdrawn { entry: EntryId(2), reason: "it was the scissors".to_owned() });
    assert_eq!(times(&lives(bodies, 160)), [(60.0, false)]);
}

#[test]
fn names_are_compared_without_regard_to_case_and_blanks() {
    assert_eq!(PartName::of("  Carbon  Brushes "), PartName::of("carbon-brushes"));
}

#[test]
fn a_part_that_came_with_its_machine_has_no_life_in_the_statistics() {
    let worn =
        lives([off(None, 150, TakenOff::WornOut), on(None, 150), off(None, 170, TakenOff::WornOut)], 200);
    assert_eq!(times(&worn), [(20.0, true)]);
    // Nor when it comes back under its mark: its first hours are not known.
    let said = [
        off(Some("A"), 150, TakenOff::StillGood),
        on(Some("A"), 160),
        off(Some("A"), 170, TakenOff::WornOut),
    ];
    let back = lives(said, 200);
    assert_eq!((back.len(), back[0].counts, times(&back).len()), (1, LifeCounts::BeganBeforeRecords, 0));
    // The mark of a part that is gone was given to another one.
    let said =
        [off(Some("A"), 150, TakenOff::WornOut), on(Some("A"), 160), off(Some("A"), 170, TakenOff::WornOut)];
    assert_eq!(times(&lives(said, 200)), [(10.0, true)]);
}
