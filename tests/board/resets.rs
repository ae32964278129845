//! What a firmware that hangs or panics tells its next life.
//!
//! The image has no way to be asked for either, so a trap is laid: the handler of the pins' interrupt is replaced, in the emulated
//! flash, by a few instructions in the unused part of the image's region, and a finger on a button springs it.

use std::time::Duration;

use serde_json::json;
use shared_types::LogId;
use shared_types::link::{LogState, LoggerStatus, Request};
use shared_types::log::{Event, Settings, StartReason};
use tests::board_image::{Contents, board_image};
use tests::emulator::{CLOTH_BUTTON, Emulator};

use super::bus::diagnostics;
use super::{ms, started};

/// Past the end of the image and before the settings; erased in a fresh flash.
const TRAP: u32 = 0x2_7000;
const FLASH_START: u32 = 0x1000_0000;
/// The vector table follows the second boot stage of 256 bytes; the pins' interrupt IO_IRQ_BANK0 is number 13 behind the 16 of the
/// processor (RP2040 datasheet 2.3.2).
const PINS_VECTOR: u32 = 0x100 + 4 * (16 + 13);
/// The place that the planted panic names, and FNV-1a with 32 bits over its bytes and those of the line, low byte first, computed
/// with a few lines of Python from the definition at <http://www.isthe.com/chongo/tech/comp/fnv/>.
const PLANTED_FILE: &str = "trap/spring.rs";
const PLANTED_LINE: u32 = 321;
const PLANTED_PLACE: u32 = 0x83B2_4EA9;

fn write(board: &mut Emulator, at: u32, words: &[u32]) {
    let hex: String =
        words.iter().flat_map(|word| word.to_le_bytes()).map(|byte| format!("{byte:02x}")).collect();
    board.perform(&json!({ "op": "write_flash", "at": at, "hex": hex }));
}

fn point_the_vector_at_the_trap(board: &mut Emulator) {
    // Bit 0: Thumb code.
    write(board, PINS_VECTOR, &[FLASH_START + TRAP + 1]);
}

/// A loop that never ends, with a `wfe` in it so that it is quick to emulate: `wfe; b .-2`.
fn lay_a_loop(board: &mut Emulator) {
    write(board, TRAP, &[0xE7FD_BF20]);
    point_the_vector_at_the_trap(board);
}

/// A call of `core::panicking::panic(text, location)`. Its four words go into r0 to r2, but the optimiser, which sees that nobody
/// reads the text, hands on fewer; so the location goes into all three.
fn lay_a_panic(board: &mut Emulator) {
    let contents = Contents::read(board_image());
    let is_panic = |name: &str| format!("{:#}", rustc_demangle::demangle(name)) == "core::panicking::panic";
    let panic =
        contents.symbols.iter().find(|(name, _)| is_panic(name)).expect("some dependency can panic").1;
    let (location, file) = (FLASH_START + TRAP + 0x20, FLASH_START + TRAP + 0x40);
    let code = [
        0x4610_4A02, // ldr r2, location; mov r0, r2
        0x4B02_4611, // mov r1, r2; ldr r3, panic
        0x46C0_4718, // bx r3; nop
        location,
        u32::try_from(*panic).unwrap(),
    ];
    write(board, TRAP, &code);
    let length = u32::try_from(PLANTED_FILE.len()).unwrap();
    write(board, TRAP + 0x20, &[file, length, PLANTED_LINE, 1]);
    let file_hex: String = PLANTED_FILE.bytes().map(|byte| format!("{byte:02x}")).collect();
    board.perform(&json!({ "op": "write_flash", "at": TRAP + 0x40, "hex": file_hex }));
    point_the_vector_at_the_trap(board);
}

fn spring_the_trap(board: &mut Emulator, within: Duration) {
    board.perform(&json!({ "op": "press", "pin": CLOTH_BUTTON, "ms": 1 }));
    board.run(within);
}

/// Why it started, of the last two starts.
fn reasons(board: &mut Emulator) -> [StartReason; 2] {
    let all =
        board.events(|event| if let Event::Started(started) = event { Some(started.reason) } else { None });
    *all.last_chunk().expect("two starts")
}

#[test]
fn a_firmware_that_hangs_is_reset_by_the_watchdog_and_says_so() {
    let mut board = started();
    board.sew(90, 30.0, ms(1_500));
    lay_a_loop(&mut board);
    spring_the_trap(&mut board, ms(9_000));
    assert_eq!(board.seen.resets, ["power", "watchdog"]);
    board.run_until_connected();
    assert_eq!(reasons(&mut board), [StartReason::PowerOn, StartReason::Watchdog]);
    assert_eq!(board.status().totals.edges.0, 90);
    let told = diagnostics(&mut board);
    assert_eq!((told.resets_since_power_on, told.last_panic), (1, None));
}

#[test]
fn a_panic_resets_at_once_and_names_its_place() {
    let mut board = started();
    board.sew(90, 30.0, ms(1_500));
    lay_a_panic(&mut board);
    spring_the_trap(&mut board, ms(1_000));
    assert_eq!(board.seen.resets, ["power", "forced"]);
    board.run_until_connected();
    assert_eq!(reasons(&mut board), [StartReason::PowerOn, StartReason::Panic { place: PLANTED_PLACE }]);
    assert_eq!(board.status().totals.edges.0, 90);
    let told = diagnostics(&mut board);
    assert_eq!((told.resets_since_power_on, told.last_panic), (1, Some(PLANTED_PLACE)));
    board.power_cycle();
    let told = diagnostics(&mut board);
    assert_eq!((told.resets_since_power_on, told.last_panic), (0, None), "power on begins anew");
    assert_eq!(
        reasons(&mut board).last(),
        Some(&StartReason::PowerOn),
        "a power cut clears what the panic left"
    );
}

#[test]
fn a_firmware_that_panics_again_and_again_waits_longer_and_longer_before_it_writes() {
    let mut board = started();
    lay_a_panic(&mut board);
    for _ in 0..4 {
        spring_the_trap(&mut board, ms(1));
        board.run(ms(1_000));
    }
    assert_eq!(board.seen.resets.len(), 5);
    board.run_until_connected();
    // Three quick stops are forgiven; after the fourth it waits for two seconds.
    let uptime = board.status().uptime.0;
    assert!((2_000..4_000).contains(&uptime), "{uptime} ms after the fourth reset");
}

fn log_of(status: &LoggerStatus) -> Option<LogId> {
    if let LogState::Ready { log, .. } = status.log { Some(log) } else { None }
}

/// An erase that takes longer than the watchdog is patient: the reset comes in the middle of it, and the chip, which has power, ends
/// that erase by itself.
fn make_the_next_erase_outlast_the_watchdog(board: &mut Emulator) {
    board.perform(&json!({ "op": "flash_times", "sector_erase_ns": 9_000_000_000_u64 }));
}

fn let_erases_be_quick_again(board: &mut Emulator) {
    board.perform(&json!({ "op": "flash_times", "sector_erase_ns": 45_000_000 }));
}

#[test]
fn a_reset_in_the_middle_of_an_erase_is_made_good_by_the_next_start() {
    let mut board = started();
    board.sew(90, 30.0, ms(1_500));
    let before = board.status();
    make_the_next_erase_outlast_the_watchdog(&mut board);
    let erases = |board: &mut Emulator| board.perform(&json!({ "op": "flash_ops" }))["erases"].as_u64();
    let erases_before = erases(&mut board);
    // Sixteen slots fill a sector of the settings, so one of these erases the next.
    for knob_step in 30..50 {
        board.send_request(&Request::Apply(Settings { knob_step, ..before.settings }));
        board.run(ms(100));
        if erases(&mut board) != erases_before {
            break;
        }
    }
    assert_eq!(board.seen.resets, ["power", "watchdog"], "the reset came in the erase");
    let_erases_be_quick_again(&mut board);
    board.run_until_connected();
    drop(board.take_received());
    let after = board.status();
    assert_eq!(reasons(&mut board), [StartReason::PowerOn, StartReason::Watchdog]);
    assert_eq!((after.totals, after.logger, log_of(&after)), (before.totals, before.logger, log_of(&before)));
    assert!((29..50).contains(&after.settings.knob_step), "settings that were told: {:?}", after.settings);
    assert_eq!(after.settings.limits, before.settings.limits);
    board.sew(60, 30.0, ms(1_500));
    assert_eq!(board.status().totals.edges.0, 150);
}

#[test]
fn a_reset_in_the_erase_with_which_the_first_log_begins_is_made_good_by_the_next_start() {
    let mut board = Emulator::start();
    make_the_next_erase_outlast_the_watchdog(&mut board);
    // The first start erases a sector for its settings, and one for the log's first mark; each ends in a reset.
    board.run(ms(9_500));
    let (first, others) = board.seen.resets.split_first().unwrap();
    assert_eq!(first, "power");
    assert!(others.len() >= 2 && others.iter().all(|cause| cause == "watchdog"), "{others:?}");
    let_erases_be_quick_again(&mut board);
    board.run_until_connected();
    board.sew(50, 25.0, ms(1_500));
    assert_eq!(board.status().totals.edges.0, 50);
    assert!(matches!(board.status().log, LogState::Ready { .. }));
}
