//! Why a use case did not do what was asked.

use shared_types::{LoggerId, MachineTag};
use thiserror::Error;

use super::dates::DateError;
use super::ports::StoreError;
use crate::core::session_list::SessionName;
use crate::core::studio::UnknownRug;

/// Why not. Nothing was changed in any of these cases.
#[derive(Debug, Error)]
#[non_exhaustive]
pub enum Refused {
    /// The store failed.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// No commission has that name.
    #[error(transparent)]
    UnknownRug(#[from] UnknownRug),
    /// The date cannot be used.
    #[error(transparent)]
    Date(#[from] DateError),
    /// There is a commission with that name already.
    #[error("there is already a rug called {0}")]
    RugExists(String),
    /// No machine was ever entered.
    #[error("no machine has been entered yet")]
    NoMachine,
    /// There are several machines and none was named.
    #[error("there are {} machines; say which one is meant", known.len())]
    WhichMachine {
        /// Their numbers and names.
        known: Vec<(MachineTag, String)>,
    },
    /// No machine has that number.
    #[error("there is no machine {}", asked.0)]
    UnknownMachine {
        /// The number.
        asked: MachineTag,
        /// The numbers and names that there are.
        known: Vec<(MachineTag, String)>,
    },
    /// No logger was ever pulled.
    #[error("no logger has been pulled yet")]
    NoLogger,
    /// There are several loggers and none was named.
    #[error("there are {} loggers; say which one is meant", known.len())]
    WhichLogger {
        /// Their identities.
        known: Vec<LoggerId>,
    },
    /// No logger has that identity.
    #[error("no logger {:x} was ever pulled", asked.0)]
    UnknownLogger {
        /// The identity.
        asked: LoggerId,
        /// The identities that there are.
        known: Vec<LoggerId>,
    },
    /// No session has that number.
    #[error("there is no session {0}")]
    UnknownSession(SessionName),
    /// Several logs have a session of that number.
    #[error("session {asked} could be {}", known.iter().map(ToString::to_string).collect::<Vec<_>>().join(" or "))]
    WhichSession {
        /// What was asked for.
        asked: SessionName,
        /// The full numbers.
        known: Vec<SessionName>,
    },
    /// Nothing in the choice of sessions fits.
    #[error("no session fits: {0}")]
    NoSession(&'static str),
    /// A value outside its range; says what it is, its range, and what was given.
    #[error("{what} must be {range}, not {given}")]
    OutOfRange {
        /// What it is.
        what: &'static str,
        /// What it may be.
        range: &'static str,
        /// What was given.
        given: String,
    },
}
