//! Machines: added, changed, lent.

pub mod change;
pub mod lend;
pub mod machine;

pub use lend::{LoanLine, list};
