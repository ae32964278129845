//! Machines in words.

pub mod lend;
pub mod machine;

pub use lend::{best_reading, reading};
pub(in crate::view) use machine::pile;
