//! What `rescue` put into a new database, and what it had to leave.

use std::path::PathBuf;

use serde::Serialize;

/// What was saved of a damaged database.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct RescueReport {
    /// The damaged file.
    pub from: PathBuf,
    /// The new one.
    pub into: PathBuf,
    /// Whether nothing is known to be missing.
    pub is_whole: bool,
    /// Entries of the maker that were saved.
    pub entries: u64,
    /// Times that a logger was heard, saved.
    pub hearings: u64,
    /// Records of loggers that were saved.
    pub records: u64,
    /// Names of people that were saved.
    pub names: u64,
    /// What is missing.
    pub missing: Vec<Missing>,
}

/// Something that could not be read, or not as it was written.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[serde(tag = "what", rename_all = "snake_case")]
pub enum Missing {
    /// An entry.
    Entry {
        /// Its number.
        entry: i64,
        /// What it reads now; something in it is wrong. None when it cannot be read at all.
        reads: Option<String>,
    },
    /// How a logger stood when it was heard.
    Hearing {
        /// Its number in the order of hearing.
        hearing: i64,
    },
    /// Records of a log.
    Records {
        /// The logger and its log, by their hexadecimal names.
        log: String,
        /// Which: variant, first and last number, with commas between.
        numbers: String,
    },
    /// A name.
    Name {
        /// The person's number.
        person: i64,
        /// What it reads now.
        reads: String,
    },
    /// What was written last: the journal beside the file is damaged.
    Newest,
    /// A table that should hold more rows, of which not even the number is known.
    Rows {
        /// The table.
        table: &'static str,
        /// How many; none when that cannot be told either.
        rows: Option<u64>,
    },
}
