//! One moment of the database, whatever somebody else writes meanwhile: what is read, and the sums that it is held against.

use rusqlite::{Connection, Transaction};

/// Begins to read at one moment, until it is dropped; none within an act, which is a moment already.
///
/// # Errors
/// As SQLite.
pub fn begin(connection: &Connection) -> rusqlite::Result<Option<Transaction<'_>>> {
    connection.is_autocommit().then(|| connection.unchecked_transaction()).transpose()
}
