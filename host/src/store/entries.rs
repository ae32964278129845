//! The maker's entries: added, never changed.

use rusqlite::Connection;
use shared_types::UtcMillis;

use super::chain;
use crate::core::entries::{Entry, EntryBody, EntryId};

/// Adds an entry.
///
/// # Errors
/// As SQLite.
pub fn add(connection: &Connection, entered_at: UtcMillis, body: &EntryBody) -> rusqlite::Result<EntryId> {
    let unwritable = |error| rusqlite::Error::ToSqlConversionFailure(Box::new(error));
    let value = serde_json::to_value(body).map_err(unwritable)?;
    let kind = value.get("kind").and_then(serde_json::Value::as_str).unwrap_or_default();
    let id = connection
        .prepare_cached("INSERT INTO entry (entered_at, kind, body) VALUES (?1, ?2, ?3)")?
        .insert((entered_at.0, kind, value.to_string()))?;
    chain::add_entry(connection, id)?;
    Ok(EntryId(id))
}

/// All entries in the order of arrival.
///
/// # Errors
/// As SQLite; also when an entry cannot be read back.
pub fn all(connection: &Connection) -> rusqlite::Result<Vec<Entry>> {
    connection
        .prepare_cached("SELECT id, entered_at, body FROM entry ORDER BY id")?
        .query_map((), |row| {
            let text = row.get_ref(2)?.as_str()?;
            let body = serde_json::from_str(text).map_err(|error| {
                rusqlite::Error::FromSqlConversionFailure(2, rusqlite::types::Type::Text, Box::new(error))
            })?;
            Ok(Entry { id: EntryId(row.get(0)?), entered_at: UtcMillis(row.get(1)?), body })
        })?
        .collect()
}
