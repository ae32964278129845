//! Keeping the database safe: backups and rescue.

pub mod backup;
pub mod rescue;

pub use backup::BackupSeen;
