//! The made-up studio: a maker at work for three months on a simulated machine that carries the real firmware.

pub mod folder;
mod maker;
mod notes;
mod random_stream;
pub mod run;
pub mod scenario;
mod studio;
pub mod without_board;
