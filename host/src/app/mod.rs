//! Use cases, and the ports through which they reach the logger, the store and the clock.

pub mod book;
pub mod care;
pub mod column_table;
pub mod dates;
pub mod day_table;
pub mod doctor;
pub mod exposure;
pub mod fault_trend;
pub mod fit;
pub mod heavy;
pub mod hours;
pub mod interval;
pub mod live;
pub mod machine;
pub mod plot;
pub mod ports;
pub mod pull;
pub mod pull_report;
pub mod quote;
pub mod rate;
pub mod request;
pub mod rug;
pub mod tear_table;
pub mod tears;
pub mod typed;
pub mod wear;
