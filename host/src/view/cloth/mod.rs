//! Cloth and speed in words.

pub mod speed;
mod speed_band;
pub mod speed_cost;
pub mod speed_explain;
mod speed_hints;
mod speed_more;
pub mod speed_table;
pub mod tears;

pub use speed_band::by_rug;
pub use speed_cost::in_short;
pub(in crate::view) use tears::answered;
