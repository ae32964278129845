#![no_std]
#![warn(missing_docs)]
//! The logger without a chip: edges, angles and button levels in; records out, kept through every power cut.
//!
//! The board reads its senses in its own way, blocking or not, and hands the readings in.
//! Nothing here waits, allocates, panics or knows what time it is: all is computed with uptime.

#[cfg(any(test, feature = "bench"))]
extern crate std;

pub mod burst;
pub mod buttons;
pub mod clock;
pub mod control;
pub mod faults;
pub mod knob;
pub mod lamp;
pub mod needle;
pub mod trace;
