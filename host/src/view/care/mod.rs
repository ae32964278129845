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

pub use due::{cloth_wants, ran_since, so_far, standing, when};
pub use limits::limits;
pub use stock::line;
