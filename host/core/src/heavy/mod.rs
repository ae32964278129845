//! Heavy use: whether the machine was worked too hard. Every finding carries its evidence, its limit, where the limit
//! comes from, and what to do. Nothing here measures heat; run time, stroke rate and the knob are all that is known.

pub mod chains;
pub mod days;
pub mod duty;
pub mod findings;
pub mod limits;
pub mod report;
pub mod speed;

pub use limits::Limits;
pub use report::{HeavyReport, heavy_report};
