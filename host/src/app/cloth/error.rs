//! Errors of tears and speed, each with its code and what to try.

use miette::Diagnostic;
use thiserror::Error;

use crate::app::typed::column_table::TableError;
use crate::app::typed::error::RequestError;
use host_core::cloth::TableProblem;
use host_core::entries::amount::NotAnAmount;

/// Why a tear was not noted, or a speed not judged.
#[derive(Debug, Error, Diagnostic)]
pub enum ClothError {
    /// Refused for a reason that all subjects share.
    #[error(transparent)]
    #[diagnostic(transparent)]
    Request(RequestError),
    /// The table cannot be used.
    #[error(transparent)]
    #[diagnostic(transparent)]
    Table(#[from] TableError),
    /// The sessions say nothing of the speed.
    #[error(transparent)]
    #[diagnostic(
        code(table::content),
        help("Every tear needs the hours or strokes in which it happened, and whole numbers of tears.")
    )]
    Problem(#[from] TableProblem),
    /// No such tear or near-miss.
    #[error("there is no tear or near-miss called {0}")]
    #[diagnostic(code(tear::unknown), help("List them: needlehours tear list"))]
    UnknownHarm(String),
    /// More than one is called that.
    #[error("{id} may mean {known}")]
    #[diagnostic(code(tear::which), help("Write the whole name, with the part after the dash."))]
    SeveralHarms {
        /// What was asked for.
        id: String,
        /// Full names.
        known: String,
    },
    /// An amount of money that is none.
    #[error("{option}: {problem}")]
    #[diagnostic(
        code(cost::amount),
        help("Write amounts with digits and a point, zero or more, without a currency sign.")
    )]
    Amount {
        /// The option.
        option: &'static str,
        /// What is wrong.
        problem: NotAnAmount,
    },
    /// No amount was given.
    #[error("no cost was given")]
    #[diagnostic(code(cost::none), help("Add --tear-cost, --hour-value or both."))]
    NoAmount,
    /// There is no proposed ceiling to accept.
    #[error("no ceiling is proposed now")]
    #[diagnostic(
        code(ceiling::none),
        help("See why: needlehours speed cost. To set one of your own: needlehours speed ceiling set 60%")
    )]
    NothingProposed,
}

impl<E: Into<RequestError>> From<E> for ClothError {
    fn from(error: E) -> Self {
        Self::Request(error.into())
    }
}
