//! Hours, plots of them, and running that is asked about.

pub mod check;
mod error;
pub mod plot;
pub mod report;
pub mod rug_times;
pub mod year_marks;

pub use check::left_open;
pub use error::HoursError;
