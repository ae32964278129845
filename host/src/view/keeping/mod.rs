//! Backups, exports and rescue in words.

pub mod backup;
pub mod hand_on;
pub mod rescue;
