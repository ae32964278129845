//! Commands of parts.

mod interval;
mod part;
mod trend;
mod wear;

pub use interval::Interval;
pub use part::{Part, Why};
pub use trend::Trend;
pub use wear::Wear;
