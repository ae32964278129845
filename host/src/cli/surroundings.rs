//! What every command stands in: the database's place, the clock, the zone.

use std::path::{Path, PathBuf};
use std::time::{SystemTime, UNIX_EPOCH};

use shared_types::UtcMillis;

use super::Failure;
use crate::app::ports::{Clock, StoreError};
use crate::store::{Database, folder_of};

/// The surroundings of one run.
#[derive(Debug)]
pub struct Surroundings {
    db: Option<PathBuf>,
    clock: SystemClock,
}

impl Surroundings {
    /// Takes the database's place from the arguments, or the usual one.
    pub fn new(db: Option<PathBuf>) -> Self {
        Self { db, clock: SystemClock }
    }

    /// The wall clock.
    pub fn clock(&self) -> &impl Clock {
        &self.clock
    }

    /// Opens the maker's database, making it when there is none; the usual folder too, but none that was named.
    ///
    /// # Errors
    /// When it cannot be opened, or is something else.
    pub fn open_database(&self) -> Result<Database, Failure> {
        let path = self.database_path()?;
        if self.db.is_none()
            && let Some(folder) = folder_of(&path)
        {
            std::fs::create_dir_all(folder)
                .map_err(|source| StoreError::Open { path: path.clone(), source: source.into() })?;
        }
        Ok(Database::open(&path)?)
    }

    /// Whether there is no file at the database's place, and [`Self::open_database`] would make it.
    pub fn would_make(&self, path: &Path) -> bool {
        let is_there = |path: &Path| std::fs::exists(path).unwrap_or(true);
        !is_there(path) && (self.db.is_none() || folder_of(path).is_none_or(is_there))
    }

    /// Where the maker's database is or would be.
    ///
    /// # Errors
    /// When the system names no folder for it.
    pub fn database_path(&self) -> Result<PathBuf, Failure> {
        use etcetera::BaseStrategy;
        if let Some(path) = &self.db {
            return Ok(path.clone());
        }
        let folders = etcetera::choose_base_strategy().map_err(|error| {
            Failure::other(
                "db::place",
                "this system names no folder for the database",
                "Name a file with --db.",
            )
            .because(error)
        })?;
        Ok(folders.data_dir().join("needlehours").join("needlehours.db"))
    }
}

/// The computer's own clock and zone.
#[derive(Clone, Copy, Debug)]
pub struct SystemClock;

impl Clock for SystemClock {
    fn now(&self) -> UtcMillis {
        let since_epoch =
            SystemTime::now().duration_since(UNIX_EPOCH).map_or(0, |duration| duration.as_millis());
        UtcMillis(i64::try_from(since_epoch).unwrap_or(i64::MAX))
    }

    fn zone(&self) -> jiff::tz::TimeZone {
        jiff::tz::TimeZone::system()
    }
}
