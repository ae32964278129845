//! Cloth: tears, near-misses and what a speed costs.

pub mod cost;
mod error;
pub mod table;
pub mod tears;

pub use error::ClothError;
pub use tears::{TearSaid, answer};
