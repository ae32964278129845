//! A table that the maker names, as bytes.

use std::fs::File;
use std::io::Read as _;
use std::path::Path;

use super::Failure;

/// The largest table that is read, in bytes.
const LARGEST_TABLE: u64 = 16 * 1024 * 1024;

/// Reads a table.
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
    File::open(path).map_err(unread)?.take(LARGEST_TABLE + 1).read_to_end(&mut bytes).map_err(unread)?;
    if u64::try_from(bytes.len()).unwrap_or(u64::MAX) > LARGEST_TABLE {
        return Err(Failure::bad_input(
            "table::size",
            format!("{} is larger than any table of a day", path.display()),
            "Is it the right file?",
        ));
    }
    Ok(bytes)
}
