//! A copy of a whole database, with what still stands in its journal: beside its place first, then in one stroke into it.

use std::fs::{self, File};
use std::path::{Path, PathBuf};

use rusqlite::backup::Progress;
use rusqlite::{Connection, MAIN_DB};

use super::failure::failed;
use super::opening::beside;
use crate::app::ports::StoreError;

/// A copy that is not in its place yet; it goes away again when it is dropped.
#[derive(Debug)]
pub struct Copy {
    part: Option<PathBuf>,
    target: PathBuf,
}

/// Copies to a place; an older file there is replaced when the copy is whole.
///
/// # Errors
/// When the copy cannot be made; an older file is as it was then.
pub fn copy(connection: &Connection, target: &Path) -> Result<(), StoreError> {
    Copy::prepare(connection, target)?.put_in_place()
}

impl Copy {
    /// Makes the copy beside its place.
    ///
    /// # Errors
    /// When it cannot be made; nothing is left of it then.
    pub fn prepare(connection: &Connection, target: &Path) -> Result<Self, StoreError> {
        let part = beside(target, &format!(".{}.part", std::process::id()));
        let mut options = File::options();
        options.write(true).create_new(true);
        #[cfg(unix)]
        std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
        options.open(&part).map_err(uncopied)?;
        let copy = Self { part: Some(part), target: target.to_owned() };
        connection.backup(MAIN_DB, copy.part(), None::<fn(Progress)>).map_err(failed("make a copy"))?;
        copy.as_one_file()?;
        Ok(copy)
    }

    /// What was made beside its place by other means.
    pub(super) const fn of_made(part: PathBuf, target: PathBuf) -> Self {
        Self { part: Some(part), target }
    }

    /// Without a journal of its own it can be carried anywhere.
    ///
    /// # Errors
    /// When it cannot be written.
    pub fn as_one_file(&self) -> Result<(), StoreError> {
        Connection::open(self.part())
            .and_then(|copied| {
                copied.pragma_update_and_check(None, "journal_mode", "DELETE", |row| row.get::<_, String>(0))
            })
            .map_err(failed("make a copy of one file"))?;
        File::open(self.part()).and_then(|file| file.sync_all()).map_err(uncopied)
    }

    /// Where it lies until then.
    pub fn part(&self) -> &Path {
        self.part.as_deref().unwrap_or(&self.target)
    }

    /// Puts it in its place.
    ///
    /// # Errors
    /// When the system does not let it; an older file is whole then.
    pub fn put_in_place(mut self) -> Result<(), StoreError> {
        let Some(part) = self.part.take() else { return Ok(()) };
        fs::rename(&part, &self.target).map_err(|error| {
            self.part = Some(part);
            uncopied(error)
        })
    }
}

impl Drop for Copy {
    fn drop(&mut self) {
        if let Some(part) = self.part.take() {
            for ending in ["", "-wal", "-shm"] {
                fs::remove_file(beside(&part, ending)).unwrap_or_default();
            }
        }
    }
}

fn uncopied(source: std::io::Error) -> StoreError {
    match source.kind() {
        std::io::ErrorKind::StorageFull => StoreError::DiskFull,
        _ => StoreError::Failed { doing: "make a copy", source: Box::new(source) },
    }
}
