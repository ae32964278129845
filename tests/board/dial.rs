//! A separate low-voltage dial in place of the magnet on the knob: GP22 joined to ground, the dial's voltage on GP26.

use firmware::dial::{HIGHEST_SOUND, LOWEST_SOUND};
use serde_json::json;
use shared_types::RawAngle;
use shared_types::log::Fault;
use tests::emulator::{DIAL_STRAP, Emulator};

use super::faults::changes;
use super::{ms, segments};

/// A board with the wire from GP22 to ground, and nothing on the bus but the clock chip.
fn with_a_dial(steps: u16) -> Emulator {
    let mut board = Emulator::start_again();
    board.perform(&json!({ "op": "level", "pin": DIAL_STRAP, "high": false }));
    board.plug_knob(false);
    board.turn_dial(steps);
    board.run_until_connected();
    board.run(ms(500));
    board
}

#[test]
fn a_dial_s_voltage_is_read_raw_and_a_turned_dial_closes_a_segment() {
    let mut board = with_a_dial(626);
    assert_eq!(board.live().angle, Some(RawAngle::new(626)));
    assert_eq!(board.live().faults & Fault::KnobSilent.bit(), 0, "nobody misses the magnet");
    board.stroke(100, 50.0);
    board.run(ms(1_010));
    board.turn_dial(3_469);
    board.run(ms(2_500));
    let angles: Vec<_> =
        segments(&mut board).iter().map(|segment| (segment.angle, segment.continues)).collect();
    assert_eq!(angles, [(Some(RawAngle::new(626)), false), (Some(RawAngle::new(3_469)), true)]);
}

#[test]
fn a_dial_s_wire_that_comes_off_is_recorded_and_so_is_its_mending() {
    let mut board = with_a_dial(2_000);
    for (steps, fault) in [(0, Fault::DialTooLow), (4_000, Fault::DialTooHigh)] {
        board.turn_dial(steps);
        board.run(ms(1_000));
        assert_eq!(changes(&mut board, fault), [true]);
        assert_eq!(board.live().angle, None);
        board.turn_dial(2_000);
        board.run(ms(1_000));
        assert_eq!(changes(&mut board, fault), [true, false]);
        assert_eq!(board.live().angle, Some(RawAngle::new(2_000)));
    }
    assert!(changes(&mut board, Fault::KnobSilent).is_empty(), "nobody misses the magnet");
}

#[test]
fn without_the_wire_from_gp22_the_dial_s_pin_says_nothing() {
    let mut board = Emulator::start_again();
    board.turn_knob(0x123);
    board.turn_dial(2_000);
    board.run_until_connected();
    board.run(ms(500));
    assert_eq!(board.live().angle, Some(RawAngle::new(0x123)));
}

#[test]
fn with_a_dial_a_dead_bus_costs_the_clock_and_not_the_knob() {
    let mut board = Emulator::start_again();
    board.perform(&json!({ "op": "level", "pin": DIAL_STRAP, "high": false }));
    board.perform(&json!({ "op": "bus", "stuck": true }));
    board.turn_dial(1_000);
    board.run_until_connected();
    board.sew(200, 50.0, ms(1_000));
    assert_eq!(board.live().edges_since_start, 200);
    assert_eq!(board.live().angle, Some(RawAngle::new(1_000)));
    assert_eq!(changes(&mut board, Fault::ClockSilent), [true]);
    assert_eq!(board.seen.resets, ["power"]);
}

#[test]
fn the_wiring_page_tells_the_limits_that_the_firmware_uses() {
    let page = include_str!("../../firmware/WIRING.md");
    let grouped = |steps: u16| format!("{},{:03}", steps / 1_000, steps % 1_000);
    assert!(page.contains(&format!("Below {LOWEST_SOUND} a wire is off")), "{LOWEST_SOUND}");
    assert!(page.contains(&format!("above {} the ground wire is off", grouped(HIGHEST_SOUND))));
    // 12 kOhm and 8 kOhm between two of 2.2 kOhm: 2.2 / 16.4 and 14.2 / 16.4 of 4,095.
    assert!(page.contains("between 549 and 3,546 of 4,095 steps"));
    assert!(page.contains(&format!("| GP{DIAL_STRAP} | GND, by a short wire")));
}
