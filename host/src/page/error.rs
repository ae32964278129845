//! Why a tap was not saved, a page not shown, or the server not started.

use std::net::SocketAddr;

use miette::Diagnostic;
use thiserror::Error;

/// The code of what can be done again as a whole, because others entered something at the same moment.
const GROWN: &str = "db::grown";

/// A refusal in words for the maker.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Refused {
    /// What happened.
    pub what: String,
    /// What to try.
    pub remedy: String,
    is_grown: bool,
}

impl Refused {
    /// Of the page itself.
    pub fn new(what: impl Into<String>, remedy: impl Into<String>) -> Self {
        Self { what: what.into(), remedy: remedy.into(), is_grown: false }
    }

    /// Whether the same may succeed at once: others were faster, and nothing of it was kept.
    #[must_use]
    pub const fn is_worth_another_try(&self) -> bool {
        self.is_grown
    }
}

impl<E: Diagnostic> From<E> for Refused {
    fn from(error: E) -> Self {
        let is_grown = error.code().is_some_and(|code| code.to_string() == GROWN);
        let remedy = error.help().map(|help| help.to_string()).unwrap_or_default();
        Self { what: error.to_string(), remedy, is_grown }
    }
}

/// Why the server did not start.
#[derive(Debug, Error, Diagnostic)]
pub enum ServeError {
    /// The port is taken, or the system does not allow it.
    #[error("cannot listen on {address}")]
    #[diagnostic(
        code(page::listen),
        help("Does the page run already? Otherwise leave --port out, which takes a free one.")
    )]
    Listen {
        /// Where.
        address: SocketAddr,
        /// What the system said.
        #[source]
        source: std::io::Error,
    },
    /// The system gives no thread or no chance numbers.
    #[error("the page cannot be started")]
    #[diagnostic(code(page::start), help("Try again; if it stays so, start the computer anew."))]
    Start(#[source] std::io::Error),
    /// The server broke off.
    #[error("the page broke off")]
    #[diagnostic(code(page::broke_off), help("Start it again. What was said to be saved is saved."))]
    BrokeOff(#[source] std::io::Error),
}
