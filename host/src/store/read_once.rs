//! The records as they were read, for as long as nobody changes them: a command asks for them several times, and a page that stays
//! open holds them for days while others note sessions and care.

use std::cell::RefCell;
use std::rc::Rc;

use rusqlite::Connection;

use super::content_sum::{self, CONFLICT, Content, EVENT, HELLO, LOG, Mark, RAW_RECORD, SEGMENT, UNREADABLE};
use super::derive::RecordReader;
use super::failure::Fault;
use super::{facts, moment};
use host_core::records::log_records::LogRecords;

/// What the logs are made from.
const READ: [&Content; 7] = [&HELLO, &LOG, &RAW_RECORD, &SEGMENT, &EVENT, &UNREADABLE, &CONFLICT];

/// The logs, and the sums of what they were made from.
#[derive(Debug, Default)]
pub struct ReadOnce {
    read: RefCell<Option<Read>>,
}

#[derive(Debug)]
struct Read {
    marks: Vec<Mark>,
    logs: Rc<[LogRecords]>,
}

impl ReadOnce {
    /// Everything known of every log; read anew when it has changed since, by whomever, or an act that changed it was undone.
    ///
    /// # Errors
    /// As SQLite; the damage when it does not read as it was written.
    pub fn logs(&self, connection: &Connection, reading: &RecordReader) -> Result<Rc<[LogRecords]>, Fault> {
        let _moment = moment::begin(connection)?;
        let marks = content_sum::marks(connection, &READ)?;
        if let Some(read) = &*self.read.borrow()
            && read.marks == marks
        {
            return Ok(Rc::clone(&read.logs));
        }
        let logs: Rc<[LogRecords]> = facts::all(connection, reading)?.into();
        self.read.replace(Some(Read { marks, logs: Rc::clone(&logs) }));
        Ok(logs)
    }
}
