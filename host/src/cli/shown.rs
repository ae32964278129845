//! How every command ends: words, or one JSON object, on standard output.

use std::io::Write;
use std::process::ExitCode;

use serde::Serialize;

use super::{Failure, exit};
use crate::app::dates::{self, Given};
use crate::app::ports::Clock;
use crate::view::json;

/// Prints text for the maker.
///
/// # Errors
/// When standard output does not take it.
pub fn words(text: &str) -> Result<ExitCode, Failure> {
    print(text)?;
    Ok(exit::code(exit::FINE))
}

/// Prints a report: as JSON if that was asked for, else in words.
///
/// # Errors
/// When standard output does not take it.
pub fn report<R: Serialize>(
    as_json: bool,
    report: &R,
    in_words: impl FnOnce() -> String,
) -> Result<ExitCode, Failure> {
    if !as_json {
        return words(&in_words());
    }
    let object = json::object(report).map_err(|error| {
        Failure::other("json", "the answer could not be written as JSON", "Please report this.")
            .because(error)
    })?;
    words(&object)
}

fn print(text: &str) -> Result<(), Failure> {
    let mut out = anstream::stdout().lock();
    match writeln!(out, "{text}").and_then(|()| out.flush()) {
        // Whoever reads us has read enough.
        Err(error) if error.kind() == std::io::ErrorKind::BrokenPipe => Ok(()),
        Err(error) => Err(Failure::other(
            "output",
            "the answer could not be printed",
            "Is the disk full, to which it is written?",
        )
        .because(error)),
        Ok(()) => Ok(()),
    }
}

/// Reads a date that may be left out.
///
/// # Errors
/// When it is no date, or lies in the future.
pub fn date(text: Option<&str>, clock: &impl Clock) -> Result<Option<Given>, Failure> {
    Ok(text.map(|text| dates::parse(text, clock)).transpose()?)
}
