//! What every command stands in: the database's place, the clock, the zone.

use std::path::PathBuf;
use std::time::{SystemTime, UNIX_EPOCH};

use shared_types::UtcMillis;

use super::Failure;
use crate::app::ports::Clock;
use crate::store::Database;

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

    /// Opens the maker's database, making it when there is none.
    ///
    /// # Errors
    /// When it cannot be opened, or is something else.
    pub fn open_database(&self) -> Result<Database, Failure> {
        Ok(Database::open(&self.database_path()?)?)
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
