//! Care of the machine and of the cloth on its frame: the plan as data, what was done, what ran since, and what is due.

pub mod done;
pub mod history;
pub mod lamp;
pub mod plan;
pub mod report;
pub mod schedule;

pub use lamp::lamp_limits;
pub use plan::CareTask;
pub use report::{DueReport, Grounds, due_report, dues};
