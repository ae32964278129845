//! Things that break while the logger goes on.

use serde_json::json;
use shared_types::log::{Event, Fault, FaultChange};
use tests::emulator::Emulator;

use super::counting::fault_bit;
use super::{ms, segments, started};

pub fn changes(board: &mut Emulator, fault: Fault) -> Vec<bool> {
    board.events(|event| match event {
        Event::Fault(FaultChange { fault: found, present }) if found == fault => Some(present),
        _ => None,
    })
}

#[test]
fn an_unplugged_knob_sensor_becomes_a_fault_record_and_strokes_go_on_without_an_angle() {
    let mut board = started();
    board.run(ms(500));
    board.plug_knob(false);
    board.run(ms(1_000));
    board.sew(100, 25.0, ms(1_000));
    assert_eq!(changes(&mut board, Fault::KnobSilent), [true]);
    assert_eq!(segments(&mut board).last().map(|segment| (segment.edges, segment.angle)), Some((100, None)));
    board.plug_knob(true);
    board.run(ms(1_000));
    assert_eq!(changes(&mut board, Fault::KnobSilent), [true, false]);
    assert!(board.live().angle.is_some());
}

#[test]
fn a_weak_magnet_becomes_a_fault_record() {
    let mut board = started();
    // Data sheet of the AS5600, STATUS: bit 5 magnet detected, bit 4 too weak.
    board.perform(&json!({ "op": "status", "v": 0x30 }));
    board.run(ms(1_000));
    assert_eq!(changes(&mut board, Fault::MagnetTooWeak), [true]);
}

#[test]
fn a_dead_bus_neither_stops_the_count_nor_wakes_the_watchdog() {
    let mut board = started();
    board.perform(&json!({ "op": "bus", "stuck": true }));
    board.sew(1_000, 50.0, ms(1_000));
    let live = board.live();
    assert_eq!(live.edges_since_start, 1_000);
    assert_ne!(live.faults & 1 << fault_bit(Fault::KnobSilent), 0);
    assert_eq!(board.seen.resets, ["power"]);
}

#[test]
fn a_board_that_starts_on_a_dead_bus_counts_all_the_same() {
    let mut board = Emulator::start();
    board.perform(&json!({ "op": "bus", "stuck": true }));
    board.run_until_connected();
    board.run(ms(1_000));
    board.sew(200, 50.0, ms(12_000));
    assert_eq!(board.status().totals.edges.0, 200);
    assert_eq!(changes(&mut board, Fault::ClockSilent), [true]);
    assert_eq!(board.seen.resets, ["power"]);
}

#[test]
fn a_clock_chip_that_stood_still_is_told_and_makes_no_anchor() {
    let mut board = Emulator::start();
    board.perform(&json!({ "op": "clock", "stopped": true }));
    board.run_until_connected();
    board.run(ms(1_000));
    assert_eq!(changes(&mut board, Fault::ClockLost), [true]);
    assert_eq!(board.events(|event| matches!(event, Event::Anchor(_)).then_some(())).len(), 0);
}
