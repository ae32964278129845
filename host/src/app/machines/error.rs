//! Errors of machines and loans, each with its code and what to try.

use miette::Diagnostic;
use shared_types::UtcMillis;
use thiserror::Error;

use crate::app::hand::HandError;
use crate::app::typed::error::RequestError;
use crate::app::typed::lists::all_of;

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
        help(
            "Say what is to be put right with --name, --pile, --drive, --hours-before, --since, --with-logger or --second-hand."
        )
    )]
    Unchanged(u32),
    /// A machine that came second-hand has run before.
    #[error("machine {0} would be new and second-hand at once")]
    #[diagnostic(
        code(machine::age),
        help(
            "--hours-before 0 says that it is new. Of a second-hand machine give your estimate, or leave the hours out."
        )
    )]
    NewAndSecondHand(String),
    /// A machine of which something is noted stays.
    #[error("machine {machine} cannot be removed: there is something noted of it, {}", all_of(noted))]
    #[diagnostic(
        code(machine::used),
        help(
            "Its record would hang in the air. To be asked for no care of it any more: needlehours machine rest {machine} \"REASON\". What is noted of it: needlehours book --machine {machine}"
        )
    )]
    IsUsed {
        /// The machine.
        machine: u32,
        /// What there is, each as "care (3)".
        noted: Vec<String>,
    },
    /// A machine that is out of use cannot be taken out of use.
    #[error("machine {0} is out of use already")]
    #[diagnostic(code(machine::rests), help("To use it again: needlehours machine rest {0} --back"))]
    Rests(u32),
    /// A machine in use cannot come back into use.
    #[error("machine {0} is in use")]
    #[diagnostic(
        code(machine::in_use),
        help("To take it out of use: needlehours machine rest {0} \"REASON\"")
    )]
    IsInUse(u32),
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
