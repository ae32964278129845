//! The hand: who worked, and vibration day by day.

pub mod day_table;
mod error;
pub mod exposure;
pub mod hours_by_person;
pub mod people;
pub mod who;

pub use error::HandError;
pub use people::{People, Person, add};
