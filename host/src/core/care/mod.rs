//! Care of the machine and of the cloth on its frame: the plan as data, what was done, what ran since, and what is due.

pub mod done;
pub mod dry_run;
pub mod dry_run_check;
pub mod fitted;
pub mod grounds;
pub mod history;
pub mod lamp;
pub mod plan;
pub mod points;
pub mod record;
pub mod report;
pub mod report_besides;
pub mod routine;
pub mod schedule;
pub mod tasks;
pub mod told_date;

pub use lamp::lamp_limits;
pub use plan::CareTask;
pub use report::{DueReport, Grounds, care_of, due_report, dues};
