//! The contract between the logger on the machine and the program on the maker's computer.
//!
//! Both ends use these types and nothing else of each other. What a byte means is written in `FORMAT.md`;
//! the golden files under `tests/golden` hold the encodings to it.
#![no_std]
#![warn(missing_docs)]

pub mod limits;
pub mod link;
pub mod log;
pub mod units;

pub use units::{
    BootId, Edges, LogId, LoggerId, MachineTag, RawAngle, RecordSeq, RunMillis, Totals, UptimeMillis,
    UtcMillis,
};
