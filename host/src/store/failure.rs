//! What SQLite says, and what does not read as it was written, in the words of the port.

use rusqlite::ErrorCode;
use rusqlite::ffi::SQLITE_IOERR_SHMSIZE;

use crate::app::ports::StoreError;

/// What can go wrong inside the store.
#[derive(Debug)]
pub enum Fault {
    /// SQLite said so.
    Sqlite(rusqlite::Error),
    /// Something does not read as it was written.
    Damaged(Damage),
}

/// What does not read as it was written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Damage {
    /// What, in the maker's words.
    pub what: &'static str,
    /// Whether it can be made anew from the loggers' records.
    pub is_derived: bool,
}

impl From<rusqlite::Error> for Fault {
    fn from(error: rusqlite::Error) -> Self {
        Self::Sqlite(error)
    }
}

/// Turns what went wrong into what the maker can do something about; for `map_err`.
pub fn failed<E: Into<Fault>>(doing: &'static str) -> impl Fn(E) -> StoreError {
    move |error| {
        let source = match error.into() {
            Fault::Damaged(Damage { what, is_derived: true }) => return StoreError::SumsDamaged { what },
            Fault::Damaged(Damage { what, .. }) => return StoreError::Damaged { what, source: None },
            Fault::Sqlite(source) => source,
        };
        match source.sqlite_error_code() {
            Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) => StoreError::Busy,
            Some(ErrorCode::DiskFull) => StoreError::DiskFull,
            // The file through which runs share what they know of the journal cannot grow: there is no room for it.
            _ if source.sqlite_error().is_some_and(|error| error.extended_code == SQLITE_IOERR_SHMSIZE) => {
                StoreError::DiskFull
            }
            Some(ErrorCode::DatabaseCorrupt) => {
                StoreError::Damaged { what: "some of its pages", source: Some(Box::new(source)) }
            }
            _ => StoreError::Failed { doing, source: Box::new(source) },
        }
    }
}
