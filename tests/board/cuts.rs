//! The plug is pulled.

use serde_json::json;
use shared_types::RecordSeq;
use shared_types::log::{Event, StartReason, Started};
use tests::emulator::{CLOTH_BUTTON, Cut, Emulator};

use super::{ms, segments, started, sum};

/// Records follow each other without a gap, and the totals are those of all segments.
fn assert_whole(board: &mut Emulator) {
    let numbers: Vec<RecordSeq> = board.records().into_iter().map(|(number, _)| number).collect();
    assert!(numbers.windows(2).all(|pair| pair[1].0 == pair[0].0 + 1), "{numbers:?}");
    assert_eq!(sum(&segments(board)), board.hello().totals);
}

fn starts(board: &mut Emulator) -> Vec<Started> {
    board.events(|event| if let Event::Started(started) = event { Some(started) } else { None })
}

#[test]
fn a_cut_while_idle_costs_nothing() {
    let mut board = started();
    board.sew(300, 30.0, ms(2_000));
    let before = board.hello();
    board.power_cycle();
    let after = board.hello();
    assert_eq!(after.totals, before.totals);
    assert_eq!(after.totals.edges.0, 300);
    assert_eq!((after.logger, after.boot.0), (before.logger, before.boot.0 + 1));
    let starts = starts(&mut board);
    assert_eq!(starts.len(), 2);
    assert_eq!((starts[1].reason, starts[1].totals), (StartReason::PowerOn, before.totals));
    assert_whole(&mut board);
}

#[test]
fn a_cut_in_the_middle_of_a_burst_costs_ten_running_seconds_at_most() {
    let mut board = started();
    board.stroke(2_000, 40.0);
    for seconds in [9, 27] {
        board.plan_cut(Cut::After(ms(seconds * 1_000)));
        board.run(ms(seconds * 1_000 + 10));
        let before = board.perform(&json!({ "op": "state" }))["pulses_given"].as_u64().unwrap();
        assert_eq!(board.seen.cuts.pop().as_deref(), Some("at a moment"));
        board.perform(&json!({ "op": "stop_pulses" }));
        board.power_cycle();
        let totals = board.hello().totals;
        assert!(totals.edges.0 <= before, "{} of {before} edges", totals.edges.0);
        // Ten running seconds at 40 a second.
        assert!(totals.edges.0 + 400 >= before, "{} of {before} edges", totals.edges.0);
        assert_whole(&mut board);
        board.stroke(2_000, 40.0);
    }
}

#[test]
fn a_cut_in_any_flash_operation_of_a_working_minute_keeps_what_was_told() {
    let mut board = started();
    let mut told = board.hello().totals;
    let mut torn = 0;
    for (operation, share) in
        [(1, 0.1), (1, 0.6), (1, 0.95), (2, 0.5), (3, 0.3), (4, 0.7), (5, 0.5), (6, 0.4)]
    {
        board.plan_cut(Cut::FlashOperation(operation, share));
        for _ in 0..3 {
            board.sew(60, 30.0, ms(1_500));
            if !board.seen.cuts.is_empty() {
                break;
            }
            board.press(CLOTH_BUTTON, ms(100));
        }
        torn += board.seen.cuts.drain(..).filter(|cut| cut.starts_with("in a")).count();
        board.perform(&json!({ "op": "stop_pulses" }));
        board.power_cycle();
        let totals = board.hello().totals;
        assert!(totals.edges >= told.edges && totals.run >= told.run, "{totals:?} after {told:?}");
        assert_whole(&mut board);
        told = totals;
    }
    assert!(torn >= 6, "only {torn} cuts came in the middle of a flash operation");
}

#[test]
fn a_cut_while_the_first_log_is_made_leaves_a_logger_that_starts() {
    for operation in [1, 2, 4, 8] {
        let mut board = Emulator::start();
        board.plan_cut(Cut::FlashOperation(operation, 0.5));
        board.run(ms(2_000));
        assert_eq!(board.seen.cuts.len(), 1, "operation {operation}");
        board.power_cycle();
        board.sew(50, 25.0, ms(1_000));
        assert_eq!(board.hello().totals.edges.0, 50, "operation {operation}");
        assert_whole(&mut board);
    }
}
