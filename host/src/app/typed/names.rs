//! Names: as they are typed, and as loggers and logs are called.

use super::error::RequestError;

/// A name without blanks around it.
///
/// # Errors
/// When it is empty or longer than [`LONGEST_NAME`].
pub fn checked_name(what: &'static str, name: &str) -> Result<String, RequestError> {
    let name = name.trim();
    if name.is_empty() || name.chars().count() > LONGEST_NAME || name.chars().any(char::is_control) {
        let given = format!("\"{}\"", name.escape_debug());
        return Err(RequestError::OutOfRange { what, range: "1 to 60 letters", given });
    }
    Ok(name.to_owned())
}

/// Longest name of a machine or rug, in characters.
pub const LONGEST_NAME: usize = 60;
