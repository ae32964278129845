//! One pull at a time for one database. The lock is a file beside it, held by the system, so it ends with the process
//! whatever happens; the empty file stays.

use std::fs::{File, OpenOptions, TryLockError};
use std::path::Path;

use crate::app::ports::StoreError;

/// The right to pull into a database.
#[derive(Debug)]
pub struct PullLock {
    _file: File,
}

/// Takes it.
///
/// # Errors
/// `Busy` when somebody else has it.
pub fn take(database: &Path) -> Result<PullLock, StoreError> {
    let failed = |source: std::io::Error| StoreError::Failed {
        doing: "be locked for a pull",
        source: Box::new(source),
    };
    let mut name = database.file_name().unwrap_or_default().to_owned();
    name.push(".pulling");
    let file = OpenOptions::new()
        .write(true)
        .create(true)
        .truncate(false)
        .open(database.with_file_name(name))
        .map_err(failed)?;
    match file.try_lock() {
        Ok(()) => Ok(PullLock { _file: file }),
        Err(TryLockError::WouldBlock) => Err(StoreError::Busy),
        Err(TryLockError::Error(error)) => Err(failed(error)),
    }
}
