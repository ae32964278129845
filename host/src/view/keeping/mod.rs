//! Backups and rescue in words.

pub mod backup;
pub mod rescue;
