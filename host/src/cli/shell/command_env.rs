//! What every command stands in: the database's place, the clock, the zone.

use std::cell::{Cell, RefCell};
use std::path::{Path, PathBuf};
use std::rc::Rc;
use std::time::{SystemTime, UNIX_EPOCH};

use host_core::entries::EntryId;
use shared_types::UtcMillis;

use super::ask;
use super::failure::Failure;
use crate::app::ports::{Clock, StoreError};
use crate::store::{Database, KeptEntries, folder_of};

/// The surroundings of one run.
#[derive(Debug)]
pub struct CommandEnv {
    db: Option<PathBuf>,
    clock: SystemClock,
    clock_is_right: bool,
    kept: RefCell<Option<Rc<Cell<bool>>>>,
    kept_entries: RefCell<Option<KeptEntries>>,
}

impl CommandEnv {
    /// Takes the database's place from the arguments, or the usual one; and whether the maker said that the clock is right.
    pub fn new(db: Option<PathBuf>, clock_is_right: bool) -> Self {
        Self {
            db,
            clock: SystemClock,
            clock_is_right,
            kept: RefCell::default(),
            kept_entries: RefCell::default(),
        }
    }

    /// Whether this run has kept something that was entered.
    pub fn has_kept(&self) -> bool {
        self.kept.borrow().as_ref().is_some_and(|kept| kept.get())
    }

    /// The first and the last entry that this run has kept.
    pub fn kept_entries(&self) -> Option<(EntryId, EntryId)> {
        self.kept_entries.borrow().as_ref().and_then(|kept| kept.get())
    }

    /// The wall clock.
    pub fn clock(&self) -> &impl Clock {
        &self.clock
    }

    /// Makes the same surroundings in another thread.
    pub fn elsewhere(&self) -> impl Fn() -> Self + Send + Sync + use<> {
        let (db, clock_is_right) = (self.db.clone(), self.clock_is_right);
        move || Self::new(db.clone(), clock_is_right)
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
        let mut database = Database::open(&path)?;
        if let Some(copy) = database.copied_to() {
            anstream::eprintln!(
                "The database was changed to this program's version; as it was before, it lies in {}.",
                copy.display()
            );
        }
        if database.is_read_only() {
            anstream::eprintln!("Nothing can be written to {}; it is only read.", path.display());
        }
        if !self.clock_is_right {
            database.doubt_clock(self.clock.now())?;
        }
        self.kept.replace(Some(database.kept()));
        self.kept_entries.replace(Some(database.kept_entries()));
        Ok(database)
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

/// Refuses a time zone that is set and not known: days would begin and end elsewhere than the maker believes.
///
/// # Errors
/// When the zone in `TZ` is not known.
pub fn check_zone() -> Result<(), Failure> {
    let Some(zone) = std::env::var_os("TZ").filter(|zone| !zone.is_empty()) else { return Ok(()) };
    match jiff::tz::TimeZone::try_system() {
        Ok(_) => Ok(()),
        Err(error) => Err(Failure::bad_input(
            "time::zone",
            format!("the time zone \"{}\" in TZ is not known", zone.to_string_lossy()),
            "Write it as a region and a city, for example Europe/Lisbon, or take TZ out of the environment. Nothing was noted.",
        )
        .because(error)),
    }
}

/// Asks whether the clock is right, where somebody is there to be asked.
pub fn clock_is_agreed(doubt: &Failure) -> bool {
    if !ask::somebody_is_there() {
        return false;
    }
    let question = format!("Look: {doubt}. Is the clock right? [y yes, Enter no] ");
    ask::is_yes(&mut std::io::stdin().lock(), &mut std::io::stdout(), &question, false)
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
