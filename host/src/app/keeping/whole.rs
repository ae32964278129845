//! What of an export gives the database back: its parts, and the list of its files with their sums.

use std::fmt;
use std::path::PathBuf;

use serde::{Deserialize, Serialize};
use shared_types::UtcMillis;

use super::backup::Holds;

/// The version of exports. It grows when an older program could no longer take one in.
pub const EXPORT_VERSION: u32 = 1;

/// What every list of contents says that it is.
pub const WHAT: &str = "needlehours export";

/// Letters of a studio's name.
const DIGITS: usize = 16;

/// The lasting name of a studio: `s` and 16 hexadecimal digits from the first link of its chain. It says nothing of anybody, and a
/// copy of the database has the same.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(transparent)]
pub struct StudioId(pub String);

impl StudioId {
    /// From the first link, in hexadecimal; all zeros while nothing was ever kept.
    #[must_use]
    pub fn of(first_link: Option<&str>) -> Self {
        let digits = first_link.map(|link| link.chars().take(DIGITS).collect());
        Self(format!("s{}", digits.unwrap_or_else(|| "0".repeat(DIGITS))))
    }
}

impl fmt::Display for StudioId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

/// A part of what is kept; each is a file of JSON lines.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum WholePart {
    /// Which logs there are.
    Logs,
    /// The maker's entries.
    Entries,
    /// How loggers stood when they were heard.
    Status,
    /// Records as they were received.
    Records,
    /// What loggers no longer have.
    Missing,
    /// The chain.
    Chain,
    /// Which steps of the chain were made later.
    ChainedLater,
    /// People's names; only on request.
    Names,
}

impl WholePart {
    /// All of them, in the order in which they are put back.
    pub const ALL: [Self; 8] = [
        Self::Logs,
        Self::Entries,
        Self::Status,
        Self::Records,
        Self::Missing,
        Self::Chain,
        Self::ChainedLater,
        Self::Names,
    ];

    /// Its file, inside an export.
    #[must_use]
    pub const fn file(self) -> &'static str {
        match self {
            Self::Logs => "whole/logs.jsonl",
            Self::Entries => "whole/entries.jsonl",
            Self::Status => "whole/status.jsonl",
            Self::Records => "whole/records.jsonl",
            Self::Missing => "whole/missing.jsonl",
            Self::Chain => "whole/chain.jsonl",
            Self::ChainedLater => "whole/chained_later.jsonl",
            Self::Names => "whole/names.jsonl",
        }
    }
}

/// What an export says of itself.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Contents {
    /// [`WHAT`].
    pub what: String,
    /// [`EXPORT_VERSION`] of the program that wrote it.
    pub export_version: u32,
    /// The version of the database's tables.
    pub database_version: u32,
    /// The program that wrote it.
    pub program: String,
    /// The studio.
    pub studio: StudioId,
    /// The maker's time zone, by which local days begin and end.
    pub zone: String,
    /// When it was exported.
    pub exported_utc_ms: UtcMillis,
    /// The head of the chain.
    pub head: String,
    /// Whether people's names are in it.
    pub with_names: bool,
    /// The highest number that was ever given to an entry.
    pub last_entry: i64,
    /// The highest number that was ever given to a status report.
    pub last_status: i64,
    /// Every file but this list and its sum.
    pub files: Vec<FileSum>,
}

/// A file and what it should be.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct FileSum {
    /// Its name inside the export, with `/` between folders.
    pub file: String,
    /// Its length.
    pub bytes: u64,
    /// SHA-256 (FIPS 180-4) over its bytes, in hexadecimal.
    pub sha256: String,
}

/// What `export` wrote.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct ExportReport {
    /// Where it lies.
    pub folder: PathBuf,
    /// The studio.
    pub studio: StudioId,
    /// The head of the chain.
    pub head: String,
    /// Whether people's names are in it.
    pub with_names: bool,
    /// The tables.
    pub tables: Vec<TableRows>,
}

/// A table and its rows.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct TableRows {
    /// The table.
    pub table: &'static str,
    /// How many rows.
    pub rows: u64,
}

/// What `import` made.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct ImportReport {
    /// The export.
    pub folder: PathBuf,
    /// The new database.
    pub database: PathBuf,
    /// The studio.
    pub studio: StudioId,
    /// The head of the chain.
    pub head: String,
    /// Whether people's names were in it.
    pub with_names: bool,
    /// What it holds.
    #[serde(flatten)]
    pub holds: Holds,
    /// Where the empty database before it lies now.
    pub kept_aside: Option<PathBuf>,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_studio_is_called_by_its_first_link() {
        assert_eq!(StudioId::of(Some(&"1f".repeat(32))).to_string(), "s1f1f1f1f1f1f1f1f");
        assert_eq!(StudioId::of(None).to_string(), "s0000000000000000");
    }
}
