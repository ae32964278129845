//! Commissions: ordered, described, worked on, quoted, and their sheets.

pub mod commission;
pub mod history;
pub mod job;
pub mod quote;
pub mod rug;
pub mod sheet;

pub use rug::{Choice, sessions};
