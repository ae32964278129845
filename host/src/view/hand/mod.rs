//! The hand in words.

pub mod exposure;
pub mod hours_by_person;
pub mod people;
