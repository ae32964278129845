#![no_std]
//! The logger without a chip.

#[cfg(any(test, feature = "bench"))]
extern crate std;

#[cfg(feature = "bench")]
pub mod bench;
pub mod flash_log;
pub mod settings;
pub mod store;
