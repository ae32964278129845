//! Prices, wages and the machine-hour rate.

mod error;
pub mod history;
pub mod price_terms;
pub mod rate;

pub use error::MoneyError;
pub(in crate::app) use history::taken_back;
pub use history::{HistoryLine, Standing, is_price};
pub(in crate::app) use price_terms::yarn_kg;
