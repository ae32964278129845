//! Machines: added, changed, lent.

pub mod change;
mod error;
pub mod lend;
pub mod machine;

pub use error::MachineError;
pub(in crate::app) use lend::lines;
pub use lend::{LoanLine, list};
