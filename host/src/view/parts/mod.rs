//! Parts in words.

pub mod fault_trend;
pub mod interval;
pub mod part;
pub mod wear;

pub use wear::fate;
