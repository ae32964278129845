//! One key, read as it is pressed.

use console::{Key, Term};

/// The key that somebody presses; none for Enter, Escape, and where nobody is there.
pub fn pressed() -> Option<char> {
    match Term::stdout().read_key() {
        Ok(Key::Char(letter)) => Some(letter),
        _ => None,
    }
}
