//! People's names: the only thing that can be changed and erased.

use rusqlite::Connection;

use crate::core::entries::PersonTag;

/// All names, by the numbers of their people.
///
/// # Errors
/// As SQLite.
pub fn all(connection: &Connection) -> rusqlite::Result<Vec<(PersonTag, String)>> {
    connection
        .prepare_cached("SELECT person, name FROM person_name ORDER BY person")?
        .query_map((), |row| Ok((PersonTag(row.get(0)?), row.get(1)?)))?
        .collect()
}

/// Sets or erases a name; tells whether there was an old one, which goes.
///
/// # Errors
/// As SQLite.
pub fn set(connection: &Connection, person: PersonTag, name: Option<&str>) -> rusqlite::Result<bool> {
    let gone =
        connection.prepare_cached("DELETE FROM person_name WHERE person = ?1")?.execute((person.0,))?;
    if let Some(name) = name {
        connection
            .prepare_cached("INSERT INTO person_name (person, name) VALUES (?1, ?2)")?
            .execute((person.0, name))?;
    }
    Ok(gone > 0)
}

/// Takes old content out of the journal; what was deleted in the file itself was overwritten with zeros (secure_delete).
///
/// # Errors
/// As SQLite.
pub fn clear_journal(connection: &Connection) -> rusqlite::Result<()> {
    connection.query_row("PRAGMA wal_checkpoint(TRUNCATE)", (), |_| Ok(()))
}
