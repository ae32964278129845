//! Prices, wages and the machine-hour rate.

pub mod history;
pub mod rate;

pub(in crate::app) use history::taken_back;
pub use history::{HistoryLine, Standing, is_price};
pub use rate::RateError;
