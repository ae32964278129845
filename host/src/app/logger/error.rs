//! Errors of fittings, each with its code and what to try.

use miette::Diagnostic;
use shared_types::LoggerId;
use thiserror::Error;

use crate::app::ports::logger_name::logger_name;
use crate::app::typed::error::RequestError;
use crate::app::typed::lists::there_are;

/// Why a logger was not put on a machine.
#[derive(Debug, Error, Diagnostic)]
pub enum FittingError {
    /// Refused for a reason that all subjects share.
    #[error(transparent)]
    #[diagnostic(transparent)]
    Request(RequestError),
    /// No logger was ever pulled.
    #[error("no logger has been pulled yet")]
    #[diagnostic(code(logger::none), help("Plug it in and read it first: needlehours pull"))]
    NoLogger,
    /// There are several loggers and none was named.
    #[error("there are {} loggers; say which one is meant", .0.len())]
    #[diagnostic(code(logger::which), help("Add --logger and one of these: {}.", names(.0).join(", ")))]
    SeveralLoggers(Vec<LoggerId>),
    /// No logger has that identity.
    #[error("no logger {} was ever pulled", logger_name(*asked))]
    #[diagnostic(code(logger::unknown), help("{}", there_are(&names(known))))]
    UnknownLogger {
        /// The identity.
        asked: LoggerId,
        /// The identities that there are.
        known: Vec<LoggerId>,
    },
    /// Running that was counted to a machine is not taken from it unasked.
    #[error("this would take running from a machine to which it is counted")]
    #[diagnostic(
        code(machine::moves_hours),
        help(
            "Nothing was changed. To do it all the same: the same command with --yes. For what the logger records from now on: leave out --from-record."
        )
    )]
    MovesHours,
}

impl<E: Into<RequestError>> From<E> for FittingError {
    fn from(error: E) -> Self {
        Self::Request(error.into())
    }
}

fn names(known: &[LoggerId]) -> Vec<String> {
    known.iter().map(|logger| logger_name(*logger)).collect()
}
