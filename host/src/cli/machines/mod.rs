//! Commands of machines.

mod lend;
mod machine;

pub use machine::Machine;
