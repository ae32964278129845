//! The logger: pulling its records, what of it is believed, live values, its fittings.

pub mod diagnostics;
pub mod doctor;
mod error;
pub mod fit;
pub mod greeting;
pub mod live;
pub mod pull;
mod pull_reading;
pub mod pull_report;
pub mod refit;

pub use error::FittingError;
pub use fit::loggers_on;
pub use live::KnobEnds;
pub use pull::PullWish;
pub use pull_report::PullReport;
pub use refit::{LateFitting, late_fittings};
