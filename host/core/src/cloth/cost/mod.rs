//! Which speed costs least in the end: the maker's time, which slow running takes more of, against torn cloth, which fast running may
//! make more of. A ceiling on the knob is proposed only once the primary question is answered with "faster tears more", and then only
//! where it saves money with a probability of at least 0.9.

pub mod posterior;
pub mod report;
pub mod running;
pub mod saving;

pub use report::{Because, CostReport, Grounds, cost_report, costs_of, proposed};
pub use saving::Costs;

/// The knob's travel is looked at in so many equal parts.
pub const PLACES: usize = 20;
