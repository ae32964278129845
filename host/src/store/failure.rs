//! What SQLite says, in the words of the port.

use rusqlite::ErrorCode;
use rusqlite::ffi::SQLITE_IOERR_SHMSIZE;

use crate::app::ports::StoreError;

/// Turns what SQLite said into what the maker can do something about; for `map_err`.
pub fn failed(doing: &'static str) -> impl Fn(rusqlite::Error) -> StoreError {
    move |source| match source.sqlite_error_code() {
        Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) => StoreError::Busy,
        Some(ErrorCode::DiskFull) => StoreError::DiskFull,
        // The file through which runs share what they know of the journal cannot grow: there is no room for it.
        _ if source.sqlite_error().is_some_and(|error| error.extended_code == SQLITE_IOERR_SHMSIZE) => {
            StoreError::DiskFull
        }
        _ => StoreError::Failed { doing, source: Box::new(source) },
    }
}
