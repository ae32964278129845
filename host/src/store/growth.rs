//! Whether the book has grown since an answer was worked out.
//!
//! A command reads the book, checks its rules ("only one of a name", "not lent already") and then writes. Between the two
//! another run may write as well, so that both find the rules kept and break them together. So what was read first since
//! the last act is remembered, and an act that begins when more is there keeps nothing. This holds for every command, whatever its
//! rules are.

use std::cell::{Cell, RefCell};
use std::rc::Rc;

use rusqlite::Connection;

use crate::app::ports::StoreError;
use host_core::entries::{Entry, EntryId, PersonTag};

/// The first and the last entry that this run has kept; none before it has kept one.
pub type KeptEntries = Rc<Cell<Option<(EntryId, EntryId)>>>;

/// What was read, and what was there when the act under way began.
#[derive(Debug, Default)]
pub struct Growth {
    last_read: Cell<Option<i64>>,
    names_read: RefCell<Option<Vec<(PersonTag, String)>>>,
    last_at_begin: Cell<i64>,
    has_said: Cell<bool>,
    has_kept: Rc<Cell<bool>>,
    kept_entries: KeptEntries,
}

impl Growth {
    /// The entries were read, outside of an act.
    pub fn read(&self, entries: &[Entry]) {
        let last = entries.last().map_or(0, |entry| entry.id.0);
        self.last_read.set(Some(self.last_read.get().unwrap_or(last)));
    }

    /// The names were read, outside of an act.
    pub fn read_names(&self, names: &[(PersonTag, String)]) {
        self.names_read.borrow_mut().get_or_insert_with(|| names.to_owned());
    }

    /// What was read before binds no longer: whoever goes on reads anew.
    pub fn forget(&self) {
        self.last_read.set(None);
        self.names_read.replace(None);
    }

    /// An act begins; nobody else writes until it ends.
    ///
    /// # Errors
    /// As SQLite.
    pub fn begin(&self, connection: &Connection) -> rusqlite::Result<()> {
        self.last_at_begin.set(last(connection)?);
        self.has_said.set(false);
        Ok(())
    }

    /// The act is about to add an entry.
    ///
    /// # Errors
    /// `Grown` when there are entries that were not there when the book was read.
    pub fn say(&self) -> Result<(), StoreError> {
        self.has_said.set(true);
        self.look()
    }

    /// The act reads once more, and what it reads must not come from a book that has grown.
    ///
    /// # Errors
    /// `Grown` when there are entries that were not there when the book was read first.
    pub fn look(&self) -> Result<(), StoreError> {
        match self.last_read.get() {
            Some(read) if read != self.last_at_begin.get() => Err(self.grown()),
            _ => Ok(()),
        }
    }

    /// The act is about to change a name of those that there are now.
    ///
    /// # Errors
    /// `Grown` when they are not those that were read.
    pub fn say_name(&self, now: &[(PersonTag, String)]) -> Result<(), StoreError> {
        self.say()?;
        match self.names_read.replace(None) {
            Some(read) if read != now => Err(self.grown()),
            _ => Ok(()),
        }
    }

    /// The act was kept.
    pub fn kept(&self, connection: &Connection) {
        if self.has_said.get() {
            self.has_kept.set(true);
            self.forget();
            let before = self.last_at_begin.get();
            // Only told to the maker: whether it can be read changes nothing that was kept.
            if let Some(last) = last(connection).ok().filter(|last| *last > before) {
                let first = self.kept_entries.get().map_or(EntryId(before + 1), |(first, _)| first);
                self.kept_entries.set(Some((first, EntryId(last))));
            }
        }
    }

    /// What was kept, for whoever goes on telling it when the database is closed.
    pub fn kept_entries(&self) -> KeptEntries {
        Rc::clone(&self.kept_entries)
    }

    /// Whether anything that was said was kept.
    pub fn has_kept(&self) -> Rc<Cell<bool>> {
        Rc::clone(&self.has_kept)
    }

    fn grown(&self) -> StoreError {
        self.forget();
        if self.has_kept.get() { StoreError::GrownHalf } else { StoreError::Grown }
    }
}

fn last(connection: &Connection) -> rusqlite::Result<i64> {
    connection.prepare_cached("SELECT coalesce(max(id), 0) FROM entry")?.query_row((), |row| row.get(0))
}
