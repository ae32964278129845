//! What the maker sees when something fails: what happened, the likely cause, what to try.

use std::error::Error;
use std::fmt;
use std::process::ExitCode;

use miette::Diagnostic;

use super::exit;
use crate::app::ports::{LoggerError, StoreError};

/// The code of an answer that could not be printed.
pub const UNPRINTED: &str = "output";
/// What is said of an entry whose answer could not be printed.
pub const KEPT: &str = "what you entered was kept, so do not enter it again";

/// The code of a clock that is in doubt.
const CLOCK: &str = "db::clock";

/// The code of what can be done again as a whole, because others entered something at the same moment.
const GROWN: &str = "db::grown";

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

    /// Whether the same command may succeed at once, or tell why not: nothing of it was kept, and what was in its way is whole.
    pub fn is_worth_another_try(&self) -> bool {
        self.code == GROWN
    }

    /// Whether the maker can say that the computer's clock is right, and all is well.
    pub fn doubts_clock(&self) -> bool {
        self.code == CLOCK
    }

    /// Says besides whether what was entered was kept, where the answer could not be printed.
    pub fn with_kept(mut self, is_kept: bool) -> Self {
        if self.code == UNPRINTED {
            self.what = format!("{}; {}", self.what, if is_kept { KEPT } else { "nothing was entered" });
        }
        self
    }

    /// The same command would not do the same again.
    pub fn not_again(mut self) -> Self {
        if self.code == GROWN {
            self.code = "db::grown_pull";
        }
        self
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
            StoreError::Grown { nothing_kept: true } => {
                (GROWN, "Look at what is there now, then enter it again.")
            }
            StoreError::Grown { nothing_kept: false } => (
                "db::grown_half",
                "Look at what is there now, then enter the rest again; what this run kept before is still there.",
            ),
            StoreError::NoFile { .. } => (
                "db::no_file",
                "Name a file after --db or in NEEDLEHOURS_DB, as you would save a letter: for example studio.db. Nothing was made.",
            ),
            StoreError::ReadOnly { .. } => (
                "db::read_only",
                "It can be read here. To enter something, copy it to a disk that can be written with `needlehours backup`, and name the copy with --db.",
            ),
            StoreError::NotReadable { .. } => (
                "db::not_readable",
                "Copy it, with the files beside it whose names begin like its own, to a disk that can be written, and name the copy with --db. Nothing was changed.",
            ),
            StoreError::ClockInDoubt { .. } => (
                CLOCK,
                "Set the computer's clock if it is wrong. If it is right, repeat the command with --clock-is-right. Nothing was noted.",
            ),
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
