//! Errors of handing everything on and taking it in, each with its code and what to try.

use std::path::PathBuf;

use miette::Diagnostic;
use thiserror::Error;

use crate::app::ports::StoreError;
use crate::app::typed::error::RequestError;

/// Why nothing was exported.
#[derive(Debug, Error, Diagnostic)]
#[non_exhaustive]
pub enum ExportError {
    /// The database cannot be read.
    #[error(transparent)]
    #[diagnostic(transparent)]
    Store(#[from] StoreError),
    /// A table cannot be worked out.
    #[error(transparent)]
    #[diagnostic(transparent)]
    Request(#[from] RequestError),
    /// What was named is no name of a folder, such as the root or `..`.
    #[error("{} is no name of a new folder", folder.display())]
    #[diagnostic(code(export::name), help("Name a folder, for example my-studio. Nothing was written."))]
    NoName {
        /// What was named.
        folder: PathBuf,
    },
    /// The folder in which it should be is not there.
    #[error("there is no folder {}", folder.display())]
    #[diagnostic(
        code(export::folder),
        help("Check how it is written, or make the folder first. Nothing was written.")
    )]
    NoFolder {
        /// The folder.
        folder: PathBuf,
    },
    /// Something else is there.
    #[error("{} is there already and is no export of this studio", folder.display())]
    #[diagnostic(
        code(export::not_empty),
        help("Name a folder that is not there yet, or an empty one. Nothing was changed.")
    )]
    NotEmpty {
        /// The folder.
        folder: PathBuf,
    },
    /// An earlier export is there.
    #[error("{} holds an earlier export of this studio", folder.display())]
    #[diagnostic(
        code(export::there),
        help("To put the new one in its place, add --replace. Nothing was changed.")
    )]
    IsThere {
        /// The folder.
        folder: PathBuf,
    },
    /// Somebody put something into an earlier export, which would be lost.
    #[error("{} holds an earlier export of this studio, and besides it {other}", folder.display())]
    #[diagnostic(
        code(export::added),
        help("Take it out first, or name another folder. Nothing was changed.")
    )]
    AddedTo {
        /// The folder.
        folder: PathBuf,
        /// What else is in it.
        other: String,
    },
    /// The record does not hold together, so nobody could take it in.
    #[error("the database does not hold together")]
    #[diagnostic(
        code(export::not_whole),
        help("`needlehours verify` names the places. Nothing was written.")
    )]
    NotWhole,
    /// A file cannot be written.
    #[error("cannot write {}", path.display())]
    #[diagnostic(
        code(export::write),
        help("Check that you may write there and that the disk is not full. Nothing was left of it.")
    )]
    Write {
        /// The file or folder.
        path: PathBuf,
        /// What the system said.
        #[source]
        source: Box<dyn std::error::Error + Send + Sync>,
    },
}

/// Why nothing was taken in.
#[derive(Debug, Error, Diagnostic)]
#[non_exhaustive]
pub enum ImportError {
    /// The new database cannot be made, or read when it is made.
    #[error(transparent)]
    #[diagnostic(transparent)]
    Store(#[from] StoreError),
    /// It is something else, or an export that was never finished.
    #[error("{} is no whole export of Needlehours", folder.display())]
    #[diagnostic(
        code(import::foreign),
        help("Name the folder that `needlehours export` made; it holds a folder `whole`. Nothing was made.")
    )]
    Foreign {
        /// The folder.
        folder: PathBuf,
    },
    /// A newer program wrote it.
    #[error("{} was written by a newer Needlehours ({program}: version {found} of the {of_what}, this program knows {known})", folder.display())]
    #[diagnostic(code(import::newer), help("Install the newer Needlehours. Nothing was made."))]
    Newer {
        /// The folder.
        folder: PathBuf,
        /// The program that wrote it.
        program: String,
        /// What has a version: the export or the database.
        of_what: &'static str,
        /// Its version.
        found: u32,
        /// The newest version that this program knows.
        known: u32,
    },
    /// A file of it is gone.
    #[error("{file} is missing in the export")]
    #[diagnostic(
        code(import::missing),
        help("Copy the export again, the whole folder; or have it exported again. Nothing was made.")
    )]
    Missing {
        /// The file, inside the export.
        file: String,
    },
    /// A file of it has another length: it was cut, or something was added.
    #[error("{file} has {bytes} bytes and should have {should}, so it was probably copied in part")]
    #[diagnostic(
        code(import::length),
        help("Copy the export again, the whole folder; or have it exported again. Nothing was made.")
    )]
    Length {
        /// The file, inside the export.
        file: String,
        /// Bytes that it has.
        bytes: u64,
        /// Bytes that it should have.
        should: u64,
    },
    /// A file of it was changed.
    #[error("{file} is not as it was exported: its sum does not fit")]
    #[diagnostic(
        code(import::changed),
        help("Copy the export again, the whole folder; or have it exported again. Nothing was made.")
    )]
    Changed {
        /// The file, inside the export.
        file: String,
    },
    /// A table of it, which the database does not need, is not as it was exported.
    #[error("a table of the export is not as it was exported: {why}")]
    #[diagnostic(
        code(import::tables),
        help(
            "The tables beside it are not read for the database. To take in what is in `whole` alone, add --whole-only. Nothing was made."
        )
    )]
    Tables {
        /// What is wrong with which file.
        #[source]
        why: Box<ImportError>,
    },
    /// What it says of itself cannot be read, although its sum fits.
    #[error("{file} says something that this program does not understand")]
    #[diagnostic(
        code(import::contents),
        help("Have it exported again by Needlehours itself. Nothing was made.")
    )]
    Contents {
        /// The file, inside the export.
        file: String,
        /// What is wrong.
        #[source]
        source: Box<dyn std::error::Error + Send + Sync>,
    },
    /// A line of it cannot be kept, although its sum fits.
    #[error("line {line} of {file} cannot be taken in: {why}")]
    #[diagnostic(code(import::line), help("Have it exported again by Needlehours itself. Nothing was made."))]
    Line {
        /// The file, inside the export.
        file: String,
        /// The line, from 1 on.
        line: u64,
        /// What is wrong.
        why: String,
    },
    /// The sums fit, but the record itself does not hold.
    #[error("the record in the export does not hold together: {why}")]
    #[diagnostic(
        code(import::not_whole),
        help("It was changed by hand. Have it exported again, or take a backup. Nothing was made.")
    )]
    NotWhole {
        /// What does not hold.
        why: String,
    },
    /// A database that holds something is never replaced.
    #[error("there is a database already at {}, and it holds something", path.display())]
    #[diagnostic(
        code(import::not_empty),
        help("Name a new one: needlehours import DIR --db NEW.db. Nothing was changed.")
    )]
    NotEmpty {
        /// The database.
        path: PathBuf,
    },
    /// A file cannot be read.
    #[error("cannot read {}", path.display())]
    #[diagnostic(
        code(import::read),
        help("Check that you may read it and that the disk is well. Nothing was made.")
    )]
    Read {
        /// The file.
        path: PathBuf,
        /// What the system said.
        #[source]
        source: std::io::Error,
    },
}
