//! The logger in words.

pub mod diagnostics;
pub mod doctor;
pub mod live;
pub mod pull;
