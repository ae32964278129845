//! Commands that keep the database safe.

mod backup;
mod export;
mod import;
mod rescue;

pub use backup::{Backup, Restore, read_note};
pub use export::Export;
pub use import::Import;
pub use rescue::Rescue;
