//! How the board presents itself, and a cable that is pulled out in the middle of a word.

use serde_json::json;
use shared_types::link::{LogState, Reply, Request};
use shared_types::log::{Event, Fault, FirmwareVersion};
use tests::board_image::board_image;
use tests::emulator::Emulator;

use super::faults::changes;
use super::{ms, started};

/// What the emulated flash chip answers when asked for its number.
const CHIP_NUMBER: u64 = 0xE660_5481_DB00_0001;

#[test]
fn the_greeting_names_version_build_logger_and_log() {
    let mut board = started();
    let status = board.status();
    // Of firmware/pico/Cargo.toml.
    assert_eq!(status.firmware, FirmwareVersion { major: 0, minor: 2, patch: 0 });
    assert_eq!(status.build, "pico 0.2.0");
    // Drawn from the number that the emulated chip tells and from random bits; the number alone may be that of its whole kind.
    assert!(![0, u64::MAX, CHIP_NUMBER].contains(&status.logger.0), "{:?}", status.logger);
    assert!(matches!(status.log, LogState::Ready { .. }), "{:?}", status.log);
    assert_eq!(status.record_version, 1);
}

#[test]
fn a_flash_chip_without_a_number_gets_a_drawn_one_that_stays() {
    let mut drawn = Vec::new();
    // Chips without a number, and two of a kind.
    let same = "e6605481db000001";
    for (unique_id, seed) in [("ffffffffffffffff", 1), ("0000000000000000", 2), (same, 3), (same, 4)] {
        let options = json!({ "seed": seed, "flash": { "uniqueId": unique_id } });
        let mut board = Emulator::start_with(board_image(), &options);
        board.run_until_connected();
        let id = board.status().logger;
        assert!(id.0 != 0 && id.0 != u64::MAX, "{id:?}");
        board.power_cycle();
        assert_eq!(board.status().logger, id, "it is kept");
        drawn.push(id);
    }
    assert_ne!(drawn[0], drawn[1], "other random bits draw another");
    assert_ne!(drawn[2], drawn[3], "two chips that answer the same number make two loggers");
}

#[test]
fn a_smaller_flash_chip_is_refused_before_anything_is_written() {
    // 1 MiB: the last of the three bytes of its id is 20, a power of two.
    let options = json!({ "flash": { "jedecId": "ef4014", "sizeBytes": 1 << 20 } });
    let mut board = Emulator::start_with(board_image(), &options);
    board.run(ms(3_000));
    let operations = board.perform(&json!({ "op": "flash_ops" }));
    assert_eq!((&operations["erases"], &operations["programs"]), (&json!(0), &json!(0)), "{operations}");
    // A larger one, and one that does not say, are used as far as the log goes.
    for id in ["ef4018", "000000"] {
        let options = json!({ "flash": { "jedecId": id } });
        let mut board = Emulator::start_with(board_image(), &options);
        board.run_until_connected();
        assert!(matches!(board.status().log, LogState::Ready { .. }), "{id}");
        let told = board.ask(&Request::Diagnostics, |reply| match reply {
            Reply::Diagnostics(it) => (it.flash_id, it.flash_bytes),
            other => panic!("{other:?}"),
        });
        let size = (id == "ef4018").then_some(16 << 20);
        assert_eq!(told, (Some(CHIP_NUMBER), size));
    }
}

#[test]
fn a_cable_pulled_in_the_middle_of_a_request_costs_that_request_and_nothing_else() {
    let mut board = started();
    board.stroke(400, 40.0);
    board.run(ms(2_000));
    // The first half of a frame, and then no cable.
    board.send(&[7, 1, 2]);
    board.run(ms(50));
    board.perform(&json!({ "op": "usb", "plugged": false }));
    board.run(ms(4_000));
    board.perform(&json!({ "op": "usb", "plugged": true }));
    board.run_until_connected();
    drop(board.take_received());
    assert!(board.live().edges_since_start > 200, "it answers, and counted meanwhile");
    board.run(ms(6_000));
    assert_eq!(board.status().totals.edges.0, 400, "strokes count with and without a cable");
    assert_eq!(board.seen.resets, ["power"]);
}

#[test]
fn a_cable_pulled_in_the_middle_of_a_reply_is_plugged_in_again_and_everything_is_read() {
    let mut board = started();
    for _ in 0..12 {
        board.sew(30, 40.0, ms(900));
    }
    let before = board.records();
    let LogState::Ready { log, oldest, .. } = board.status().log else { panic!("there is no log") };
    board.perform(&json!({ "op": "host_reads", "on": false }));
    board.send_request(&Request::ReadFrom { log, from: oldest });
    board.run(ms(200));
    board.perform(&json!({ "op": "usb", "plugged": false }));
    board.run(ms(2_000));
    board.perform(&json!({ "op": "host_reads", "on": true }));
    board.perform(&json!({ "op": "usb", "plugged": true }));
    board.run_until_connected();
    drop(board.take_received());
    assert_eq!(board.records(), before);
}

#[test]
fn a_board_without_a_clock_chip_says_so_once_and_makes_no_anchor() {
    let mut board = Emulator::start();
    board.perform(&json!({ "op": "clock", "present": false }));
    board.run_until_connected();
    board.run(ms(1_000));
    board.sew(60, 30.0, ms(1_500));
    assert_eq!(changes(&mut board, Fault::ClockSilent), [true]);
    assert_eq!(board.events(|event| matches!(event, Event::Anchor(_)).then_some(())).len(), 0);
    assert_eq!(board.status().totals.edges.0, 60);
}

#[test]
fn nothing_is_ever_written_into_the_knob_s_sensor() {
    let mut board = Emulator::start();
    board.run_until_connected();
    board.perform(&json!({ "op": "status", "v": 0x30 }));
    board.sew(60, 30.0, ms(1_500));
    board.plug_knob(false);
    board.run(ms(1_000));
    board.plug_knob(true);
    board.perform(&json!({ "op": "status", "v": 0x20 }));
    board.power_cycle();
    board.sew(60, 30.0, ms(1_500));
    let state = board.perform(&json!({ "op": "state" }));
    assert!(state["i2c_transactions"].as_u64().unwrap() > 200, "it was spoken to: {state}");
    assert_eq!(state["knob_writes"], 0);
}

#[test]
fn each_fault_of_the_magnet_is_recorded_when_it_comes_and_when_it_goes() {
    let mut board = started();
    board.run(ms(500));
    // STATUS by the AS5600's data sheet v1-06, page 20: 0x20 magnet there, 0x10 too weak, 0x08 too strong.
    for (status, fault) in
        [(0x00, Fault::MagnetMissing), (0x30, Fault::MagnetTooWeak), (0x28, Fault::MagnetTooStrong)]
    {
        board.perform(&json!({ "op": "status", "v": status }));
        board.run(ms(1_000));
        assert_eq!(changes(&mut board, fault), [true]);
        assert_eq!(board.live().angle, None, "an angle of a bad magnet is none");
        board.perform(&json!({ "op": "status", "v": 0x20 }));
        board.run(ms(1_000));
        assert_eq!(changes(&mut board, fault), [true, false]);
    }
}
