//! The records as they were read, for as long as nobody changes them: a command asks for them several times.

use std::cell::RefCell;
use std::rc::Rc;

use rusqlite::Connection;

use super::derive::RecordReader;
use super::failure::Fault;
use super::{facts, moment};
use host_core::records::log_records::LogRecords;

/// The logs, and SQLite's number of what others have written so far.
#[derive(Debug, Default)]
pub struct ReadOnce {
    read: RefCell<Option<(i64, Rc<[LogRecords]>)>>,
}

impl ReadOnce {
    /// Everything known of every log, read anew when others have written since.
    ///
    /// # Errors
    /// As SQLite; the damage when it does not read as it was written.
    pub fn logs(&self, connection: &Connection, reading: &RecordReader) -> Result<Rc<[LogRecords]>, Fault> {
        let _moment = moment::begin(connection)?;
        let version = connection.query_row("PRAGMA data_version", (), |row| row.get(0))?;
        if let Some((read_at, logs)) = &*self.read.borrow()
            && *read_at == version
        {
            return Ok(Rc::clone(logs));
        }
        let logs: Rc<[LogRecords]> = facts::all(connection, reading)?.into();
        self.read.replace(Some((version, Rc::clone(&logs))));
        Ok(logs)
    }

    /// This run has changed the records, or an act that may have done so was undone.
    pub fn forget(&self) {
        self.read.replace(None);
    }
}
