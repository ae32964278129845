//! The two-wire bus: a sensor that holds it, a clock chip that hangs or has stood still; and what the board tells of itself.

use serde_json::json;
use shared_types::link::{Diagnostics, Reply, Request};
use shared_types::log::{Anchor, ClockSource, Event, Fault, Settings};
use shared_types::{RawAngle, UtcMillis};
use tests::board_image::{Contents, board_image};
use tests::emulator::Emulator;

use super::faults::changes;
use super::{ms, started};

/// 2031-04-05T06:07:08Z in milliseconds since 1970, by `date -u -d 2031-04-05T06:07:08Z +%s`.
const CLOCK_SET_TO: i64 = 1_933_135_628_000;
/// ResamplingParams of the board's processor that the linker gives out (`memory-rp2040.x`).
const MEMORY_BYTES: u64 = 256 * 1024;

pub fn diagnostics(board: &mut Emulator) -> Diagnostics {
    board.ask(&Request::Diagnostics, |reply| match reply {
        Reply::Diagnostics(told) => told,
        other => panic!("not what it had to put up with: {other:?}"),
    })
}

fn is_data_held(board: &mut Emulator) -> bool {
    board.perform(&json!({ "op": "state" }))["data_held"] == true
}

#[test]
fn a_sensor_that_holds_the_data_line_is_clocked_free() {
    let mut board = started();
    board.turn_knob(0x2BC);
    // A byte and its acknowledgement are nine clocks: that is the most that somebody can still have to say.
    for clocks in [1, 5, 9] {
        board.perform(&json!({ "op": "bus", "held": clocks }));
        assert!(is_data_held(&mut board));
        board.run(ms(500));
        assert!(!is_data_held(&mut board), "after {clocks} clocks");
        assert_eq!(board.live().angle, Some(RawAngle::new(0x2BC)));
    }
    // It takes one go: no transfer was tried on a held line.
    assert_eq!(diagnostics(&mut board).bus_timeouts, 0);
    board.sew(50, 25.0, ms(1_000));
    assert_eq!(board.status().totals.edges.0, 50);
    assert_eq!(board.seen.resets, ["power"]);
}

#[test]
fn a_sensor_that_held_the_line_before_the_start_costs_neither_knob_nor_clock() {
    let mut board = Emulator::start();
    board.perform(&json!({ "op": "clock", "set": "2031-04-05T06:07:08" }));
    board.perform(&json!({ "op": "bus", "held": 9 }));
    board.run_until_connected();
    board.run(ms(1_000));
    assert!(board.live().angle.is_some());
    let anchors = board.events(|event| matches!(event, Event::Anchor(_)).then_some(()));
    assert_eq!(anchors.len(), 1);
    assert!(changes(&mut board, Fault::ClockSilent).is_empty());
}

#[test]
fn a_clock_chip_that_hangs_neither_stops_the_samples_nor_wakes_the_watchdog() {
    let mut board = Emulator::start();
    board.perform(&json!({ "op": "clock", "hangs": true }));
    board.run_until_connected();
    board.run(ms(500));
    board.stroke(500, 50.0);
    board.run(ms(1_000));
    // Setting it hangs as reading it does; both while the needle runs.
    let utc = UtcMillis(CLOCK_SET_TO);
    assert!(board.ask(&Request::SetClock { utc }, |reply| reply == Reply::Done));
    board.run(ms(11_000));
    assert_eq!(board.status().totals.edges.0, 500);
    assert_eq!(changes(&mut board, Fault::ClockSilent), [true]);
    // One reading at the start, the setting, and the reading after it.
    assert_eq!(diagnostics(&mut board).bus_timeouts, 3);
    assert_eq!(board.seen.resets, ["power"]);
}

#[test]
fn a_clock_chip_that_had_stood_still_is_well_again_as_soon_as_it_is_set() {
    let mut board = Emulator::start();
    board.perform(&json!({ "op": "clock", "stopped": true }));
    board.run_until_connected();
    board.run(ms(1_000));
    assert_eq!(changes(&mut board, Fault::ClockLost), [true]);
    let utc = UtcMillis(CLOCK_SET_TO + 321);
    assert!(board.ask(&Request::SetClock { utc }, |reply| reply == Reply::Done));
    // It is set at the next whole second.
    board.run(ms(1_500));
    assert_eq!(changes(&mut board, Fault::ClockLost), [true, false]);
    let of_chip = board.events(|event| match event {
        Event::Anchor(Anchor { utc, source: ClockSource::ClockChip }) => Some(utc.0),
        _ => None,
    });
    // Never the old time: it is read once, right after it was set to the next whole second.
    assert_eq!(of_chip, [CLOCK_SET_TO + 1_000]);
}

#[test]
fn the_board_tells_what_it_had_to_put_up_with() {
    let mut board = started();
    board.run(ms(500));
    let at_first = diagnostics(&mut board);
    assert_eq!((at_first.bus_timeouts, at_first.resets_since_power_on, at_first.last_panic), (0, 0, None));

    board.perform(&json!({ "op": "flash_times", "sector_erase_ns": 123_400_000_u64 }));
    let erases = |board: &mut Emulator| board.perform(&json!({ "op": "flash_ops" }))["erases"].as_u64();
    let before = erases(&mut board);
    // Sixteen slots fill a sector of the settings.
    for knob_step in 30..50 {
        let settings = Settings { knob_step, ..Settings::default() };
        assert!(board.ask(&Request::Apply(settings), |reply| reply == Reply::Done), "the settings are saved");
        board.run(ms(50));
    }
    assert!(erases(&mut board) > before);
    board.perform(&json!({ "op": "bus", "stuck": true }));
    board.run(ms(1_000));
    board.perform(&json!({ "op": "bus", "stuck": false }));

    let told = diagnostics(&mut board);
    // Up to the next millisecond, with what the driver does around it.
    assert!((124..=125).contains(&told.slowest_erase_ms), "{} ms", told.slowest_erase_ms);
    // A look every 50 to 90 ms, each of which waits 10 ms for the bus.
    assert!((10..=17).contains(&told.bus_timeouts), "{} time-outs in a second", told.bus_timeouts);
    assert_eq!((told.resets_since_power_on, told.last_panic), (0, None));
    // Of what the image leaves for the stack, less than 32 KiB was used, and more than the few hundred bytes of an interrupt.
    let room = MEMORY_BYTES - Contents::read(board_image()).memory_bytes;
    let used = room - u64::from(told.free_stack_bytes.expect("the board can tell"));
    assert!((500..32 * 1024).contains(&used), "{used} bytes of stack used");
}
