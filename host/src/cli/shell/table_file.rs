//! Reads a table's file, and tells what is wrong with a table.

use std::fs::File;
use std::io::Read as _;
use std::path::Path;

use super::failure::Failure;
use crate::app::typed::column_table::TableError;

/// The largest table that is read, in bytes.
const LARGEST: u64 = 16 * 1024 * 1024;

/// The file's bytes.
///
/// # Errors
/// When it cannot be read, or is larger than any table.
pub fn read(path: &Path) -> Result<Vec<u8>, Failure> {
    let unread = |error: std::io::Error| {
        Failure::bad_input(
            "table::open",
            format!("the table {} cannot be read", path.display()),
            "Check the name and that you may read it.",
        )
        .because(error)
    };
    let mut bytes = Vec::new();
    File::open(path).map_err(unread)?.take(LARGEST + 1).read_to_end(&mut bytes).map_err(unread)?;
    if u64::try_from(bytes.len()).unwrap_or(u64::MAX) > LARGEST {
        return Err(Failure::bad_input(
            "table::size",
            format!("{} is larger than any table that a maker keeps", path.display()),
            "Is it the right file?",
        ));
    }
    Ok(bytes)
}

/// What is wrong, with what the table should hold.
pub fn failure(error: TableError, holds: &str) -> Failure {
    let is_beside = matches!(error, TableError::Value { .. });
    let failure = Failure::from(error);
    if is_beside { failure } else { failure.with_hint(holds) }
}
