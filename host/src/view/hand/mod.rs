//! The hand in words.

pub mod exposure;
pub mod people;
