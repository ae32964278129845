//! Taking the whole database away as a copy, and putting one in its place.

use std::fs;
use std::path::{Path, PathBuf};

use rusqlite::Connection;

use super::copying::Copy;
use super::failure::failed;
use super::migrate::{self, Found, MIGRATIONS};
use super::opening::{self, beside};
use super::{Database, TIMEOUT};
use crate::app::ports::StoreError;

/// Endings of the files that SQLite and this program put beside a database.
const BESIDE: [&str; 4] = ["-wal", "-shm", "-journal", ".pulling"];

impl Database {
    /// Copies all of it, with what still stands in its journal, beside a place into which it is put when it is whole.
    ///
    /// # Errors
    /// When it cannot be made; nothing is left of it then.
    pub fn prepare_copy(&self, target: &Path) -> Result<Copy, StoreError> {
        Copy::prepare(&self.connection, target)
    }
}

/// Whether a name leads to a database or to one of the files beside it.
#[must_use]
pub fn is_of_database(database: &Path, other: &Path) -> bool {
    let whole = |path: &Path| fs::canonicalize(path).ok();
    let by_folder = |path: &Path| {
        let folder = super::folder_of(path).unwrap_or_else(|| Path::new("."));
        Some(whole(folder)?.join(path.file_name()?))
    };
    let place = |path: &Path| whole(path).or_else(|| by_folder(path));
    let other = place(other);
    let files = BESIDE.iter().map(|ending| beside(database, ending)).chain([database.to_owned()]);
    other.is_some() && files.map(|file| place(&file)).any(|file| file == other)
}

/// A copy of a backup beside a database, brought to this program's version.
///
/// # Errors
/// When the backup cannot be read, is foreign or of a newer version, or cannot be copied.
pub fn prepare_restore(backup: &Path, database: &Path) -> Result<Copy, StoreError> {
    let opened = opening::open_to_read(backup)?;
    let known = u32::try_from(MIGRATIONS.len()).unwrap_or(u32::MAX);
    if migrate::inspect(&opened.connection, backup, known)? == Found::Empty {
        return Err(StoreError::Foreign { path: backup.to_owned() });
    }
    let copy = Copy::prepare(&opened.connection, database)?;
    drop(opened);
    let changed = Database::open(copy.part())?;
    let before = changed.copied_to().map(Path::to_owned);
    drop(changed);
    // The backup itself is the copy from before the change.
    if let Some(before) = before {
        fs::remove_file(before).unwrap_or_default();
    }
    copy.as_one_file()?;
    Ok(copy)
}

/// Puts a copy in the place of a database, which is kept under another name. Where it goes, nothing is ever missing: the new
/// one comes into its place in one stroke.
///
/// # Errors
/// `Busy` when another run has the database open; when a file cannot be moved. The database is as it was then.
pub fn replace(database: &Path, copy: Copy, mark: &str) -> Result<Option<PathBuf>, StoreError> {
    let moved =
        |source: std::io::Error| StoreError::Failed { doing: "be kept aside", source: Box::new(source) };
    if !fs::exists(database).map_err(moved)? {
        copy.put_in_place()?;
        return Ok(None);
    }
    match take_journal_in(database) {
        Ok(()) => {}
        Err(StoreError::Busy) => return Err(StoreError::Busy),
        // One that is damaged goes aside as it is, with its journal.
        Err(_) => {}
    }
    let mut aside = beside(database, &format!(".{mark}"));
    let mut number = 1;
    while aside.exists() {
        number += 1;
        aside = beside(database, &format!(".{mark}-{number}"));
    }
    // Two names for one file, where the system has them, so that there is no moment without a database.
    if fs::hard_link(database, &aside).is_err() {
        fs::rename(database, &aside).map_err(moved)?;
    }
    for ending in ["-wal", "-shm", "-journal"] {
        let journal = beside(database, ending);
        if journal.exists() {
            fs::rename(&journal, beside(&aside, ending)).map_err(moved)?;
        }
    }
    copy.put_in_place()?;
    Ok(Some(aside))
}

/// Brings all of the journal into the file, which only works when nobody else has it open.
fn take_journal_in(database: &Path) -> Result<(), StoreError> {
    let connection = Connection::open(database).map_err(failed("be opened"))?;
    connection.busy_timeout(TIMEOUT).map_err(failed("set how long it waits"))?;
    connection
        .pragma_update_and_check(None, "journal_mode", "DELETE", |row| row.get::<_, String>(0))
        .map_err(failed("take its journal in"))?;
    Ok(())
}
