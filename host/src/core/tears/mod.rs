//! Tears and near-misses against what the machine did: how many, at which knob position or stroke rate, in how many strokes.
//!
//! That faster running tears more is trade belief, not established. Everything here can find no effect.

pub mod bands;
pub mod before;
pub mod course;
pub mod exposure;
pub mod harms;
pub mod looks;
pub mod report;
pub mod strata;
pub mod table;
pub mod verdict;

pub use harms::{HarmId, HarmRecord, harms};
pub use report::{SpeedBy, SpeedReport, speed_report};
pub use table::{TableProblem, TableReport, TableRow, table_report};
