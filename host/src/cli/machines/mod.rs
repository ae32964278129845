//! Commands of machines.

mod add;
mod lend;
mod machine;
mod rest;

pub use machine::Machine;
