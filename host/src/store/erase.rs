//! Erased means gone: from the file, from its journal, and from what pages hold beside their rows.
//!
//! While another program reads, the journal cannot be emptied. The mark in `erasure` then stays, and every opening of the
//! file goes on until it is done; the mark says nothing of what was erased.

use std::fs;
use std::path::{Path, PathBuf};
use std::time::Duration;

use rusqlite::Connection;

use crate::app::ports::book::Erased;

/// How long somebody who erases is let wait for others who read.
pub const TIMEOUT: Duration = Duration::from_secs(10);
/// How long each later opening waits for them.
const AT_OPENING: Duration = Duration::from_millis(100);

/// Notes that an erasure has begun, within the act that takes the row out.
///
/// # Errors
/// As SQLite.
pub fn begin(connection: &Connection) -> rusqlite::Result<()> {
    connection.execute("INSERT OR IGNORE INTO erasure (only) VALUES (1)", ()).map(drop)
}

/// Takes what was erased out of the journal and the file, waiting for others no longer than `timeout`.
///
/// # Errors
/// As SQLite.
pub fn finish(
    connection: &Connection,
    path: &Path,
    erased: &[String],
    timeout: Duration,
    usual: Duration,
) -> rusqlite::Result<Erased> {
    connection.busy_timeout(timeout)?;
    let done = finish_now(connection, path, erased);
    connection.busy_timeout(usual)?;
    done
}

/// Goes on with an erasure that an earlier run could not finish. What was erased is not known any more, so the whole file
/// is written anew.
///
/// # Errors
/// As SQLite.
pub fn go_on(connection: &Connection, usual: Duration) -> rusqlite::Result<()> {
    let is_left: bool =
        connection.query_row("SELECT EXISTS (SELECT 1 FROM erasure)", (), |row| row.get(0))?;
    if !is_left {
        return Ok(());
    }
    connection.busy_timeout(AT_OPENING)?;
    let done = write_anew(connection);
    connection.busy_timeout(usual)?;
    done.map(drop)
}

fn finish_now(connection: &Connection, path: &Path, erased: &[String]) -> rusqlite::Result<Erased> {
    if !empty_journal(connection)? {
        return Ok(Erased::NotYet);
    }
    // Deleted rows were overwritten with zeros (secure_delete), but a page that was once put in order may hold an older copy.
    if erased.iter().any(|name| is_in(path, name.as_bytes())) {
        return write_anew(connection);
    }
    unmark(connection)
}

fn write_anew(connection: &Connection) -> rusqlite::Result<Erased> {
    if !unless_busy(connection.execute_batch("VACUUM"))? || !empty_journal(connection)? {
        return Ok(Erased::NotYet);
    }
    unmark(connection)
}

fn unmark(connection: &Connection) -> rusqlite::Result<Erased> {
    let is_unmarked = unless_busy(connection.execute("DELETE FROM erasure", ()).map(drop))?;
    Ok(if is_unmarked { Erased::Gone } else { Erased::NotYet })
}

/// Whether the journal could be emptied; not while somebody reads from it.
fn empty_journal(connection: &Connection) -> rusqlite::Result<bool> {
    connection
        .query_row("PRAGMA wal_checkpoint(TRUNCATE)", (), |row| row.get::<_, i64>(0))
        .map(|busy| busy == 0)
}

fn unless_busy(outcome: rusqlite::Result<()>) -> rusqlite::Result<bool> {
    use rusqlite::ErrorCode::{DatabaseBusy, DatabaseLocked};
    match outcome {
        Ok(()) => Ok(true),
        Err(error) if matches!(error.sqlite_error_code(), Some(DatabaseBusy | DatabaseLocked)) => Ok(false),
        Err(error) => Err(error),
    }
}

/// Whether bytes stand in the file or its journal; also when nobody can tell.
fn is_in(path: &Path, bytes: &[u8]) -> bool {
    let mut journal = path.as_os_str().to_owned();
    journal.push("-wal");
    [path.to_owned(), PathBuf::from(journal)].iter().any(|file| match fs::read(file) {
        Ok(content) => content.windows(bytes.len().max(1)).any(|window| window == bytes),
        Err(error) => error.kind() != std::io::ErrorKind::NotFound,
    })
}
