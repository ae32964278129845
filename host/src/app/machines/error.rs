//! Errors of machines and loans, each with its code and what to try.

use miette::Diagnostic;
use shared_types::UtcMillis;
use thiserror::Error;

use crate::app::hand::HandError;
use crate::app::typed::error::RequestError;

/// Why a machine was not entered, changed, lent or taken back.
#[derive(Debug, Error, Diagnostic)]
pub enum MachineError {
    /// Refused for a reason that all subjects share.
    #[error(transparent)]
    #[diagnostic(transparent)]
    Request(RequestError),
    /// The borrower could not be entered.
    #[error(transparent)]
    #[diagnostic(transparent)]
    Hand(#[from] HandError),
    /// A machine that is lent cannot be lent again.
    #[error("machine {machine} is lent to {to} already")]
    #[diagnostic(code(machine::lent), help("Take it back first: needlehours machine back NUMBER"))]
    IsLent {
        /// The machine.
        machine: u32,
        /// The borrower.
        to: String,
    },
    /// A machine that is here cannot come back.
    #[error("machine {0} is not lent out")]
    #[diagnostic(code(machine::here), help("Lend it first: needlehours machine lend NUMBER --to NAME"))]
    IsNotLent(u32),
    /// Two machines of one name cannot be told apart on paper.
    #[error("machine {machine} is called {name} already")]
    #[diagnostic(
        code(machine::name),
        help(
            "Give it a name of its own, as on its label: two machines of one name cannot be told apart in lists and books."
        )
    )]
    NameTaken {
        /// The machine.
        machine: u32,
        /// Its name.
        name: String,
    },
    /// Nothing new was said of a machine.
    #[error("nothing was said of machine {0} that does not hold already")]
    #[diagnostic(
        code(machine::unchanged),
        help("Say what is to be put right with --name, --pile, --drive, --hours-before or --since.")
    )]
    Unchanged(u32),
    /// A machine cannot have run less when it came back than when it left.
    #[error("the reading of machine {0} would be less than when it left")]
    #[diagnostic(
        code(machine::reading),
        help("Read its meter once more; `needlehours machine loans` tells what was noted when it left.")
    )]
    ReadingFell(u32),
    /// A machine cannot leave before it last came back.
    #[error("machine {machine} came back after that moment")]
    #[diagnostic(
        code(machine::order),
        help("Check the date; `needlehours machine loans` lists when it left and came back.")
    )]
    LentBeforeBack {
        /// The machine.
        machine: u32,
        /// When it came back.
        back: UtcMillis,
    },
    /// A machine cannot come back before it left.
    #[error("machine {machine} left after that moment")]
    #[diagnostic(
        code(machine::order),
        help("Check the date; `needlehours machine loans` lists when it left and came back.")
    )]
    BackBeforeLent {
        /// The machine.
        machine: u32,
        /// When it left.
        out: UtcMillis,
    },
}

impl<E: Into<RequestError>> From<E> for MachineError {
    fn from(error: E) -> Self {
        Self::Request(error.into())
    }
}
