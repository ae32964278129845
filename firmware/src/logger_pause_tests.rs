//! A dial in place of the magnet, and what the logger puts off while the needle runs.

use shared_types::link::{LogState, Refusal};

use super::*;
use crate::dial::Dial;

fn dial(step: u16) -> KnobReading {
    Dial(|| Some(step)).read()
}

#[test]
fn a_dial_that_trembles_closes_no_segment_and_one_that_is_turned_closes_one_each_time() {
    let mut table = Table::new();
    table.knob = dial(2_000);
    table.rest(5);
    // Up to the step of 24 from where the segment began, back and forth: no move.
    for step in [2_000, 2_024, 1_976, 2_010, 2_024, 2_000] {
        table.knob = dial(step);
        table.run(4);
    }
    // One step more, then from one end of the travel to the other: for a voltage that is the longest way, not the shortest.
    for step in [2_025, 549, 3_546] {
        table.knob = dial(step);
        table.run(10);
    }
    table.rest(12);
    let angles: Vec<_> = table.segments().iter().map(|segment| segment.angle.map(RawAngle::steps)).collect();
    assert_eq!(angles, [Some(2_000), Some(2_025), Some(549), Some(3_546)]);
}

#[test]
fn a_dial_s_wire_makes_one_record_when_it_comes_off_and_one_when_it_is_mended() {
    let mut table = Table::new();
    table.knob = dial(2_000);
    table.rest(5);
    for (off, fault) in [(0, Fault::DialTooLow), (4_095, Fault::DialTooHigh)] {
        table.knob = dial(off);
        table.run(20);
        assert_eq!(table.message(), LampMessage::LookWhenYouStop);
        table.knob = dial(2_000);
        table.run(20);
        table.rest(12);
        assert_eq!(table.message(), LampMessage::Dark);
        let told: Vec<_> = table
            .events()
            .into_iter()
            .filter_map(|event| match event {
                Event::Fault(change) if change.fault == fault => Some(change.present),
                _ => None,
            })
            .collect();
        assert_eq!(told, [true, false], "{fault:?}");
    }
    let edges: u32 = table.segments().iter().map(|segment| segment.edges).sum();
    assert_eq!(edges, 80, "strokes count with and without a dial");
    assert!(table.segments().iter().any(|segment| segment.angle.is_none()), "no angle is made up");
}

/// A table on whose chip the log's region holds something else, and a log was asked for.
fn making() -> Table {
    let mut chip = Nor::new(8, 3);
    chip.load(2 * SECTOR, &[0x5A; 6 * SECTOR]);
    let mut table = Table::on(chip);
    table.logger.format_unreadable().unwrap();
    table
}

fn sectors_left(table: &Table) -> Option<u32> {
    match table.logger.status(UptimeMillis(table.now)).log {
        LogState::Formatting { sectors_left } => Some(sectors_left),
        _ => None,
    }
}

#[test]
fn a_log_in_the_making_waits_while_the_needle_runs_and_what_it_did_is_in_it() {
    let mut table = making();
    assert_eq!(sectors_left(&table), Some(6));
    table.run(1);
    let before = table.erases.get();
    table.run(300);
    assert_eq!(
        (table.erases.get(), sectors_left(&table)),
        (before, Some(6)),
        "nothing is erased under a needle"
    );
    // The gap of half a second that ends the burst, then one sector in each look.
    table.rest(9);
    assert_eq!(sectors_left(&table), Some(6), "nor before it stands still");
    table.rest(3);
    assert_eq!(sectors_left(&table), Some(3));
    table.run(10);
    assert_eq!(sectors_left(&table), Some(3), "and it is put off again");
    table.rest(20);
    assert_eq!(sectors_left(&table), None);
    // 301 edges, then 10, at 50 ms each.
    assert_eq!(table.logger.totals(), Totals { run: RunMillis(300 * 50 + 9 * 50), edges: Edges(311) });
}

#[test]
fn settings_that_a_press_changed_are_saved_once_the_needle_stands() {
    let mut table = Table::new();
    let limits = Limits { look_at: Some(RunMillis(1)), ..Limits::default() };
    table.logger.apply(UptimeMillis(0), Settings { limits, ..Settings::default() }).unwrap();
    table.rest(3);
    let settings =
        |table: &mut Table| table.events().iter().filter(|event| matches!(event, Event::Settings(_))).count();
    let (erases, told) = (table.erases.get(), settings(&mut table));
    // A press of the second button while the needle runs: care done.
    for pressed in [true, true, false, false] {
        let at = table.now + 50;
        table.sample(50, 1, Some((at, at)), [false, pressed]);
    }
    table.run(400);
    assert_eq!((table.erases.get(), settings(&mut table)), (erases, told));
    assert_eq!(
        table.logger.status(UptimeMillis(table.now)).settings.limits.look_at,
        None,
        "in force at once"
    );
    table.rest(12);
    assert_eq!(settings(&mut table), told + 1);
}

#[test]
fn settings_that_flash_does_not_take_are_tried_again_but_not_at_every_look() {
    let mut table = Table::new();
    table.rest(3);
    table.refuses.set(true);
    let settings = Settings { knob_step: 77, ..Settings::default() };
    assert_eq!(table.logger.apply(UptimeMillis(table.now), settings), Err(Refusal::FlashFailed));
    let tries = table.settings_tries.get();
    table.rest(600);
    // Thirty seconds of rest: a try every ten.
    let tries = table.settings_tries.get() - tries;
    assert!((2..=4).contains(&tries), "{tries} tries in thirty seconds");
    table.refuses.set(false);
    table.rest(250);
    let kept = table.events().into_iter().filter(|event| *event == Event::Settings(settings)).count();
    assert_eq!(kept, 1);
}

#[test]
fn no_look_of_a_start_waits_for_two_erases() {
    let mut chip = Table::new().logger.into_store().into_flash().chip;
    let (mut erases, mut with_erase) = (0, 0);
    // Each start commits with a press in the middle of running, so that nothing was prepared in a pause.
    for start in 0..900_u32 {
        let mut table = Table::on(chip);
        for look in 0..30_u32 {
            let before = table.erases.get();
            let pressed = (4 + start % 3..8).contains(&look);
            table.sample(50, 1, None, [pressed, false]);
            let now = table.erases.get() - before;
            assert!(now <= 1, "{now} erases in look {look} of start {start}");
            (erases, with_erase) = (erases + now, with_erase + u32::from(now > 0));
        }
        assert!(table.logger.store_mut().is_committed(), "a press commits its boot");
        chip = table.logger.into_store().into_flash().chip;
    }
    // Slots fill a sector in sixteen starts; the log has gone round too.
    assert!(erases > 900 / 16 + 6 && with_erase == erases, "{erases} erases");
}
