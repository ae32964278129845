//! The maker's entries: added, never changed.

use rusqlite::Connection;
use shared_types::UtcMillis;

use super::content_sum::{self, ENTRY, Sum};
use super::failure::Fault;
use super::{chain, moment};
use host_core::entries::{Entry, EntryBody, EntryId};

/// Adds an entry.
///
/// # Errors
/// As SQLite.
pub fn add(connection: &Connection, entered_at: UtcMillis, body: &EntryBody) -> rusqlite::Result<EntryId> {
    let unwritable = |error| rusqlite::Error::ToSqlConversionFailure(Box::new(error));
    // By way of a value its fields stand in the order of the alphabet, as they always have.
    let value = serde_json::to_value(body).map_err(unwritable)?;
    let id = connection
        .prepare_cached("INSERT INTO entry (entered_at, kind, body) VALUES (?1, ?2, ?3)")?
        .insert((entered_at.0, body.kind(), value.to_string()))?;
    chain::add_entry(connection, id)?;
    Ok(EntryId(id))
}

/// All entries in the order of arrival.
///
/// # Errors
/// As SQLite; the damage when they do not read as they were kept.
pub fn all(connection: &Connection) -> Result<Vec<Entry>, Fault> {
    let moment = moment::begin(connection)?;
    let mut statement = connection.prepare_cached(&format!("{} ORDER BY id", ENTRY.all()))?;
    let columns = statement.column_count();
    let (mut sum, mut bytes, mut read) = (Sum::default(), Vec::new(), Vec::new());
    let mut rows = statement.query(())?;
    while let Some(row) = rows.next()? {
        sum.row(&mut bytes, row, columns)?;
        read.push((
            row.get(0)?,
            row.get(1)?,
            row.get_ref(3)?.as_bytes().map_err(rusqlite::Error::from)?.to_vec(),
        ));
    }
    content_sum::check(connection, &ENTRY, 0, sum)?;
    drop(moment);
    // Only now: a changed letter is told as damage, not as a text of no known kind.
    let entry = |(id, at, text): (i64, i64, Vec<u8>)| {
        let body = serde_json::from_slice(&text).map_err(|error| {
            rusqlite::Error::FromSqlConversionFailure(3, rusqlite::types::Type::Text, Box::new(error))
        })?;
        Ok(Entry { id: EntryId(id), entered_at: UtcMillis(at), body })
    };
    read.into_iter().map(entry).collect()
}
