//! Cloth: tears, near-misses and what a speed costs.

pub mod cost;
pub mod table;
pub mod tears;
