//! A notification on the maker's desktop, as a convenience: it can be missing or fail without harm to anything else.

use thiserror::Error;

/// What a notification says.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Notice {
    /// Its heading.
    pub title: String,
    /// Its text.
    pub text: String,
}

/// Whatever shows notifications.
pub trait Notifier {
    /// Shows one.
    ///
    /// # Errors
    /// When there is nothing to show it with, or it was refused.
    fn notify(&self, notice: &Notice) -> Result<(), NotifyError>;
}

/// Why no notification was shown.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum NotifyError {
    /// There is no program for it.
    #[error("this computer has no {program}, which shows notifications")]
    Missing {
        /// The program.
        program: &'static str,
    },
    /// It did not want to.
    #[error("{program} showed no notification{}", if said.is_empty() { String::new() } else { format!(": {said}") })]
    Refused {
        /// The program.
        program: &'static str,
        /// What it said, in one line; may be empty.
        said: String,
    },
    /// It does not come to an end.
    #[error("{program} does not answer")]
    Silent {
        /// The program.
        program: &'static str,
    },
}
