//! Commissions: ordered, described, worked on, quoted, and their sheets.

pub mod commission;
mod error;
pub mod goes_with;
pub mod history;
pub mod job;
pub mod price;
pub mod quiet;
pub mod quote;
pub mod rename;
pub mod rug;
pub mod sheet;
pub mod timer_name;

pub use error::RugError;
pub use rug::{Assigned, Choice, NewRug, PartsMeant, change_work, order, sessions, settle};
pub use sheet::on_the_frame;
