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
//! The logger without a chip: edges, angles and button levels in; records out, kept through every power cut.
//!
//! The board reads its senses in its own way, blocking or not, and hands the readings to [`logger::Logger`]; the link's bytes go
//! through [`link_server::LinkServer`]. Nothing here waits, allocates, panics or knows what time it is: all is computed with
//! uptime.

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
