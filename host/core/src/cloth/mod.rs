//! Tears and near-misses against what the machine did: how many, at which knob position or stroke rate, in how many strokes.
//!
//! That faster running tears more is trade belief, not established. Everything here can find no effect.

pub mod aftermath;
pub mod banded;
pub mod bands;
pub mod before;
pub mod by_name;
pub mod cost;
pub mod exposure;
pub mod exposure_sequence;
pub mod harm_lines;
pub mod harms;
pub mod hints;
pub mod looks;
pub mod notes;
pub mod report;
pub mod since;
pub mod sorted_strokes;
pub mod speed_by;
pub mod strata;
pub mod table;
pub mod traces;
pub mod verdict;

pub use harm_lines::HarmLine;
pub use harms::{HarmId, HarmRecord, harms};
pub use looks::Verdict;
pub use report::{Known, SpeedReport, all_harm_lines, cost_of_speed, speed_report};
pub use speed_by::SpeedBy;
pub use table::{TableProblem, TableReport, TableRow, table_report};
