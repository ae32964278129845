//! Pulses that are no strokes: on one pin, beside strokes, in storms. Rest never becomes running, and no stroke is lost to them.

use std::time::Duration;

use serde_json::json;
use shared_types::link::{Reply, Request};
use shared_types::log::{Fault, Settings};
use tests::emulator::Emulator;

use super::bus::diagnostics;
use super::faults::changes;
use super::{assert_run, ms, started};

/// Shorter than any stroke's: at a thousand strokes a second and a magnet that is there for a twentieth of the turn it is 50 us.
const GLITCH: Duration = Duration::from_micros(2);

/// The line of one pin low for a moment.
fn glitch(board: &mut Emulator, pin: u8) {
    board.perform(&json!({ "op": "level", "pin": pin, "high": false }));
    board.run(GLITCH);
    board.perform(&json!({ "op": "level", "pin": pin, "high": true }));
}

/// Ten minutes of rest with stray pulses on one pin, before, during and after; then three strokes.
fn rest_with_strays_on(pin: u8) -> Emulator {
    let mut board = started();
    glitch(&mut board, pin);
    board.run(ms(700));
    board.sew(3, 20.0, ms(3));
    glitch(&mut board, pin);
    // 40 pulses in 604 s; the odd times meet the samples at every phase.
    for stray in 0..40 {
        board.run(ms(15_000 + 37 * stray % 211));
        glitch(&mut board, pin);
    }
    board.run(ms(49));
    board.stroke(3, 20.0);
    board.run(ms(70));
    glitch(&mut board, pin);
    board.run(ms(2_000));
    glitch(&mut board, pin);
    board.run(ms(2_000));
    board
}

#[test]
fn ten_minutes_of_rest_with_stray_pulses_on_the_needle_s_pin_add_nothing_to_the_run_time() {
    let mut board = rest_with_strays_on(15);
    let totals = board.status().totals;
    assert_eq!(totals.edges.0, 6);
    // Twice two periods of 50 ms; not more than one sample period beside it.
    assert_run(totals.run, 200, 2);
    assert_eq!(changes(&mut board, Fault::CountsAlone).first(), Some(&true), "they are told");
    assert_eq!(diagnostics(&mut board).counts_alone, 44);
    assert!(changes(&mut board, Fault::StampsAlone).is_empty());
}

#[test]
fn stray_pulses_on_the_pin_that_older_boards_joined_to_it_are_nothing() {
    let mut board = rest_with_strays_on(14);
    let totals = board.status().totals;
    assert_eq!(totals.edges.0, 6);
    assert_run(totals.run, 200, 2);
    let told = diagnostics(&mut board);
    assert_eq!((told.counts_alone, told.stamps_alone), (0, 0));
}

#[test]
fn the_wire_of_older_boards_does_not_pull_the_needle_s_line_down() {
    let mut board = started();
    assert_eq!(board.perform(&json!({ "op": "state" }))["needle_pulls"], json!(["up", "none"]));
}

#[test]
fn glitches_beside_strokes_change_no_count_and_no_moment() {
    let mut board = started();
    board.stroke(400, 20.0);
    // 700 pulses in 18.8 s, of 2 us each; those in front of which the magnet stands already are not seen.
    let (count, hz) = (700, 37.3);
    board.perform(&json!({ "op": "pulses", "n": count, "hz": hz, "duty": GLITCH.as_secs_f64() * hz }));
    board.run(ms(22_000));
    let totals = board.status().totals;
    assert_eq!(totals.edges.0, 400);
    // 399 periods of 50 ms.
    assert_run(totals.run, 19_950, 2);
    let told = diagnostics(&mut board).counts_alone;
    // The line is low for three tenths of the time: some 490 of 700 are seen.
    assert!((460..=520).contains(&told), "{told} glitches told");
    assert_eq!(changes(&mut board, Fault::ImplausibleRate), [] as [bool; 0]);
}

#[test]
fn a_last_edge_at_any_moment_of_a_sample_is_counted_and_dated() {
    let mut board = started();
    // Sixty bursts of three strokes, each a millisecond later against samples of 50 ms.
    for later in 0..60 {
        board.sew(3, 20.0, ms(1_000 + later));
    }
    board.run(ms(2_000));
    let totals = board.status().totals;
    assert_eq!(totals.edges.0, 180);
    // Two periods of 50 ms each; a burst's two moments are rounded to milliseconds.
    assert_run(totals.run, 6_000, 60);
    let told = diagnostics(&mut board);
    assert_eq!((told.counts_alone, told.stamps_alone), (0, 0));
}

#[test]
fn more_edges_in_one_erase_than_there_is_room_to_stamp_are_counted_all_the_same() {
    let mut board = started();
    board.perform(&json!({ "op": "flash_times", "sector_erase_ns": 400_000_000_u64 }));
    // 2,000 edges in each erase, and room for 1,024.
    board.stroke(25_000, 5_000.0);
    let erases = |board: &mut Emulator| board.perform(&json!({ "op": "flash_ops" }))["erases"].as_u64();
    let before = erases(&mut board);
    for knob_step in 30..70 {
        let settings = Settings { knob_step, ..Settings::default() };
        assert!(board.ask(&Request::Apply(settings), |reply| reply == Reply::Done), "the settings are saved");
        board.run(ms(50));
    }
    assert!(erases(&mut board) > before, "saving settings erased a sector while the needle ran");
    board.run(ms(6_000));
    let totals = board.status().totals;
    assert_eq!(totals.edges.0, 25_000);
    // 24,999 periods of 200 us.
    assert_run(totals.run, 5_000, 3);
}

/// Three seconds of pulses, each low for three tenths of its period, and a hundred strokes afterwards.
fn storm_of(hz: u32) -> Emulator {
    let mut board = started();
    board.run(ms(500));
    board.sew(3 * hz, f64::from(hz), ms(1_500));
    board.sew(100, 25.0, ms(1_500));
    assert_eq!(board.seen.resets, ["power"], "nothing made the watchdog wait");
    board
}

/// How often each of the two faults was told.
fn told(board: &mut Emulator) -> [usize; 2] {
    [Fault::ImplausibleRate, Fault::CountsAlone]
        .map(|fault| changes(board, fault).iter().filter(|present| **present).count())
}

#[test]
fn a_storm_of_pulses_too_short_for_a_stroke_counts_nothing_and_is_told_once() {
    // Low for 15, 3 and 1.2 us.
    for hz in [20_000, 100_000, 250_000] {
        let mut board = storm_of(hz);
        let totals = board.status().totals;
        assert_eq!(totals.edges.0, 100, "{hz} Hz");
        // 99 periods of 40 ms.
        assert_run(totals.run, 3_960, 2);
        assert_eq!(told(&mut board), [0, 1], "{hz} Hz");
    }
}

#[test]
fn a_storm_of_pulses_that_could_be_strokes_is_counted_and_called_implausible_once() {
    let mut board = storm_of(5_000);
    let totals = board.status().totals;
    assert_eq!(totals.edges.0, 15_100);
    // 14,999 periods of 200 us and 99 of 40 ms.
    assert_run(totals.run, 3_000 + 3_960, 4);
    assert_eq!(told(&mut board), [1, 0]);
}
