//! Parts: fitted, worn, their care intervals and faults.

mod came_with;
mod error;
pub mod fault_trend;
pub mod fitted;
pub mod interval;
pub mod part;
pub mod wear;

pub use error::PartError;
pub use fitted::TaskDone;
pub(in crate::app) use fitted::is_near;
pub(in crate::app) use part::on_now;
pub use part::{PartChanged, PartSaid, fit};
