//! Every stroke counts, whatever else the logger is doing.

use serde_json::json;
use shared_types::link::{Reply, Request};
use shared_types::log::{Event, Fault, Settings};
use tests::emulator::Emulator;

use super::{assert_run, ms, segments, started, sum};

#[test]
fn three_thousand_strokes_at_fifty_a_second_are_counted_one_by_one_and_timed_to_the_millisecond() {
    let mut board = started();
    board.sew(3_000, 50.0, ms(1_000));
    let totals = board.status().totals;
    assert_eq!(totals.edges.0, 3_000);
    // From the first edge to the last there are 2,999 periods of 20 ms.
    assert_run(totals.run, 59_980, 2);
    let segments = segments(&mut board);
    assert_eq!(sum(&segments), totals, "totals are the sum of the segments");
    assert!(segments.len() >= 6, "ten seconds at most are at risk, so a minute makes at least six segments");
    assert_eq!(segments.iter().filter(|segment| !segment.continues).count(), 1, "one burst");
}

#[test]
fn a_thousand_edges_a_second_are_counted_while_flash_is_erased_and_called_implausible() {
    let mut board = started();
    let erased_before = erases(&mut board);
    board.stroke(4_000, 1_000.0);
    // Settings go through two sectors slot by slot: this many fill both and more.
    for knob_step in 30..90 {
        board.run(ms(50));
        let settings = Settings { knob_step, ..Settings::default() };
        let done = board.ask(&Request::Apply(settings), |reply| reply == Reply::Done);
        assert!(done, "the settings are saved");
    }
    assert!(erases(&mut board) >= erased_before + 2, "saving settings erased sectors while the needle ran");
    board.run(ms(2_500));
    assert_eq!(board.status().totals.edges.0, 4_000);
    assert_eq!(board.live().edges_since_start, 4_000);
    assert_ne!(board.live().faults & 1 << fault_bit(Fault::ImplausibleRate), 0);
}

#[test]
fn no_edge_is_missed_while_the_counter_wraps_flash_is_erased_and_the_cable_is_busy() {
    // More than the 65,536 at which the 16-bit counter begins anew.
    const STROKES: u32 = 70_003;
    let mut board = started();
    board.perform(
        &json!({ "op": "flash_times", "sector_erase_ns": 400_000_000_u64, "page_program_ns": 3_000_000 }),
    );
    let erased_before = erases(&mut board);
    board.stroke(STROKES, 1_000.0);
    let mut knob_step = 30;
    while board.perform(&json!({ "op": "state" }))["pulses_left"] != 0 {
        // Settings bring erases about, and the log is read as fast as the cable takes it.
        knob_step = if knob_step < 200 { knob_step + 1 } else { 30 };
        let settings = Settings { knob_step, ..Settings::default() };
        assert!(board.ask(&Request::Apply(settings), |reply| reply == Reply::Done), "the settings are saved");
        let read = board.records().len();
        assert!(read > 0);
        board.run(ms(900));
    }
    board.run(ms(2_500));
    assert!(
        erases(&mut board) >= erased_before + 2,
        "sectors were erased for 400 ms each while the needle ran"
    );
    let totals = board.status().totals;
    assert_eq!(totals.edges.0, u64::from(STROKES));
    assert_eq!(board.live().edges_since_start, STROKES);
    // From the first edge to the last there are 70,002 periods of a millisecond.
    assert_run(totals.run, 70_002, 2);
    let faults = board.events(|event| match event {
        Event::Fault(change) if change.fault == Fault::ImplausibleRate => Some(change.present),
        _ => None,
    });
    assert_eq!(faults, [true], "a rate that no machine makes is told once");
    assert_eq!(board.seen.resets, ["power"], "nothing made the watchdog wait");
}

#[test]
fn many_short_bursts_with_pauses_stay_apart_and_add_up() {
    let mut board = started();
    for strokes in [1, 2, 7, 40, 3] {
        board.sew(strokes, 25.0, ms(1_200));
    }
    let segments = segments(&mut board);
    let counted: Vec<u32> = segments.iter().map(|segment| segment.edges).collect();
    assert_eq!(counted, [1, 2, 7, 40, 3]);
    for (segment, strokes) in segments.iter().zip([1_u64, 2, 7, 40, 3]) {
        // n edges 40 ms apart span n - 1 periods.
        assert_run(segment.run, (strokes - 1) * 40, 2);
        assert!(!segment.continues);
    }
}

#[test]
fn strokes_count_while_a_computer_has_stopped_reading() {
    let mut board = started();
    board.perform(&json!({ "op": "host_reads", "on": false }));
    board.stroke(600, 30.0);
    for _ in 0..10 {
        board.send(&[0, 2, 1, 7, 0]);
        board.send_request(&Request::LoggerStatus);
        board.run(ms(2_000));
    }
    board.perform(&json!({ "op": "host_reads", "on": true }));
    board.run(ms(2_000));
    board.take_received();
    assert_eq!(board.status().totals.edges.0, 600);
    assert_eq!(board.seen.resets, ["power"], "nothing made the watchdog wait");
}

fn erases(board: &mut Emulator) -> u64 {
    board.perform(&json!({ "op": "flash_ops" }))["erases"].as_u64().unwrap()
}

/// Bit n of `faults` stands for the n-th fault.
pub fn fault_bit(fault: Fault) -> u16 {
    fault as u16
}
