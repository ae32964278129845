//! Keeping the database safe: backups, rescue, and handing everything on.

pub mod backup;
mod error;
pub mod export;
pub mod rescue;
pub mod whole;

pub use backup::BackupSeen;
pub use error::{ExportError, ImportError};
