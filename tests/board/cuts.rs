//! The plug is pulled.

use serde_json::json;
use shared_types::RecordSeq;
use shared_types::link::LogState;
use shared_types::log::{Event, StartReason, Started};
use tests::emulator::{CLOTH_BUTTON, Cut, Emulator};

use super::{ms, segments, started, sum};

/// Records follow each other, with one number missing at most for each write that a cut has torn, and the totals are those of
/// all segments.
fn assert_whole(board: &mut Emulator, torn_writes: u32) {
    let numbers: Vec<RecordSeq> = board.records().into_iter().map(|(number, _)| number).collect();
    assert!(numbers.is_sorted_by(|before, after| before < after), "{numbers:?}");
    let (first, last) = (numbers.first().unwrap().0, numbers.last().unwrap().0);
    let missing = last - first + 1 - u32::try_from(numbers.len()).unwrap();
    assert!(missing <= torn_writes, "{missing} missing after {torn_writes} torn writes: {numbers:?}");
    assert_eq!(sum(&segments(board)), board.status().totals);
}

fn starts(board: &mut Emulator) -> Vec<Started> {
    board.events(|event| if let Event::Started(started) = event { Some(started) } else { None })
}

#[test]
fn a_cut_while_idle_costs_nothing() {
    let mut board = started();
    board.sew(300, 30.0, ms(2_000));
    let before = board.status();
    board.power_cycle();
    let after = board.status();
    assert_eq!(after.totals, before.totals);
    assert_eq!(after.totals.edges.0, 300);
    assert_eq!((after.logger, after.boot.0), (before.logger, before.boot.0 + 1));
    let starts = starts(&mut board);
    let last = starts.last().unwrap();
    assert_eq!(starts.len(), after.boot.0 as usize, "every start is on record");
    assert_eq!((last.reason, last.totals), (StartReason::PowerOn, before.totals));
    assert_whole(&mut board, 0);
}

#[test]
fn starts_that_are_over_at_once_write_nothing() {
    let mut board = started();
    let before = board.status();
    board.run(ms(500));
    let operations = |board: &mut Emulator| {
        let counts = board.perform(&json!({ "op": "flash_ops" }));
        (counts["erases"].clone(), counts["programs"].clone())
    };
    let written = operations(&mut board);
    for _ in 0..12 {
        board.perform(&json!({ "op": "reboot" }));
        board.run(ms(400));
    }
    assert_eq!(operations(&mut board), written, "at two starts a second a working day would fill the log");
    // One that stays is on record after two seconds, and the number after the last that was told is its own.
    board.power_cycle();
    board.run(ms(2_500));
    assert_ne!(operations(&mut board), written);
    let after = board.status();
    assert_eq!((after.boot.0, after.totals), (before.boot.0 + 1, before.totals));
    assert_eq!(starts(&mut board).len(), after.boot.0 as usize, "every start that was told is on record");
}

#[test]
fn a_cut_in_the_middle_of_a_burst_costs_ten_running_seconds_at_most() {
    let mut board = started();
    let (mut kept, mut given) = (0, 0);
    for seconds in [9, 27] {
        board.stroke(2_000, 40.0);
        board.plan_cut(Cut::After(ms(seconds * 1_000)));
        board.run(ms(seconds * 1_000 + 10));
        assert_eq!(board.seen.cuts.pop().as_deref(), Some("at a moment"));
        let given_now = board.perform(&json!({ "op": "state" }))["pulses_given"].as_u64().unwrap();
        board.perform(&json!({ "op": "stop_pulses" }));
        board.power_cycle();
        let kept_now = board.status().totals.edges.0;
        let (of_burst, kept_of_burst) = (given_now - given, kept_now - kept);
        assert!(of_burst >= seconds * 39, "the cut came in the middle of {of_burst} strokes");
        // Ten running seconds at 40 strokes a second.
        assert!(
            kept_of_burst <= of_burst && kept_of_burst + 400 >= of_burst,
            "{kept_of_burst} of {of_burst}"
        );
        assert_whole(&mut board, 0);
        (kept, given) = (kept_now, given_now);
    }
}

#[test]
fn a_cut_in_any_flash_operation_of_a_working_minute_keeps_what_was_told() {
    let mut board = started();
    let mut told = board.status().totals;
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
        torn += board.seen.cuts.drain(..).filter(|cut| cut.starts_with("in a")).map(|_| 1).sum::<u32>();
        board.perform(&json!({ "op": "stop_pulses" }));
        board.power_cycle();
        let totals = board.status().totals;
        assert!(totals.edges >= told.edges && totals.run >= told.run, "{totals:?} after {told:?}");
        assert_whole(&mut board, torn);
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
        wait_for_the_log(&mut board);
        assert_eq!(board.status().totals.edges.0, 50, "operation {operation}");
        assert_whole(&mut board, 1);
    }
}

/// A log whose making was cut is made to its end in the needle's pauses; what happens until then is held in memory.
fn wait_for_the_log(board: &mut Emulator) {
    for _ in 0..200 {
        if matches!(board.status().log, LogState::Ready { .. }) {
            return;
        }
        board.run(ms(1_000));
    }
    panic!("the log is not made after 200 s of rest");
}
