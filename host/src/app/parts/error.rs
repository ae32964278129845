//! Errors of parts, each with its code and what to try.

use miette::Diagnostic;
use thiserror::Error;

use crate::app::typed::column_table::TableError;
use crate::app::typed::error::RequestError;
use crate::app::typed::lists::{all_of, one_of};

/// Why a part was not noted, or its wear not judged.
#[derive(Debug, Error, Diagnostic)]
pub enum PartError {
    /// Refused for a reason that all subjects share.
    #[error(transparent)]
    #[diagnostic(transparent)]
    Request(RequestError),
    /// The table, or a cost beside it, cannot be used.
    #[error(transparent)]
    #[diagnostic(transparent)]
    Table(#[from] TableError),
    /// A part of that kind is on the machine already.
    #[error("a {part} is on the machine already; it ran {hours:.1} hours so far")]
    #[diagnostic(
        code(part::on),
        help(
            "Say why the old one went with --replaces worn-out (or strike, accident, lost, precaution, still-good); of a pair, mark each with --serial."
        )
    )]
    IsOn {
        /// The kind of part.
        part: String,
        /// Its run hours.
        hours: f64,
    },
    /// No part of that kind, or with that mark, is on the machine.
    #[error("no such {0} is on the machine")]
    #[diagnostic(code(part::off), help("See what is on: needlehours part"))]
    IsNotOn(String),
    /// Several parts of that kind are on the machine and none was named.
    #[error("several are on the machine: {part}")]
    #[diagnostic(
        code(part::which),
        help(
            "Say which one went: needlehours part off PART --serial MARK --because WHY, with the mark {}.",
            one_of(marks)
        )
    )]
    SeveralOn {
        /// The kind of part.
        part: String,
        /// Their marks.
        marks: Vec<String>,
    },
    /// A part cannot be taken off before it was fitted.
    #[error("at that moment the {0} was not yet fitted")]
    #[diagnostic(code(part::order), help("Check the date; see when it was fitted: needlehours part"))]
    OffBeforeOn(String),
    /// No part of that kind was ever fitted.
    #[error("no {part} was ever fitted")]
    #[diagnostic(code(part::unknown), help("{}", fitted(known)))]
    NeverFitted {
        /// The kind of part.
        part: String,
        /// The kinds that were.
        known: Vec<String>,
    },
}

impl<E: Into<RequestError>> From<E> for PartError {
    fn from(error: E) -> Self {
        Self::Request(error.into())
    }
}

fn fitted(known: &[String]) -> String {
    if known.is_empty() {
        return "Note it when you fit one: needlehours part fit needle".to_owned();
    }
    format!("Fitted so far: {}.", all_of(known))
}
