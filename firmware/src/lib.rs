#![no_std]
#![warn(missing_docs)]
#![cfg_attr(
    test,
    allow(
        clippy::unwrap_used,
        clippy::expect_used,
        clippy::indexing_slicing,
        clippy::panic,
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a test may stop at the first surprise; without tests the same lines are held to the lints"
    )
)]
//! Chip-independent logger: edges, angles and button levels in; power-fail-safe records out.
//!
//! The board samples its inputs, blocking or not, and passes them to [`logger::Logger`]; link bytes pass through
//! [`link_server::LinkServer`]. Nothing here blocks, allocates, panics or uses wall time: time is uptime.

#[cfg(any(test, feature = "sim"))]
extern crate std;

pub mod burst;
pub mod buttons;
pub mod clock;
pub mod clock_registers;
pub mod control;
pub mod dial;
pub mod encoder;
pub mod faults;
pub mod flash_log;
pub mod knob;
pub mod lamp;
pub mod link_server;
pub mod logger;
pub mod needle;
pub mod settings;
mod short_bursts;
#[cfg(feature = "sim")]
pub mod sim;
pub mod split_mix;
pub mod store;
mod store_error;
pub mod token_bucket;
pub mod trace;
mod write_queue;
