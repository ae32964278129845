//! The database: one SQLite file. All SQL of the program stands in this folder.
//!
//! Raw records and the maker's entries are only ever added, which triggers in the database enforce; everything else is
//! derived from them. The journal is a write-ahead log, so reading goes on while a pull writes, and a plain copy of
//! the main file may miss the newest rows: copy through SQLite.

mod bits;
mod chain;
mod chain_beside;
mod chain_link;
mod chain_numbers;
mod content_begin;
mod content_sum;
mod copying;
mod derive;
mod entries;
mod erase;
mod facts;
mod failure;
mod growth;
mod holding;
mod journal_check;
mod lock;
mod marks;
mod migrate;
mod missing_ranges;
mod moment;
mod names;
mod opening;
mod read_once;
mod records;
pub mod replacing;
mod rescue;
mod rescue_judge;
mod rescue_pages;
mod rescue_rows;
mod rescue_shapes;
mod schema_check;
mod status_reports;
mod walked_records;
mod whole;
mod wrong_clock;

use std::cell::Cell;
use std::path::{Path, PathBuf};
use std::rc::Rc;
use std::thread;
use std::time::{Duration, Instant};

use rusqlite::{Connection, ErrorCode, Transaction, TransactionBehavior};
use shared_types::link::LoggerStatus;
use shared_types::{RecordSeq, UtcMillis};

use crate::app::ports::book::{Chained, ChainedLater, Erased, Names, SchemaFinding};
use crate::app::ports::{Gap, Holding, Kept, RawRecord, StatusReport, Store, StoreError};
use content_sum::{KEPT, MADE, Mark};
pub use copying::Copy;
use derive::RecordReader;
use failure::{Fault, failed};
use growth::Growth;
pub use growth::KeptEntries;
use host_core::book::{Covers, Step};
use host_core::entries::{EntryBody, EntryId, InForce, PersonTag};
use host_core::records::log_records::{LogKey, LogRecords};
use migrate::{Found, Migration};
use opening::Opened;
use read_once::ReadOnce;
use wrong_clock::WrongClock;

pub use lock::PullLock;
pub use rescue::rescue;
pub use whole::{LineProblem, database_version, make_whole};

/// Longer than one commit on a slow disk, shorter than a maker's patience.
const BUSY_TIMEOUT: Duration = Duration::from_secs(1);

/// What was turned away without waiting is tried again after so long.
const BEFORE_ANOTHER_TRY: Duration = Duration::from_millis(5);

/// The kept sums of all that is in a database.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct StoreState(Vec<Mark>);

/// The maker's database.
#[derive(Debug)]
pub struct Database {
    /// Shared with the act under way alone.
    connection: Rc<Connection>,
    path: PathBuf,
    reading: RecordReader,
    copied_to: Option<PathBuf>,
    erase_timeout: Duration,
    is_read_only: bool,
    growth: Growth,
    read_once: ReadOnce,
    wrong_clock: Option<WrongClock>,
}

impl Database {
    /// Opens a database, making the file when there is none, but never a folder.
    ///
    /// # Errors
    /// When its folder is not there, it cannot be opened, is no database of this program, or comes from a newer one.
    pub fn open(path: &Path) -> Result<Self, StoreError> {
        Self::open_with(path, migrate::MIGRATIONS, RecordReader::default())
    }

    fn open_with(path: &Path, steps: &[Migration], reading: RecordReader) -> Result<Self, StoreError> {
        check_journal(path)?;
        match Self::of(opening::open(path)?, path, steps, reading) {
            // The file can be written to, its folder cannot, so there is no place for a journal.
            Err(StoreError::Failed { .. } | StoreError::Open { .. })
                if opening::is_in_closed_folder(path) =>
            {
                Self::open_to_read(path)
            }
            other => other,
        }
    }

    /// Opens a database for reading only, as it is done where nothing can be written.
    ///
    /// # Errors
    /// As [`Self::open`], and when it must be changed before this program can read it.
    pub fn open_to_read(path: &Path) -> Result<Self, StoreError> {
        check_journal(path)?;
        Self::of(opening::open_to_read(path)?, path, migrate::MIGRATIONS, RecordReader::default())
    }

    fn of(
        opened: Opened,
        path: &Path,
        steps: &[Migration],
        reading: RecordReader,
    ) -> Result<Self, StoreError> {
        let Opened { mut connection, is_read_only } = opened;
        connection.busy_timeout(BUSY_TIMEOUT).map_err(failed("set how long it waits"))?;
        let known = u32::try_from(steps.len()).unwrap_or(u32::MAX);
        let found = migrate::inspect(&connection, path, known)?;
        let copied_to = if is_read_only {
            let why = "it is of an earlier version and would have to be changed first";
            if found != Found::Ours(known) || !derive::is_current(&connection, &reading)? {
                return Err(StoreError::NotReadable { path: path.to_owned(), why });
            }
            None
        } else {
            prepare(&connection)?;
            let copied_to = migrate::migrate(&mut connection, path, found, steps)?;
            derive::refresh(&mut connection, &reading)?;
            erase::go_on(&connection, BUSY_TIMEOUT).map_err(failed("go on with erasing a name"))?;
            copied_to
        };
        connection.set_prepared_statement_cache_capacity(64);
        Ok(Self {
            connection: Rc::new(connection),
            path: path.to_owned(),
            reading,
            copied_to,
            erase_timeout: erase::TIMEOUT,
            is_read_only,
            growth: Growth::default(),
            read_once: ReadOnce::default(),
            wrong_clock: None,
        })
    }

    /// Whether it lies where nothing can be written.
    #[must_use]
    pub const fn is_read_only(&self) -> bool {
        self.is_read_only
    }

    /// Whether this run has kept something of what the maker said; goes on telling it when the database is closed.
    #[must_use]
    pub fn kept(&self) -> Rc<Cell<bool>> {
        self.growth.has_kept()
    }

    /// Which entries this run has kept; goes on telling it when the database is closed.
    #[must_use]
    pub fn kept_entries(&self) -> KeptEntries {
        self.growth.kept_entries()
    }

    /// From here on nothing is noted when `now` is more than two years off the newest entry, in either direction.
    ///
    /// # Errors
    /// When the database cannot be read.
    pub fn doubt_clock(&mut self, now: UtcMillis) -> Result<(), StoreError> {
        self.wrong_clock =
            wrong_clock::of(&self.connection, now).map_err(failed("look for its newest entry"))?;
        Ok(())
    }

    /// How everything in it stands now: the same as before until somebody writes.
    ///
    /// # Errors
    /// When the database cannot be read.
    pub fn state(&self) -> Result<StoreState, StoreError> {
        let all: Vec<_> = KEPT.into_iter().chain(MADE).collect();
        content_sum::marks(&self.connection, &all).map(StoreState).map_err(failed("read its sums"))
    }

    /// The file.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// The copy that was made because opening changed the database to a newer version.
    #[must_use]
    pub fn copied_to(&self) -> Option<&Path> {
        self.copied_to.as_deref()
    }

    /// Takes the right to pull into this database, until the lock is dropped.
    ///
    /// # Errors
    /// `Busy` when another run is pulling; `Damaged` when what says where to go on does not read as it was written: numbers
    /// that are taken for settled are never asked for again.
    pub fn lock_for_pull(&self) -> Result<PullLock, StoreError> {
        let lock = lock::take(&self.path)?;
        marks::check_marks(&self.connection).map_err(failed("look where the pull goes on"))?;
        Ok(lock)
    }

    /// Lets SQLite look through the whole file. Empty: all is well; otherwise what it found.
    ///
    /// # Errors
    /// When it cannot even be looked at.
    pub fn look_for_damage(&self) -> Result<Vec<String>, StoreError> {
        let look = || -> rusqlite::Result<Vec<String>> {
            self.connection
                .prepare("PRAGMA integrity_check(20)")?
                .query_map((), |row| row.get::<_, String>(0))?
                .filter(|line| line.as_ref().ok().is_none_or(|line| line != "ok"))
                .collect()
        };
        look().map_err(failed("be checked"))
    }

    /// Changes what is known of the loggers.
    fn change<T, E: Into<Fault>>(
        &mut self,
        doing: &'static str,
        work: impl FnOnce(&Connection, &RecordReader) -> Result<T, E>,
    ) -> Result<T, StoreError> {
        self.together(|store| work(&store.connection, &store.reading).map_err(failed(doing)))
    }

    /// As [`Self::change`], for what the maker says: refused where it was worked out from a book that has grown since.
    fn say<T, E: Into<Fault>>(
        &mut self,
        doing: &'static str,
        work: impl FnOnce(&Connection) -> Result<T, E>,
    ) -> Result<T, StoreError> {
        self.together(|store| {
            store.growth.say()?;
            work(&store.connection).map_err(failed(doing))
        })
    }
}

fn check_journal(path: &Path) -> Result<(), StoreError> {
    let what = "the newest entries and records, in its journal,";
    let is_damaged = journal_check::is_damaged(path);
    if is_damaged { Err(StoreError::Damaged { what, source: None }) } else { Ok(()) }
}

/// The folder in which a file lies; none for one beside the program's own working place.
#[must_use]
pub fn folder_of(path: &Path) -> Option<&Path> {
    path.parent().filter(|folder| !folder.as_os_str().is_empty())
}

/// Sets what cannot be set inside a transaction. Only after the file is known to be ours or empty.
fn prepare(connection: &Connection) -> Result<(), StoreError> {
    set_journal(connection).map_err(failed("set its journal"))?;
    // FULL: a commit is on the disk before the logger is told so.
    connection
        .execute_batch(
            "PRAGMA synchronous = FULL; PRAGMA foreign_keys = ON; PRAGMA recursive_triggers = ON;
             PRAGMA trusted_schema = OFF;
             PRAGMA secure_delete = ON; PRAGMA cache_size = -32768;",
        )
        .map_err(failed("set how it writes"))
}

/// Sets the kind of the journal. Of several runs that do so at once SQLite turns some away without waiting, so they try again.
fn set_journal(connection: &Connection) -> rusqlite::Result<String> {
    let begun = Instant::now();
    loop {
        let set =
            connection.pragma_update_and_check(None, "journal_mode", "WAL", |row| row.get::<_, String>(0));
        match set {
            Err(error)
                if error.sqlite_error_code() == Some(ErrorCode::DatabaseBusy)
                    && begun.elapsed() < BUSY_TIMEOUT =>
            {
                thread::sleep(BEFORE_ANOTHER_TRY);
            }
            other => return other,
        }
    }
}

impl Store for Database {
    fn together<T, E: From<StoreError>>(
        &mut self,
        act: impl FnOnce(&mut Self) -> Result<T, E>,
    ) -> Result<T, E> {
        if !self.connection.is_autocommit() {
            return act(self);
        }
        if self.is_read_only {
            return Err(StoreError::ReadOnly { path: self.path.clone() }.into());
        }
        if let Some(wrong_clock) = &self.wrong_clock {
            return Err(wrong_clock.refusal().into());
        }
        let connection = Rc::clone(&self.connection);
        let transaction = Transaction::new_unchecked(&connection, TransactionBehavior::Immediate)
            .map_err(failed("begin to write"))?;
        self.growth.begin(&connection).map_err(failed("look for what was added"))?;
        // Dropped without a commit, the transaction undoes itself.
        let outcome = act(self).and_then(|outcome| {
            transaction.commit().map_err(failed("keep what was written"))?;
            Ok(outcome)
        });
        if outcome.is_ok() {
            self.growth.kept(&self.connection);
        }
        outcome
    }

    fn add_entry(&mut self, entered_at: UtcMillis, body: &EntryBody) -> Result<EntryId, StoreError> {
        self.say("keep the entry", |connection| entries::add(connection, entered_at, body))
    }

    fn add_entries(&mut self, entered_at: UtcMillis, bodies: &[EntryBody]) -> Result<(), StoreError> {
        if bodies.is_empty() {
            return Ok(());
        }
        self.say("keep the entries", |connection| {
            bodies.iter().try_for_each(|body| entries::add(connection, entered_at, body).map(drop))
        })
    }

    fn entries(&self) -> Result<InForce<'static>, StoreError> {
        let entries = entries::all(&self.connection).map_err(failed("read the entries"))?;
        // Within an act nobody else writes.
        if self.connection.is_autocommit() {
            self.growth.read(&entries);
        } else {
            self.growth.look()?;
        }
        Ok(InForce::of(entries))
    }

    fn read_anew(&mut self) {
        self.growth.forget();
    }

    fn note_status(&mut self, at: UtcMillis, status: &LoggerStatus, place: &str) -> Result<(), StoreError> {
        self.change("note that the logger was heard", |connection, _| {
            status_reports::note(connection, at, status, place)
        })
    }

    fn first_missing(&self, log: LogKey) -> Result<RecordSeq, StoreError> {
        records::first_missing(&self.connection, log).map_err(failed("find where to go on"))
    }

    fn missing(&self, log: LogKey, below: RecordSeq) -> Result<Vec<Gap>, StoreError> {
        holding::missing(&self.connection, log, below).map_err(failed("find what is missing"))
    }

    fn keep_records(
        &mut self,
        at: UtcMillis,
        log: LogKey,
        records: &[RawRecord],
    ) -> Result<Kept, StoreError> {
        self.change("keep the records", |connection, reading| {
            records::keep(connection, reading, at, log, records)
        })
    }

    fn logs(&self) -> Result<Rc<[LogRecords]>, StoreError> {
        self.read_once.logs(&self.connection, &self.reading).map_err(failed("read the records"))
    }

    fn note_gone(&mut self, log: LogKey, from: RecordSeq, below: RecordSeq) -> Result<(), StoreError> {
        self.change("note what is gone", |connection, _| {
            let id = records::log_id(connection, log)?;
            records::note_gone(connection, id, from, below)
        })
    }

    fn status_reports(&self) -> Result<Vec<StatusReport>, StoreError> {
        facts::status_reports(&self.connection).map_err(failed("read which loggers were heard"))
    }

    fn holding(&self, log: LogKey) -> Result<Holding, StoreError> {
        holding::of(&self.connection, log).map_err(failed("sum up the records"))
    }
}

impl Chained for Database {
    fn walk_chain(&self, look: &mut dyn FnMut(&Step)) -> Result<Vec<Covers>, StoreError> {
        chain::walk(&self.connection, look).map_err(failed("read the chain"))
    }

    fn walk_chain_beside<T>(
        &self,
        look: &mut (dyn FnMut(&Step) + Send),
        meanwhile: impl FnOnce() -> T,
    ) -> (Result<Vec<Covers>, StoreError>, T) {
        let file = (self.path.as_path(), self.is_read_only);
        let (outside, told) = chain_beside::walk_beside(&self.connection, file, look, meanwhile);
        (outside.map_err(failed("read the chain")), told)
    }

    fn summaries_that_differ(&self) -> Result<u64, StoreError> {
        derive::differing(&self.connection, &self.reading).map_err(failed("compare its summaries"))
    }

    fn check_kept(&self) -> Result<(), StoreError> {
        moment::begin(&self.connection)
            .map_err(Fault::from)
            .and_then(|_moment| content_sum::check_kept(&self.connection))
            .map_err(failed("hold what was kept against its sums"))
    }

    fn schema_findings(&self) -> Result<Vec<SchemaFinding>, StoreError> {
        schema_check::findings(&self.connection).map_err(failed("compare its tables"))
    }

    fn chained_later(&self) -> Result<Vec<ChainedLater>, StoreError> {
        content_begin::chained_later(&self.connection).map_err(failed("read what was chained later"))
    }

    fn renew_summaries(&mut self) -> Result<(), StoreError> {
        self.change("renew its summaries", derive::rebuild)
    }
}

impl Names for Database {
    fn names(&self) -> Result<Vec<(PersonTag, String)>, StoreError> {
        let names = names::all(&self.connection).map_err(failed("read the names"))?;
        if self.connection.is_autocommit() {
            self.growth.read_names(&names);
        } else {
            self.growth.look()?;
        }
        Ok(names)
    }

    fn set_name(&mut self, person: PersonTag, name: Option<&str>) -> Result<Erased, StoreError> {
        let old = self.together(|store| {
            let there = names::all(&store.connection).map_err(failed("read the names"))?;
            store.growth.say_name(&there)?;
            names::set(&store.connection, person, name).map_err(failed("keep the name"))
        })?;
        let Some(old) = old else { return Ok(Erased::Gone) };
        // Not as elsewhere "the disk is full; nothing was changed": by now it was.
        erase::finish(&self.connection, &self.path, &[old], self.erase_timeout, BUSY_TIMEOUT).map_err(
            |source| StoreError::Failed {
                doing: "take the old name out of its file",
                source: Box::new(source),
            },
        )
    }
}

#[cfg(test)]
mod tests;
