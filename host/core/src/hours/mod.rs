//! Hours: per commission, machine, day and year, how they spread, and what was counted elsewhere later.

pub mod course;
pub mod entered;
pub mod reassignments;
pub mod report;
pub mod spread;
pub mod usage;
pub mod year_days;
