//! People's names: the only thing that can be changed and erased.

use rusqlite::{Connection, OptionalExtension};

use super::content_sum::{self, PERSON_NAME};
use super::failure::Fault;
use super::{erase, moment};
use host_core::entries::PersonTag;

/// All names, by the numbers of their people.
///
/// # Errors
/// As SQLite; the damage when they do not read as they were kept.
pub fn all(connection: &Connection) -> Result<Vec<(PersonTag, String)>, Fault> {
    let moment = moment::begin(connection)?;
    content_sum::check_now(connection, &PERSON_NAME, 0)?;
    let names = connection
        .prepare_cached("SELECT person, name FROM person_name ORDER BY person")?
        .query_map((), |row| Ok((PersonTag(row.get(0)?), row.get(1)?)))?
        .collect::<Result<_, _>>()?;
    drop(moment);
    Ok(names)
}

/// Sets or erases a name; tells the old one, which goes.
///
/// # Errors
/// As SQLite.
pub fn set(
    connection: &Connection,
    person: PersonTag,
    name: Option<&str>,
) -> rusqlite::Result<Option<String>> {
    let old: Option<String> = connection
        .prepare_cached("SELECT name FROM person_name WHERE person = ?1")?
        .query_row((person.0,), |row| row.get(0))
        .optional()?;
    content_sum::take_out(connection, &PERSON_NAME, (person.0,))?;
    connection.prepare_cached("DELETE FROM person_name WHERE person = ?1")?.execute((person.0,))?;
    if let Some(name) = name {
        connection
            .prepare_cached("INSERT INTO person_name (person, name) VALUES (?1, ?2)")?
            .execute((person.0, name))?;
        content_sum::add(connection, &PERSON_NAME, 0, (person.0,))?;
    }
    if old.is_some() {
        erase::begin(connection)?;
    }
    Ok(old)
}
