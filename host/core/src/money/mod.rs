//! What a machine hour costs, and what a commission costs its maker.

pub mod bill;
pub mod machine_hour;

pub use bill::{Bill, BillItem, BillLack, BillLine};
pub use machine_hour::{CostFigures, MachineHourRate, RateProblem, entered};
