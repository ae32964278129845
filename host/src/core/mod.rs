//! What follows from the records and the maker's entries. No input, no output, no clock: "now" is an argument.
#![warn(missing_docs)]

pub mod entries;
pub mod facts;
pub mod stats;
pub mod when;
