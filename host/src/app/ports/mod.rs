//! Ports of the use cases: traits over logger, store and clock. Adapters stand in `logger_link`, `store` and `cli`.

pub mod book;
pub mod contradiction;
mod error;
pub mod logger_name;

use std::rc::Rc;

use shared_types::link::{Diagnostics, Live, LoggerStatus, Refusal};
use shared_types::log::Settings;
use shared_types::{BootId, LogId, MachineTag, RecordSeq, Totals, UptimeMillis, UtcMillis};

pub use error::{LoggerError, StoreError};
use host_core::entries::{EntryBody, EntryId, InForce};
use host_core::records::log_records::{LogKey, LogRecords};

/// The wall clock and the zone in which the maker's days begin and end.
pub trait Clock {
    /// Now.
    fn now(&self) -> UtcMillis;
    /// The maker's time zone.
    fn zone(&self) -> jiff::tz::TimeZone;
}

/// A logger, on a cable, in a saved file, or simulated.
pub trait Logger {
    /// Asks for its identity and state.
    ///
    /// # Errors
    /// When it does not answer, or with something else.
    fn status(&mut self) -> Result<LoggerStatus, LoggerError>;
    /// Asks for records from a number on.
    ///
    /// # Errors
    /// As `status`; a refusal when the log is not the one that is there.
    fn read_from(&mut self, log: LogId, from: RecordSeq) -> Result<Batch, LoggerError>;
    /// Says that everything below a number is safe.
    ///
    /// # Errors
    /// As `status`.
    fn acknowledge(&mut self, log: LogId, below: RecordSeq) -> Result<(), LoggerError>;
    /// Tells it the time.
    ///
    /// # Errors
    /// As `status`.
    fn set_clock(&mut self, utc: UtcMillis) -> Result<(), LoggerError>;
    /// Gives it settings.
    ///
    /// # Errors
    /// As `status`.
    fn apply(&mut self, settings: Settings) -> Result<(), LoggerError>;
    /// Tells it on which machine it sits.
    ///
    /// # Errors
    /// As `status`.
    fn fit(&mut self, machine: MachineTag) -> Result<(), LoggerError>;
    /// Asks for a sample of the inputs.
    ///
    /// # Errors
    /// As `status`.
    fn live(&mut self) -> Result<Live, LoggerError>;
    /// Asks for its diagnostic counters.
    ///
    /// # Errors
    /// As `status`; a refusal when its firmware does not tell.
    fn diagnostics(&mut self) -> Result<Diagnostics, LoggerError> {
        Err(LoggerError::Refused(Refusal::NotUnderstood))
    }
    /// Where it is, in words for the maker: a port, a file, "simulated".
    fn place(&self) -> String;
    /// Whether it is a saved log: it cannot be told anything, and what it lacks the logger may still have.
    fn is_saved(&self) -> bool {
        false
    }
    /// Bytes that came over the link so far, frames and all; zero where nobody counts.
    fn bytes_received(&self) -> u64 {
        0
    }
    /// What came and could not be used so far.
    fn skipped(&self) -> Skipped {
        Skipped::default()
    }
}

/// One port of the computer.
#[derive(Clone, Debug, PartialEq, Eq, serde::Serialize)]
pub struct PortSeen {
    /// Its name, as `--port` takes it.
    pub port: String,
    /// How the device on it calls itself, where it does.
    pub device: Option<String>,
    /// Whether the device says that it is a logger.
    pub is_logger: bool,
}

/// What came from a logger or a file and could not be used; none of it was taken for a record.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, serde::Serialize)]
pub struct Skipped {
    /// Frames that were damaged or no message of a logger.
    pub damaged_frames: u64,
    /// Whole messages of another logger or log, or before the file said whose records it holds.
    pub foreign_frames: u64,
    /// Whether the last frame of a file stops in the middle.
    pub cut_short: bool,
}

/// Some records as they came.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Batch {
    /// The records.
    pub records: Vec<RawRecord>,
    /// Where to go on.
    pub next: RecordSeq,
    /// Whether there was nothing more.
    pub end: bool,
    /// Bytes at the end of the batch that could not be taken apart.
    pub unreadable_bytes: usize,
}

/// A record's number and its bytes, whether or not this program can read them.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RawRecord {
    /// Its number.
    pub seq: RecordSeq,
    /// Its body: version byte and postcard.
    pub body: Vec<u8>,
}

/// Where records and entries are kept.
pub trait Store {
    /// Does what belongs together as one act: all that it keeps is kept when it ends well, and nothing when it fails or the
    /// program is ended on the way. An act inside an act is a part of it. What fails inside must make the act fail.
    ///
    /// # Errors
    /// As the act, or when the database does not take it; nothing of it is kept then.
    fn together<T, E: From<StoreError>>(
        &mut self,
        act: impl FnOnce(&mut Self) -> Result<T, E>,
    ) -> Result<T, E>
    where
        Self: Sized;
    /// Adds an entry; returns its number.
    ///
    /// # Errors
    /// When the database does not take it; nothing is kept then.
    fn add_entry(&mut self, entered_at: UtcMillis, body: &EntryBody) -> Result<EntryId, StoreError>;
    /// Adds the entries of one act, all or none.
    ///
    /// # Errors
    /// When the database does not take one of them; nothing is kept then.
    fn add_entries(&mut self, entered_at: UtcMillis, bodies: &[EntryBody]) -> Result<(), StoreError>;
    /// The entries in force, in the order of arrival. What is added afterwards outside of an act is refused as `Grown`
    /// when others have added to them since.
    ///
    /// # Errors
    /// When the database cannot be read.
    fn entries(&self) -> Result<InForce<'static>, StoreError>;
    /// From here on only what is read again binds what is written: for whoever has waited for an answer since the last reading.
    fn read_anew(&mut self) {}
    /// Notes that a logger was heard, and how it stood.
    ///
    /// # Errors
    /// When the database does not take it.
    fn note_status(&mut self, at: UtcMillis, status: &LoggerStatus, place: &str) -> Result<(), StoreError>;
    /// The first record number not yet held of a log.
    ///
    /// # Errors
    /// When the database cannot be read.
    fn first_missing(&self, log: LogKey) -> Result<RecordSeq, StoreError>;
    /// The numbers below one that are not held of a log, whether or not the logger still has them, in order.
    ///
    /// # Errors
    /// When the database cannot be read.
    fn missing(&self, log: LogKey, below: RecordSeq) -> Result<Vec<Gap>, StoreError>;
    /// Keeps records, all or none, and says what was new. On `Ok` they are safe on disk.
    ///
    /// # Errors
    /// When the database does not take them; nothing is kept then.
    fn keep_records(&mut self, at: UtcMillis, log: LogKey, records: &[RawRecord])
    -> Result<Kept, StoreError>;
    /// Everything known of every log; read once until somebody changes it.
    ///
    /// # Errors
    /// When the database cannot be read.
    fn logs(&self) -> Result<Rc<[LogRecords]>, StoreError>;
    /// Notes that the logger itself has no records from `from` to below `below`, so that they are not asked for again.
    ///
    /// # Errors
    /// When the database does not take it.
    fn note_gone(&mut self, log: LogKey, from: RecordSeq, below: RecordSeq) -> Result<(), StoreError>;
    /// How loggers with a readable log stood whenever they were heard, in that order; without what cannot be true beside the
    /// records and what was said later.
    ///
    /// # Errors
    /// When the database cannot be read.
    fn status_reports(&self) -> Result<Vec<StatusReport>, StoreError>;
    /// What is held of one log, in sums.
    ///
    /// # Errors
    /// When the database cannot be read.
    fn holding(&self, log: LogKey) -> Result<Holding, StoreError>;
}

/// What is held of one log, in sums.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Holding {
    /// Numbers held.
    pub records: u64,
    /// Run time and edges of all segments held.
    pub counted: Totals,
    /// Numbers missing below the furthest that the logger was ever heard to have written.
    pub gaps: Vec<Gap>,
    /// Numbers of which two records with different bytes were received.
    pub conflicting: u64,
    /// Records kept that this program cannot read.
    pub unreadable: u64,
    /// Boot and uptime of the latest segment held.
    pub latest: Option<(BootId, UptimeMillis)>,
}

/// Record numbers that are missing.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize)]
pub struct Gap {
    /// The first.
    pub from: RecordSeq,
    /// The last, included.
    pub to: RecordSeq,
}

/// How a logger stood when it was heard.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct StatusReport {
    /// When, by the computer's clock.
    pub at: UtcMillis,
    /// Where.
    pub place: String,
    /// Which logger and log.
    pub key: LogKey,
    /// The oldest number that was still there.
    pub oldest: RecordSeq,
    /// The number that the next record would have got.
    pub next: RecordSeq,
    /// Lifetime totals when its log was formatted.
    pub formatted_with: Totals,
    /// Lifetime totals then.
    pub totals: Totals,
    /// Its firmware, for example "0.1.0".
    pub firmware: String,
}

/// What became of received records.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Kept {
    /// Seen for the first time.
    pub new: u64,
    /// Already there, byte for byte.
    pub known: u64,
    /// There with other bytes; both are kept.
    pub conflicting: u64,
    /// Among the new ones, those that this program cannot read.
    pub unreadable: u64,
    /// Run time and edges of the segments among the new ones.
    pub run_and_edges: Totals,
    /// The lowest new number.
    pub new_from: Option<RecordSeq>,
    /// The highest new number.
    pub new_to: Option<RecordSeq>,
}
