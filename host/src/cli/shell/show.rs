//! How every command ends: words for the maker or one JSON object for programs, from the same struct, on standard output.

use std::cell::Cell;
use std::io::{ErrorKind, Write};
use std::path::Path;

use serde::Serialize;

use super::failure::{Failure, UNPRINTED};
use super::out_file::OutFile;
use crate::view;

/// Prints a report: as JSON if that was asked for, else in words.
///
/// # Errors
/// When standard output does not take it, or it cannot be written as JSON, which is a mistake of the program.
pub fn report<R: Serialize>(
    report: &R,
    as_json: bool,
    in_words: impl FnOnce(&R) -> String,
) -> Result<(), Failure> {
    if as_json { json(report) } else { words(&in_words(report)) }
}

/// Prints a report as one JSON object.
///
/// # Errors
/// When standard output does not take it, or it cannot be written as JSON, which is a mistake of the program.
pub fn json<R: Serialize>(report: &R) -> Result<(), Failure> {
    let object = view::words::json::object(report).map_err(|error| {
        Failure::other("json::write", "the answer cannot be written as JSON", "Ask without --json.")
            .because(error)
    })?;
    HAS_SHOWN_DATA.set(true);
    words(&object)
}

thread_local! {
    static HAS_SHOWN_DATA: Cell<bool> = const { Cell::new(false) };
}

/// Whether this run has answered with a JSON object or a file, which nothing may follow.
pub fn has_shown_data() -> bool {
    HAS_SHOWN_DATA.get()
}

/// Prints text for the maker; its last line ends with exactly one line break.
///
/// # Errors
/// When standard output does not take it.
pub fn words(text: &str) -> Result<(), Failure> {
    let mut out = anstream::stdout().lock();
    printed(writeln!(out, "{}", text.trim_end_matches('\n')).and_then(|()| out.flush()))
}

/// Prints byte for byte, for a file whose line breaks are its own.
///
/// # Errors
/// When standard output does not take it.
pub fn bytes(content: &[u8]) -> Result<(), Failure> {
    HAS_SHOWN_DATA.set(true);
    let mut out = std::io::stdout().lock();
    printed(out.write_all(content).and_then(|()| out.flush()))
}

/// Writes a file that was asked for, whole or not at all.
///
/// # Errors
/// When it cannot be written; `code` says for what, `remedy` what to try.
pub fn file(path: &Path, content: &[u8], code: &'static str, remedy: &str) -> Result<(), Failure> {
    OutFile::prepare(path, content).and_then(OutFile::put_in_place).map_err(|error| {
        let full = error.kind() == ErrorKind::StorageFull;
        let remedy = if full { "Make room on the disk and try again." } else { remedy };
        Failure::bad_input(code, format!("cannot write {}", path.display()), remedy).because(error)
    })
}

thread_local! {
    /// Whether somebody stopped reading before the end.
    static IS_CLOSED: Cell<bool> = const { Cell::new(false) };
}

/// Whether somebody stopped reading standard output before its end.
pub fn is_closed() -> bool {
    IS_CLOSED.get()
}

fn printed(done: std::io::Result<()>) -> Result<(), Failure> {
    match done {
        // Whoever reads us has read enough.
        Err(error) if error.kind() == ErrorKind::BrokenPipe => {
            IS_CLOSED.set(true);
            Ok(())
        }
        Err(error) => Err(Failure::other(
            UNPRINTED,
            "the answer could not be printed",
            "Is the disk full, to which it is written?",
        )
        .because(error)),
        Ok(()) => Ok(()),
    }
}
