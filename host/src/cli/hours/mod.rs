//! Commands of hours.

mod plot;
mod report;

pub use plot::Plot;
pub use report::Hours;
