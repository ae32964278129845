//! The database: one SQLite file. All SQL of the program stands in this folder.

use std::path::Path;

use crate::app::ports::StoreError;

/// The maker's database.
#[derive(Debug)]
pub struct Database {
    _connection: rusqlite::Connection,
}

impl Database {
    /// Opens a database, making the file and its folder when there is none.
    ///
    /// # Errors
    /// When it cannot be opened, is no database of this program, or comes from a newer one.
    pub fn open(path: &Path) -> Result<Self, StoreError> {
        let connection = rusqlite::Connection::open(path)
            .map_err(|source| StoreError::Open { path: path.to_owned(), source: Box::new(source) })?;
        Ok(Self { _connection: connection })
    }
}
