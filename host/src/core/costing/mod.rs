//! What a machine hour costs.

pub mod machine_hour;
pub mod money;

pub use machine_hour::{CostBasis, MachineCosts, MachineHourRate, RateProblem};
pub use money::Money;
