//! Hours in words.

pub mod check;
pub mod report;
