//! What the maker sees when something fails: what happened, the likely cause, what to try.

use std::error::Error;
use std::fmt;
use std::process::ExitCode;

use miette::Diagnostic;

use super::exit;
use crate::app::ports::{LoggerError, StoreError};

/// What to try with a logger that contradicts itself.
pub const CONTRADICTS: &str = "What it says was not believed, and it was not told that anything is safe. Unplug it, plug it in again and pull once more; if it happens again, keep a copy with `needlehours pull --save FILE` and put other firmware on it.";

/// A failure as it is told to the maker.
#[derive(Debug)]
pub struct Failure {
    exit: u8,
    code: &'static str,
    what: String,
    remedy: String,
    source: Option<Box<dyn Error + Send + Sync>>,
}

impl Failure {
    /// A value, file or table that cannot be used. `what` names it and the likely cause, `remedy` says what to try.
    pub fn bad_input(code: &'static str, what: impl Into<String>, remedy: impl Into<String>) -> Self {
        Self { exit: exit::BAD_INPUT, code, what: what.into(), remedy: remedy.into(), source: None }
    }

    /// A command that says too little to be understood.
    pub fn not_understood(code: &'static str, what: impl Into<String>, remedy: impl Into<String>) -> Self {
        Self { exit: exit::USAGE, code, what: what.into(), remedy: remedy.into(), source: None }
    }

    /// A logger that was not found, fell silent or refused.
    pub fn logger(code: &'static str, what: impl Into<String>, remedy: impl Into<String>) -> Self {
        Self { exit: exit::LOGGER, code, what: what.into(), remedy: remedy.into(), source: None }
    }

    /// Anything else that failed.
    pub fn other(code: &'static str, what: impl Into<String>, remedy: impl Into<String>) -> Self {
        Self { exit: exit::FAILED, code, what: what.into(), remedy: remedy.into(), source: None }
    }

    /// Keeps what a library or the system said.
    #[must_use]
    pub fn because(mut self, source: impl Into<Box<dyn Error + Send + Sync>>) -> Self {
        self.source = Some(source.into());
        self
    }

    /// What to try.
    pub fn remedy(&self) -> &str {
        &self.remedy
    }

    /// The exit code of the process.
    pub fn exit(&self) -> ExitCode {
        exit::code(self.exit)
    }
}

impl fmt::Display for Failure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.what)
    }
}

impl Error for Failure {
    fn source(&self) -> Option<&(dyn Error + 'static)> {
        let source: &(dyn Error + 'static) = self.source.as_deref()?;
        // An error that is told in its own words is not told twice; what caused it is.
        if source.to_string() == self.what { source.source() } else { Some(source) }
    }
}

impl Diagnostic for Failure {
    fn code<'a>(&'a self) -> Option<Box<dyn fmt::Display + 'a>> {
        Some(Box::new(self.code))
    }

    fn help<'a>(&'a self) -> Option<Box<dyn fmt::Display + 'a>> {
        Some(Box::new(&self.remedy))
    }
}

impl From<StoreError> for Failure {
    fn from(error: StoreError) -> Self {
        let (code, remedy) = match &error {
            StoreError::Open { .. } => (
                "db::open",
                "Check that the folder exists and that you may write to it, or name another file with --db.",
            ),
            StoreError::NoFolder { .. } => (
                "db::folder",
                "Check how it is written after --db or in NEEDLEHOURS_DB, or make the folder first. Nothing was made.",
            ),
            StoreError::Foreign { .. } => {
                ("db::foreign", "Name the right file with --db. Nothing was changed.")
            }
            StoreError::Newer { .. } => {
                ("db::newer", "Install the newer Needlehours that wrote it. Nothing was changed.")
            }
            StoreError::Busy => {
                ("db::busy", "Another run is probably still going on; wait until it has ended and try again.")
            }
            StoreError::DiskFull => {
                ("db::full", "Make room on the disk and try again; what was kept before is whole.")
            }
            StoreError::IsThere { .. } => {
                ("db::there", "Name a file that is not there yet. Nothing was changed.")
            }
            StoreError::Damaged { is_derived: true, .. } => (
                "db::sums",
                "The loggers' records decide: `needlehours verify --renew` makes the sums anew from them.",
            ),
            StoreError::Damaged { .. } => (
                "db::damaged",
                "Enter nothing more. `needlehours rescue NEW.db` puts everything that is whole into a new database and lists \
                 what is missing; the damaged file stays as it is.",
            ),
            StoreError::Failed { .. } => {
                ("db::failed", "Run `needlehours doctor`; the message above is what the database said.")
            }
        };
        Self {
            exit: exit::DATABASE,
            code,
            what: error.to_string(),
            remedy: remedy.to_owned(),
            source: Some(Box::new(error)),
        }
    }
}

impl From<LoggerError> for Failure {
    fn from(error: LoggerError) -> Self {
        let (code, remedy) = match &error {
            LoggerError::Open { .. } => (
                "logger::open",
                "Is the cable in, and does no other program hold the port? `needlehours doctor` lists the ports and missing rights.",
            ),
            LoggerError::Lost { .. } => (
                "logger::lost",
                "The cable was probably pulled. What had arrived is kept; plug it in and pull again.",
            ),
            LoggerError::Silent { .. } => (
                "logger::silent",
                "Unplug the logger, plug it in again and repeat; if it stays silent, run `needlehours doctor`.",
            ),
            LoggerError::NotALogger { .. } => {
                ("logger::other", "Another device is probably on this port. Name the right one with --port.")
            }
            LoggerError::NewerLink { .. } => {
                ("logger::newer", "Install a newer Needlehours; the records stay safe on the logger.")
            }
            LoggerError::Contradicts { .. } => ("logger::contradicts", CONTRADICTS),
            LoggerError::Refused(_) => {
                ("logger::refused", "Run `needlehours doctor` to see how the logger stands.")
            }
            LoggerError::ReadOnly { .. } => ("logger::saved", "Connect the logger itself for this."),
        };
        Self {
            exit: exit::LOGGER,
            code,
            what: error.to_string(),
            remedy: remedy.to_owned(),
            source: Some(Box::new(error)),
        }
    }
}
