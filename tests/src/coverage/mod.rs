//! How often ranges for rugs hold, tried on made-up makers whose truth is known.

pub mod progress;
pub mod quote;
