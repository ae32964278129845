//! Errors of the ports, each with its code and what to try.

use std::path::PathBuf;

use miette::Diagnostic;
use shared_types::link::Refusal;
use thiserror::Error;

use super::contradiction::Contradiction;

/// Why a logger could not be read.
#[derive(Debug, Error, Diagnostic)]
#[non_exhaustive]
pub enum LoggerError {
    /// The port or file cannot be opened.
    #[error("cannot open {place}")]
    #[diagnostic(
        code(logger::open),
        help(
            "Is the cable in, and does no other program hold the port? `needlehours doctor` lists the ports and missing rights."
        )
    )]
    Open {
        /// The port or file.
        place: String,
        /// What the system said.
        #[source]
        source: std::io::Error,
    },
    /// Another command of this program is at the port.
    #[error("the port {place} is in use: {by}")]
    #[diagnostic(
        code(logger::held),
        help(
            "One command at a time reads a logger. Nothing was read or changed; the same command works when the other has ended."
        )
    )]
    Held {
        /// The port.
        place: String,
        /// Who holds it and what ends that, in words.
        by: &'static str,
    },
    /// The connection broke.
    #[error("lost the connection to {place}")]
    #[diagnostic(
        code(logger::lost),
        help("The cable was probably pulled. What had arrived is kept; plug it in and pull again.")
    )]
    Lost {
        /// The port or file.
        place: String,
        /// What the system said.
        #[source]
        source: std::io::Error,
    },
    /// Nothing came back in time.
    #[error("{place} did not answer")]
    #[diagnostic(
        code(logger::silent),
        help(
            "Unplug the logger, plug it in again and repeat; if it stays silent, run `needlehours doctor`."
        )
    )]
    Silent {
        /// The port or file.
        place: String,
    },
    /// Something came back that is no logger's answer.
    #[error("{place} answered with something that is not a logger's message ({what})")]
    #[diagnostic(
        code(logger::other),
        help("Another device is probably on this port. Name the right one with --port.")
    )]
    NotALogger {
        /// The port or file.
        place: String,
        /// What came.
        what: String,
    },
    /// The logger speaks a newer link version.
    #[error("the logger at {place} speaks link version {version}, which this program does not know")]
    #[diagnostic(
        code(logger::newer),
        help("Install a newer Needlehours; the records stay safe on the logger.")
    )]
    NewerLink {
        /// The port or file.
        place: String,
        /// Its version.
        version: u8,
    },
    /// The logger said no.
    #[error("the logger refused: {0:?}")]
    #[diagnostic(code(logger::refused), help("Run `needlehours doctor` to see how the logger stands."))]
    Refused(Refusal),
    /// Two things that it says cannot both be true.
    #[error("the logger at {place} contradicts itself: {what}")]
    #[diagnostic(
        code(logger::contradicts),
        help(
            "What it says was not believed, and it was not told that anything is safe. Unplug it, plug it in again and pull once more; if it happens again, keep a copy with `needlehours pull --save FILE` and put other firmware on it."
        )
    )]
    Contradicts {
        /// The port or file.
        place: String,
        /// What.
        what: Contradiction,
    },
    /// A saved file can be read, not talked to.
    #[error("{place} is a saved log; it cannot be told anything")]
    #[diagnostic(code(logger::saved), help("Connect the logger itself for this."))]
    ReadOnly {
        /// The file.
        place: String,
    },
}

/// Why the database could not be used.
#[derive(Debug, Error, Diagnostic)]
#[non_exhaustive]
pub enum StoreError {
    /// The file cannot be opened or created.
    #[error("cannot open the database {}", path.display())]
    #[diagnostic(
        code(db::open),
        help("Check that the folder exists and that you may write to it, or name another file with --db.")
    )]
    Open {
        /// The file.
        path: PathBuf,
        /// What went wrong.
        #[source]
        source: Box<dyn std::error::Error + Send + Sync>,
    },
    /// The folder in which it should be is not there; one that was not made can only be mistyped.
    #[error("there is no folder {} for the database {}", folder.display(), path.display())]
    #[diagnostic(
        code(db::folder),
        help(
            "Check how it is written after --db or in NEEDLEHOURS_DB, or make the folder first. Nothing was made."
        )
    )]
    NoFolder {
        /// The folder.
        folder: PathBuf,
        /// The file.
        path: PathBuf,
    },
    /// The file is something else.
    #[error("{} is not a Needlehours database", path.display())]
    #[diagnostic(code(db::foreign), help("Name the right file with --db. Nothing was changed."))]
    Foreign {
        /// The file.
        path: PathBuf,
    },
    /// A newer program wrote it.
    #[error("{} was written by a newer Needlehours (version {found} of the database, this program knows {known})", path.display())]
    #[diagnostic(code(db::newer), help("Install the newer Needlehours that wrote it. Nothing was changed."))]
    Newer {
        /// The file.
        path: PathBuf,
        /// Its version.
        found: u32,
        /// The newest version this program knows.
        known: u32,
    },
    /// Others have added to the book since it was read for this act. This run has kept nothing before, so that all of it can be
    /// done again.
    #[error("something else was entered at the same moment, so this was not kept")]
    #[diagnostic(code(db::grown), help("Look at what is there now, then enter it again."))]
    Grown,
    /// The same of a run that has kept something before.
    #[error("something else was entered at the same moment, so this was not kept")]
    #[diagnostic(
        code(db::grown_half),
        help(
            "Look at what is there now, then enter the rest again; what this run kept before is still there."
        )
    )]
    GrownHalf,
    /// What was named as the database is no file's name.
    #[error("\"{}\" is no name of a file", path.display())]
    #[diagnostic(
        code(db::no_file),
        help(
            "Name a file after --db or in NEEDLEHOURS_DB, as you would save a letter: for example studio.db. Nothing was made."
        )
    )]
    NoFile {
        /// What was named.
        path: PathBuf,
    },
    /// The database lies where nothing can be written.
    #[error("nothing can be written to the database {}", path.display())]
    #[diagnostic(
        code(db::read_only),
        help(
            "It can be read here. To enter something, copy it to a disk that can be written with `needlehours backup`, and name the copy with --db."
        )
    )]
    ReadOnly {
        /// The file.
        path: PathBuf,
    },
    /// The database lies where nothing can be written, and must be written to before it can be read.
    #[error("the database {} cannot be read where nothing can be written, because {why}", path.display())]
    #[diagnostic(
        code(db::not_readable),
        help(
            "Copy it, with the files beside it whose names begin like its own, to a disk that can be written, and name the copy with --db. Nothing was changed."
        )
    )]
    NotReadable {
        /// The file.
        path: PathBuf,
        /// Why.
        why: &'static str,
    },
    /// The computer's clock is so far from the newest entry that one of the two is wrong.
    #[error("the computer's clock says {now}, but the newest entry is of {newest}")]
    #[diagnostic(
        code(db::clock),
        help(
            "Set the computer's clock if it is wrong. If it is right, repeat the command with --clock-is-right. Nothing was noted."
        )
    )]
    ClockInDoubt {
        /// The day by the clock.
        now: String,
        /// The day of the newest entry.
        newest: String,
    },
    /// Somebody else is writing.
    #[error("the database is in use by another run of the program")]
    #[diagnostic(
        code(db::busy),
        help("Another run is probably still going on; wait until it has ended and try again.")
    )]
    Busy,
    /// No room on the disk.
    #[error("the disk is full; nothing was changed")]
    #[diagnostic(code(db::full), help("Make room on the disk and try again; what was kept before is whole."))]
    DiskFull,
    /// What should be made is there already.
    #[error("there is already a file {}", path.display())]
    #[diagnostic(code(db::there), help("Name a file that is not there yet. Nothing was changed."))]
    IsThere {
        /// The file.
        path: PathBuf,
    },
    /// Something that can be made anew from the loggers' records does not read as it was written.
    #[error(
        "the database is damaged: {what} cannot be read as they were written, so nothing is told from them"
    )]
    #[diagnostic(
        code(db::sums),
        help("The loggers' records decide: `needlehours verify --renew` makes the sums anew from them.")
    )]
    SumsDamaged {
        /// What, in the maker's words.
        what: &'static str,
    },
    /// Something else does not read as it was written.
    #[error(
        "the database is damaged: {what} cannot be read as they were written, so nothing is told from them"
    )]
    #[diagnostic(
        code(db::damaged),
        help(
            "Enter nothing more. `needlehours rescue NEW.db` puts everything that is whole into a new database and lists \
             what is missing; the damaged file stays as it is."
        )
    )]
    Damaged {
        /// What, in the maker's words.
        what: &'static str,
        /// What the database said; none where it noticed nothing.
        #[source]
        source: Option<Box<dyn std::error::Error + Send + Sync>>,
    },
    /// Anything else that the database said.
    #[error("the database could not {doing}")]
    #[diagnostic(
        code(db::failed),
        help("Run `needlehours doctor`; the message above is what the database said.")
    )]
    Failed {
        /// What was being done.
        doing: &'static str,
        /// What went wrong.
        #[source]
        source: Box<dyn std::error::Error + Send + Sync>,
    },
}
