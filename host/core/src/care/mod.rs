//! Care of the machine and of the cloth on its frame: the plan as data, what was done, what ran since, and what is due.

pub mod done;
pub mod fitted;
pub mod forecast;
pub mod grounds;
pub mod history;
pub mod lamp;
mod local_clock;
pub mod plan;
pub mod points;
pub mod record;
pub mod report;
pub mod report_besides;
pub mod routine;
pub mod run_pieces;
pub mod schedule;
pub mod since;
pub mod stock;
pub mod task_steps;
pub mod tasks;
pub mod tension;

pub use grounds::Grounds;
pub use lamp::lamp_limits;
pub use plan::CareTask;
pub use report::{DueReport, care_of, due_report, dues};
pub use tension::ClothTension;
