//! Care: what is due, what was done, limits, spares and the calendar.

pub mod calendar;
pub mod done;
mod error;
pub mod limits;
pub mod notify;
pub mod part_care;
pub mod part_offer;
pub mod plan;
pub mod press;
pub mod record;
pub mod snooze;
pub mod stock;
mod tension;

pub use error::CareError;
pub use limits::due;
pub use tension::{ClothWatched, cloth_tension};
