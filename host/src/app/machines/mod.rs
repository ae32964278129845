//! Machines: added, changed, removed, out of use, lent.

pub mod change;
mod error;
pub mod lend;
pub mod machine;
pub mod remove;
pub mod rest;

pub use error::MachineError;
pub(in crate::app) use lend::lines;
pub use lend::{LoanLine, list};
pub use machine::{NewMachine, add};
