//! Use cases, and the ports through which they reach the logger, the store and the clock.

pub mod doctor;
pub mod fit;
pub mod ports;
pub mod pull;
pub mod pull_report;
