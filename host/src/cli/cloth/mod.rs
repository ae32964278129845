//! Commands of cloth and speed.

mod harm_words;
mod speed;
mod speed_cost;
mod tear;

pub use speed::Speed;
pub use tear::Tear;
