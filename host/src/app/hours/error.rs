//! Errors of hours, each with its code and what to try.

use miette::Diagnostic;
use thiserror::Error;

use crate::app::typed::error::RequestError;
use host_core::sessions::session_list::SessionName;

/// Why doubtful running was not answered.
#[derive(Debug, Error, Diagnostic)]
pub enum HoursError {
    /// Refused for a reason that all subjects share.
    #[error(transparent)]
    #[diagnostic(transparent)]
    Request(RequestError),
    /// No doubtful running has that number.
    #[error("there is nothing to check with the number {0}")]
    #[diagnostic(code(check::unknown), help("List what is doubtful: needlehours hours check"))]
    NothingToCheck(SessionName),
    /// All doubtful running was answered.
    #[error("there is nothing to check")]
    #[diagnostic(
        code(check::none),
        help(
            "What is counted to a rug already, though it is doubtful, is answered by its number: needlehours hours check"
        )
    )]
    AllChecked,
}

impl<E: Into<RequestError>> From<E> for HoursError {
    fn from(error: E) -> Self {
        Self::Request(error.into())
    }
}
