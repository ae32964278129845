//! Errors of prices and rates, each with its code and what to try.

use miette::Diagnostic;
use shared_types::MachineTag;
use thiserror::Error;

use crate::app::typed::error::RequestError;
use host_core::entries::amount::NotAnAmount;
use host_core::money::RateProblem;

/// Why there is no rate.
#[derive(Debug, Error, Diagnostic)]
pub enum MoneyError {
    /// Refused for a reason that all subjects share.
    #[error(transparent)]
    #[diagnostic(transparent)]
    Request(RequestError),
    /// An amount that is none.
    #[error("{option}: {problem}")]
    #[diagnostic(
        code(rate::amount),
        help("Write amounts with digits and a point, zero or more, without a currency sign.")
    )]
    Amount {
        /// The option.
        option: &'static str,
        /// What is wrong.
        problem: NotAnAmount,
    },
    /// Amounts that do not go together.
    #[error(transparent)]
    #[diagnostic(
        code(rate::problem),
        help("Resale is at most the price, and --period-cost needs --period-hours.")
    )]
    Problem(#[from] RateProblem),
    /// An option without which there is no rate.
    #[error("{0} is missing")]
    #[diagnostic(code(rate::missing), help("Add {0}; --price, --resale and --life-hours are needed."))]
    Missing(&'static str),
    /// A price that lacks something, asked for a client.
    #[error("a number is missing in the price, so it is not written for a client")]
    #[diagnostic(
        code(quote::incomplete),
        help("Ask with --price and without --client: it names what is missing and how to enter it.")
    )]
    IncompletePrice,
    /// A price of which nothing is known, to be kept for a commission.
    #[error("nothing of the price could be worked out, so none was kept for {0}")]
    #[diagnostic(
        code(quote::empty),
        help("Ask with --price and without --for: it names what is missing and how to enter it.")
    )]
    EmptyPrice(String),
    /// A client's page without a name on it.
    #[error("the maker's name or contact was not said, so the client's page has no sender")]
    #[diagnostic(
        code(quote::studio),
        help("Say both with: needlehours rate price --studio \"NAME\" --contact \"HOW TO REACH YOU\"")
    )]
    NoMaker,
    /// Nothing was entered for the machine.
    #[error("no price was entered for machine {} yet", machine.0)]
    #[diagnostic(code(rate::nothing), help("Keep its costs with: needlehours rate set --machine {} --price AMOUNT --resale AMOUNT --life-hours HOURS", machine.0))]
    NothingEntered {
        /// The machine.
        machine: MachineTag,
    },
}

impl<E: Into<RequestError>> From<E> for MoneyError {
    fn from(error: E) -> Self {
        Self::Request(error.into())
    }
}
