//! What SQLite says, in the words of the port.

use rusqlite::ErrorCode;

use crate::app::ports::StoreError;

/// Turns what SQLite said into what the maker can do something about; for `map_err`.
pub fn failed(doing: &'static str) -> impl Fn(rusqlite::Error) -> StoreError {
    move |source| match source.sqlite_error_code() {
        Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) => StoreError::Busy,
        Some(ErrorCode::DiskFull) => StoreError::DiskFull,
        _ => StoreError::Failed { doing, source: Box::new(source) },
    }
}
