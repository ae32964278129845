//! Ports of the use cases: traits over logger, store and clock. Adapters stand in `logger_link`, `store` and `cli`.

pub mod book;
pub mod contradiction;
pub mod logger_name;

use std::path::PathBuf;

use shared_types::link::{Diagnostics, Hello, Live, Refusal};
use shared_types::log::Settings;
use shared_types::{BootId, LogId, MachineTag, RecordSeq, Totals, UptimeMillis, UtcMillis};
use thiserror::Error;

use contradiction::Contradiction;
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
    /// Asks who it is and how it stands.
    ///
    /// # Errors
    /// When it does not answer, or with something else.
    fn hello(&mut self) -> Result<Hello, LoggerError>;
    /// Asks for records from a number on.
    ///
    /// # Errors
    /// As `hello`; a refusal when the log is not the one that is there.
    fn read_from(&mut self, log: LogId, from: RecordSeq) -> Result<Batch, LoggerError>;
    /// Says that everything below a number is safe.
    ///
    /// # Errors
    /// As `hello`.
    fn acknowledge(&mut self, log: LogId, below: RecordSeq) -> Result<(), LoggerError>;
    /// Tells it the time.
    ///
    /// # Errors
    /// As `hello`.
    fn set_clock(&mut self, utc: UtcMillis) -> Result<(), LoggerError>;
    /// Gives it settings.
    ///
    /// # Errors
    /// As `hello`.
    fn apply(&mut self, settings: Settings) -> Result<(), LoggerError>;
    /// Tells it on which machine it sits.
    ///
    /// # Errors
    /// As `hello`.
    fn fit(&mut self, machine: MachineTag) -> Result<(), LoggerError>;
    /// Asks what the senses see.
    ///
    /// # Errors
    /// As `hello`.
    fn live(&mut self) -> Result<Live, LoggerError>;
    /// Asks what it had to put up with since it started.
    ///
    /// # Errors
    /// As `hello`; a refusal when its firmware does not tell.
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

/// Why a logger could not be read.
#[derive(Debug, Error)]
#[non_exhaustive]
pub enum LoggerError {
    /// The port or file cannot be opened.
    #[error("cannot open {place}")]
    Open {
        /// The port or file.
        place: String,
        /// What the system said.
        #[source]
        source: std::io::Error,
    },
    /// The connection broke.
    #[error("lost the connection to {place}")]
    Lost {
        /// The port or file.
        place: String,
        /// What the system said.
        #[source]
        source: std::io::Error,
    },
    /// Nothing came back in time.
    #[error("{place} did not answer")]
    Silent {
        /// The port or file.
        place: String,
    },
    /// Something came back that is no logger's answer.
    #[error("{place} answered with something that is not a logger's message ({what})")]
    NotALogger {
        /// The port or file.
        place: String,
        /// What came.
        what: String,
    },
    /// The logger speaks a newer link version.
    #[error("the logger at {place} speaks link version {version}, which this program does not know")]
    NewerLink {
        /// The port or file.
        place: String,
        /// Its version.
        version: u8,
    },
    /// The logger said no.
    #[error("the logger refused: {0:?}")]
    Refused(Refusal),
    /// Two things that it says cannot both be true.
    #[error("the logger at {place} contradicts itself: {what}")]
    Contradicts {
        /// The port or file.
        place: String,
        /// What.
        what: Contradiction,
    },
    /// A saved file can be read, not talked to.
    #[error("{place} is a saved log; it cannot be told anything")]
    ReadOnly {
        /// The file.
        place: String,
    },
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
    fn note_hello(&mut self, at: UtcMillis, hello: &Hello, place: &str) -> Result<(), StoreError>;
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
    /// Everything known of every log.
    ///
    /// # Errors
    /// When the database cannot be read.
    fn logs(&self) -> Result<Vec<LogRecords>, StoreError>;
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
    fn heard(&self) -> Result<Vec<Heard>, StoreError>;
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
pub struct Heard {
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

/// Why the database could not be used.
#[derive(Debug, Error)]
#[non_exhaustive]
pub enum StoreError {
    /// The file cannot be opened or created.
    #[error("cannot open the database {}", path.display())]
    Open {
        /// The file.
        path: PathBuf,
        /// What went wrong.
        #[source]
        source: Box<dyn std::error::Error + Send + Sync>,
    },
    /// The folder in which it should be is not there; one that was not made can only be mistyped.
    #[error("there is no folder {} for the database {}", folder.display(), path.display())]
    NoFolder {
        /// The folder.
        folder: PathBuf,
        /// The file.
        path: PathBuf,
    },
    /// The file is something else.
    #[error("{} is not a Needlehours database", path.display())]
    Foreign {
        /// The file.
        path: PathBuf,
    },
    /// A newer program wrote it.
    #[error("{} was written by a newer Needlehours (version {found} of the database, this program knows {known})", path.display())]
    Newer {
        /// The file.
        path: PathBuf,
        /// Its version.
        found: u32,
        /// The newest version this program knows.
        known: u32,
    },
    /// Others have added to the book since it was read for this act, which is not kept.
    #[error("something else was entered at the same moment, so this was not kept")]
    Grown {
        /// Whether this run has kept nothing before, so that all of it can be done again.
        nothing_kept: bool,
    },
    /// What was named as the database is no file's name.
    #[error("\"{}\" is no name of a file", path.display())]
    NoFile {
        /// What was named.
        path: PathBuf,
    },
    /// The database lies where nothing can be written.
    #[error("nothing can be written to the database {}", path.display())]
    ReadOnly {
        /// The file.
        path: PathBuf,
    },
    /// The database lies where nothing can be written, and must be written to before it can be read.
    #[error("the database {} cannot be read where nothing can be written, because {why}", path.display())]
    NotReadable {
        /// The file.
        path: PathBuf,
        /// Why.
        why: &'static str,
    },
    /// The computer's clock is so far from the newest entry that one of the two is wrong.
    #[error("the computer's clock says {now}, but the newest entry is of {newest}")]
    ClockInDoubt {
        /// The day by the clock.
        now: String,
        /// The day of the newest entry.
        newest: String,
    },
    /// Somebody else is writing.
    #[error("the database is in use by another run of the program")]
    Busy,
    /// No room on the disk.
    #[error("the disk is full; nothing was changed")]
    DiskFull,
    /// What should be made is there already.
    #[error("there is already a file {}", path.display())]
    IsThere {
        /// The file.
        path: PathBuf,
    },
    /// Something does not read as it was written.
    #[error(
        "the database is damaged: {what} cannot be read as they were written, so nothing is told from them"
    )]
    Damaged {
        /// What, in the maker's words.
        what: &'static str,
        /// Whether it can be made anew from the loggers' records.
        is_derived: bool,
        /// What the database said; none where it noticed nothing.
        #[source]
        source: Option<Box<dyn std::error::Error + Send + Sync>>,
    },
    /// Anything else that the database said.
    #[error("the database could not {doing}")]
    Failed {
        /// What was being done.
        doing: &'static str,
        /// What went wrong.
        #[source]
        source: Box<dyn std::error::Error + Send + Sync>,
    },
}
