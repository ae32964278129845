//! Commands of prices.

mod rate;

pub use rate::Rate;
