//! Commands that keep the database safe.

mod backup;
mod rescue;

pub use backup::{Backup, Restore, read_note};
pub use rescue::Rescue;
