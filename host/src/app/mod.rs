//! Use cases, and the ports through which they reach the logger, the store and the clock.

pub mod care;
pub mod ports;
pub mod request;
pub mod tear_table;
pub mod tears;
