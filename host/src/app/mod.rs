//! Use cases, and the ports through which they reach the logger, the store and the clock.

pub mod book;
pub mod care;
pub mod dates;
pub mod doctor;
pub mod fit;
pub mod hours;
pub mod live;
pub mod machine;
pub mod plot;
pub mod ports;
pub mod pull;
pub mod pull_report;
pub mod refused;
pub mod request;
pub mod rug;
pub mod tear_table;
pub mod tears;
