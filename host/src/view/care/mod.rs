//! Care in words.

pub mod calendar;
pub mod done;
pub mod due;
pub mod due_task;
pub mod forecast;
pub mod limits;
pub mod notice;
pub mod record;
pub mod stock;

pub(in crate::view) use due::{so_far, when};
pub(in crate::view) use limits::limits;
pub use stock::line;
