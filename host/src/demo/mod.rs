//! The made-up studio: a maker at work for three months on a simulated machine that carries the real firmware.

mod chance;
mod maker;
mod notes;
mod scenario;
mod studio;
