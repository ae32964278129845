//! Walking the chain in a thread of its own while another reads.
//!
//! The thread has a connection of its own, whose moment begins before the other reads anything: what is added meanwhile may be read
//! and not walked, never the other way round.

use std::panic;
use std::path::Path;
use std::thread::{self, ScopedJoinHandle};

use rusqlite::{Connection, OpenFlags, OptionalExtension};

use super::{chain, opening};
use host_core::book::{Covers, Step};

/// Sees the steps of a chain, from another thread.
pub type Look<'look> = dyn FnMut(&Step) + Send + 'look;

/// Shows every step in order to `look` while `meanwhile` runs; what is in no step, and what `meanwhile` returned.
///
/// Without a second connection that sees what this one does, one comes after the other.
pub fn walk_beside<T>(
    connection: &Connection,
    (path, is_read_only): (&Path, bool),
    look: &mut Look<'_>,
    meanwhile: impl FnOnce() -> T,
) -> (rusqlite::Result<Vec<Covers>>, T) {
    let Some(other) = same_moment(connection, path, is_read_only) else {
        let outside = chain::walk(connection, look);
        return (outside, meanwhile());
    };
    thread::scope(|scope| {
        let walking = thread::Builder::new()
            .spawn_scoped(scope, move || chain::walk_within(&other, look))
            .map_err(|error| rusqlite::Error::ToSqlConversionFailure(Box::new(error)));
        let told = meanwhile();
        let join = |walking: ScopedJoinHandle<'_, _>| {
            walking.join().unwrap_or_else(|panicked| panic::resume_unwind(panicked))
        };
        (walking.and_then(join), told)
    })
}

/// A second connection that has begun to read, if it finds the chain as this one does.
fn same_moment(connection: &Connection, path: &Path, is_read_only: bool) -> Option<Connection> {
    if !connection.is_autocommit() {
        return None;
    }
    let other = if is_read_only {
        opening::open_to_read(path).ok()?.connection
    } else {
        let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        Connection::open_with_flags(path, flags).ok()?
    };
    other.execute_batch("PRAGMA query_only = ON; PRAGMA trusted_schema = OFF; BEGIN").ok()?;
    let theirs = head(&other).ok()?;
    // Whatever is kept is chained, so the same head is the same content; another file by the same name has another.
    (head(connection).ok()? == theirs).then_some(other)
}

/// The last step's place and link, as they are stored.
fn head(connection: &Connection) -> rusqlite::Result<Option<(i64, Vec<u8>)>> {
    connection
        .query_row("SELECT position, link FROM chain ORDER BY position DESC LIMIT 1", (), |row| {
            Ok((row.get(0)?, row.get(1)?))
        })
        .optional()
}
