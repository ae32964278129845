//! Errors of people and vibration, each with its code and what to try.

use miette::Diagnostic;
use thiserror::Error;

use crate::app::typed::column_table::TableError;
use crate::app::typed::error::RequestError;
use crate::app::typed::lists::{numbered, there_are};
use host_core::entries::PersonTag;
use host_core::hand::vibration::ExposureProblem;

/// Why a person was not entered or found, or an exposure not worked out.
#[derive(Debug, Error, Diagnostic)]
pub enum HandError {
    /// Refused for a reason that all subjects share.
    #[error(transparent)]
    #[diagnostic(transparent)]
    Request(RequestError),
    /// The table cannot be used.
    #[error(transparent)]
    #[diagnostic(transparent)]
    Table(#[from] TableError),
    /// The day cannot be.
    #[error(transparent)]
    #[diagnostic(code(exposure::day), help("Correct the minutes; one table is one person's day."))]
    Day(#[from] ExposureProblem),
    /// No such person.
    #[error("there is nobody called {asked}")]
    #[diagnostic(code(person::unknown), help("{}", people(known)))]
    UnknownPerson {
        /// What was asked for.
        asked: String,
        /// The people that there are, by number and name.
        known: Vec<(PersonTag, String)>,
    },
    /// Somebody has that name already.
    #[error("{name} is already person {}", number.0)]
    #[diagnostic(
        code(person::exists),
        help("Give this one another name, for example with a letter behind it.")
    )]
    PersonExists {
        /// The name.
        name: String,
        /// The number.
        number: PersonTag,
    },
}

impl<E: Into<RequestError>> From<E> for HandError {
    fn from(error: E) -> Self {
        Self::Request(error.into())
    }
}

fn people(known: &[(PersonTag, String)]) -> String {
    if known.is_empty() {
        return "Enter them first: needlehours person add NAME".to_owned();
    }
    there_are(&numbered(known, |person| person.0))
}
