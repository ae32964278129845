//! The very image that is flashed, run in the emulator: counting, strays, the bus, inputs, a dial, presses, power cuts, faults, resets and the host's pull.
//!
//! What is expected comes from what the test did to needle, knob, buttons and clock, never from the firmware.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a test may stop at the first surprise"
)]

mod autoread;
mod bus;
mod counting;
mod cuts;
mod dial;
mod faults;
mod full;
mod greeting;
mod image;
mod inputs;
mod lamp_page;
mod pull;
mod resets;
mod strays;
mod torture;
mod upgrade;
mod wiring_page;

use std::time::Duration;

use shared_types::log::{Event, Segment};
use shared_types::{Edges, RunMillis, Totals};
use tests::emulator::Emulator;

/// A board that has started for the second time and whose port is open.
fn started() -> Emulator {
    let mut board = Emulator::start_again();
    board.run_until_connected();
    board
}

fn ms(milliseconds: u64) -> Duration {
    Duration::from_millis(milliseconds)
}

fn segments(board: &mut Emulator) -> Vec<Segment> {
    board.events(|event| if let Event::Segment(segment) = event { Some(segment) } else { None })
}

/// What the segments on record hold together.
fn sum(segments: &[Segment]) -> Totals {
    segments.iter().fold(Totals::default(), |sum, segment| {
        sum.plus(RunMillis(segment.run.0), Edges(u64::from(segment.edges)))
    })
}

/// Both run times agree within `tolerance_ms`.
fn assert_run(found: RunMillis, expected_ms: u64, tolerance_ms: u64) {
    assert!(found.0.abs_diff(expected_ms) <= tolerance_ms, "{} ms, expected {expected_ms} ms", found.0);
}
