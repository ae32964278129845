//! The made-up studio: a maker at work for three months on a simulated machine that carries the real firmware.

mod chance;
pub mod folder;
mod maker;
mod notes;
pub mod run;
pub mod scenario;
mod studio;
