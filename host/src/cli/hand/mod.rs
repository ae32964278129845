//! Commands of the hand.

mod exposure;
mod person;

pub use exposure::Exposure;
pub use person::Person;
