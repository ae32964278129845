//! How every command ends: words for the maker or one JSON object for programs, from the same struct, on standard output.

use std::io::{ErrorKind, Write};

use serde::Serialize;

use super::Failure;
use crate::view::json;

/// Prints a report: as JSON if that was asked for, else in words.
///
/// # Errors
/// When standard output does not take it, or it cannot be written as JSON, which is a mistake of the program.
pub fn report<R: Serialize>(
    report: &R,
    as_json: bool,
    in_words: impl FnOnce(&R) -> String,
) -> Result<(), Failure> {
    if !as_json {
        return words(&in_words(report));
    }
    let object = json::object(report).map_err(|error| {
        Failure::other("json::write", "the answer cannot be written as JSON", "Ask without --json.")
            .because(error)
    })?;
    words(&object)
}

/// Prints text for the maker; its last line ends with exactly one line break.
///
/// # Errors
/// When standard output does not take it.
pub fn words(text: &str) -> Result<(), Failure> {
    let mut out = anstream::stdout().lock();
    match writeln!(out, "{}", text.trim_end_matches('\n')).and_then(|()| out.flush()) {
        // Whoever reads us has read enough.
        Err(error) if error.kind() == ErrorKind::BrokenPipe => Ok(()),
        Err(error) => Err(Failure::other(
            "output",
            "the answer could not be printed",
            "Is the disk full, to which it is written?",
        )
        .because(error)),
        Ok(()) => Ok(()),
    }
}
