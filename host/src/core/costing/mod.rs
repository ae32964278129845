//! What a machine hour costs, and what a commission costs its maker.

pub mod bill;
pub mod machine_hour;
pub mod money;

pub use bill::{Bill, BillItem, BillLine};
pub use machine_hour::{CostBasis, CostFigures, Hours, MachineCosts, MachineHourRate, RateProblem, entered};
pub use money::Money;
