//! What follows from the records and the maker's entries. No input, no output, no clock: "now" is an argument.
#![warn(missing_docs)]

pub mod book;
pub mod care;
pub mod cloth;
pub mod entries;
pub mod hand;
pub mod heavy;
pub mod hours;
pub mod money;
pub mod parts;
pub mod records;
pub mod rugs;
pub mod sessions;
pub mod slowing;
pub mod stats;
pub mod studio;
#[cfg(test)]
mod test_facts;
