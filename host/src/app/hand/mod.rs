//! The hand: who worked, and vibration day by day.

pub mod day_table;
pub mod exposure;
pub mod people;
pub mod who;

pub use people::{People, Person, add};
