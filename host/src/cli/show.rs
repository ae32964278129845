//! One report, two faces: JSON for programs, words for the maker. Both come from the same struct.

use serde::Serialize;

use super::Failure;
use crate::view::json;

/// Prints a report.
///
/// # Errors
/// When it cannot be written as JSON, which is a mistake of the program.
pub fn report<R: Serialize>(
    report: &R,
    as_json: bool,
    words: impl FnOnce(&R) -> String,
) -> Result<(), Failure> {
    if as_json {
        let text = json::object(report).map_err(|error| {
            Failure::other("json", "the answer cannot be written as JSON", "Ask without --json.")
                .because(error)
        })?;
        anstream::println!("{text}");
    } else {
        anstream::print!("{}", words(report));
    }
    Ok(())
}
