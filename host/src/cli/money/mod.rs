//! Commands of prices.

mod price;
mod rate;

pub use rate::Rate;
