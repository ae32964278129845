//! Sessions that the maker types in: noted one by one or from a table, timed, corrected.

pub mod error;
pub mod note;
pub mod share;
pub mod table;
pub mod timer;

pub use error::SessionError;
pub use note::SessionSaid;
pub use timer::{TimerReport, running, stop};
