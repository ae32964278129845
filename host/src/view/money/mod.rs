//! Prices in words.

pub mod price_history;
pub mod price_terms;
pub mod rate;

pub use price_history::{entries, sample_sentence, sentence};
pub use price_terms::{centimetres, share};
pub use rate::money;
