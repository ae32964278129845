//! Reset reason and panic location, kept over a reset in the watchdog's scratch registers, which only a power cut clears.

use core::panic::PanicInfo;

use embassy_rp::pac;
use shared_types::log::StartReason;

use super::chip;

/// Marks scratch register 0 as written by the panic handler of this firmware ("NHPA").
const PANICKED: u32 = 0x4E48_5041;
/// Scratch register 3: starts after a stop since power came on, and in its highest bit whether one of them was a panic, whose
/// place then stands in scratch register 1.
const HAS_PANICKED: u32 = 1 << 31;
/// Resets in a row before the next start waits; a firmware that stops at once, again and again, would fill the log with
/// starts and push the oldest hours out of it.
const QUICK_RESETS: u32 = 3;
/// The longest such wait, in seconds.
const LONGEST_WAIT_S: u32 = 64;

/// Reads and clears the reset reason. Call once.
pub fn start_reason() -> StartReason {
    let watchdog = pac::WATCHDOG;
    let panicked = watchdog.scratch0().read() == PANICKED;
    let place = watchdog.scratch1().read();
    watchdog.scratch0().write_value(0);
    let reason = watchdog.reason().read();
    let reason = match (panicked, reason.force(), reason.timer()) {
        (true, true, _) | (true, _, true) => StartReason::Panic { place },
        (false, false, true) => StartReason::Watchdog,
        (false, true, _) => StartReason::Requested,
        (_, false, false) => StartReason::PowerOn,
    };
    let resets = match reason {
        StartReason::Panic { .. } | StartReason::Watchdog => watchdog.scratch2().read().saturating_add(1),
        StartReason::PowerOn | StartReason::Requested => 0,
    };
    watchdog.scratch2().write_value(resets);
    let history = watchdog.scratch3().read();
    watchdog.scratch3().write_value(match reason {
        StartReason::Panic { .. } => (history | HAS_PANICKED).saturating_add(1),
        StartReason::Watchdog => history.saturating_add(1),
        StartReason::Requested => history,
        StartReason::PowerOn => 0,
    });
    reason
}

/// What has happened since power came on.
pub struct History {
    /// Starts by the watchdog or after a panic.
    pub resets: u32,
    /// The place of the last panic.
    pub last_panic: Option<u32>,
}

/// Since power came on; to be called after [`start_reason`].
pub fn history() -> History {
    let history = pac::WATCHDOG.scratch3().read();
    let has_panicked = history & HAS_PANICKED != 0;
    History {
        resets: history & !HAS_PANICKED,
        last_panic: has_panicked.then(|| pac::WATCHDOG.scratch1().read()),
    }
}

/// How long to wait before anything is written, in seconds: zero unless the firmware keeps stopping.
pub fn wait_before_start_s() -> u32 {
    let resets = pac::WATCHDOG.scratch2().read();
    if resets <= QUICK_RESETS {
        0
    } else {
        1_u32.checked_shl(resets - QUICK_RESETS).unwrap_or(LONGEST_WAIT_S).min(LONGEST_WAIT_S)
    }
}

/// The firmware has run well for a while: the next stop counts as the first again.
pub fn forget_resets() {
    pac::WATCHDOG.scratch2().write_value(0);
}

/// Names a place in the source: FNV-1a, 32 bits, over the file's name and the line number's four bytes, low byte first.
fn place_of(file: &str, line: u32) -> u32 {
    let line = line.to_le_bytes();
    file.as_bytes()
        .iter()
        .chain(&line)
        .fold(0x811C_9DC5, |hash: u32, &byte| (hash ^ u32::from(byte)).wrapping_mul(0x0100_0193))
}

/// Leaves the place in scratch registers and resets everything but the oscillators at once. A logger that stops counting is
/// of no use, and nobody is there to read a message.
#[panic_handler]
fn on_panic(info: &PanicInfo) -> ! {
    cortex_m::interrupt::disable();
    let place = info.location().map_or(0, |location| place_of(location.file(), location.line()));
    let watchdog = pac::WATCHDOG;
    watchdog.scratch0().write_value(PANICKED);
    watchdog.scratch1().write_value(place);
    reset()
}

fn reset() -> ! {
    pac::PSM.wdsel().write_value(chip::all_but_oscillators());
    pac::WATCHDOG.ctrl().modify(|control| control.set_trigger(true));
    loop {
        cortex_m::asm::nop();
    }
}
