//! What the maker sees when a use case refuses.

use shared_types::{LoggerId, MachineTag};

use super::Failure;
use crate::app::dates::DateError;
use crate::app::refused::Refused;
use crate::core::studio::UnknownRug;

impl From<Refused> for Failure {
    fn from(refused: Refused) -> Self {
        let what = refused.to_string();
        match refused {
            Refused::Store(error) => error.into(),
            Refused::UnknownRug(unknown) => unknown.into(),
            Refused::Date(error) => error.into(),
            Refused::RugExists(_) => {
                Self::bad_input("rug::exists", what, "Give this one another name, for example with a number.")
            }
            Refused::NoMachine => Self::bad_input(
                "machine::none",
                what,
                "Enter it first: needlehours machine add \"My machine\"",
            ),
            Refused::WhichMachine { known } => Self::bad_input(
                "machine::which",
                what,
                format!("Add --machine NUMBER: {}.", machines(&known)),
            ),
            Refused::UnknownMachine { known, .. } => {
                Self::bad_input("machine::unknown", what, format!("There is {}.", machines(&known)))
            }
            Refused::NoLogger => {
                Self::bad_input("logger::none", what, "Plug it in and read it first: needlehours pull")
            }
            Refused::WhichLogger { known } => {
                Self::bad_input("logger::which", what, format!("Add --logger: {}.", loggers(&known)))
            }
            Refused::UnknownLogger { known, .. } => {
                Self::bad_input("logger::unknown", what, format!("There is {}.", loggers(&known)))
            }
            Refused::UnknownSession(_) => {
                Self::bad_input("session::unknown", what, "List them with `needlehours rug sessions`.")
            }
            Refused::WhichSession { .. } => {
                Self::bad_input("session::which", what, "Write the full number, with what follows the dash.")
            }
            Refused::NoSession(_) => {
                Self::bad_input("session::none", what, "List the sessions with `needlehours rug sessions`.")
            }
            Refused::OutOfRange { .. } => {
                Self::bad_input("value::range", what, "Correct the value and try again; nothing was changed.")
            }
        }
    }
}

impl From<UnknownRug> for Failure {
    fn from(unknown: UnknownRug) -> Self {
        let remedy = if unknown.nearest.is_empty() {
            format!("No rug has been entered yet: needlehours rug new \"{}\"", unknown.name)
        } else {
            format!("Did you mean {}? All of them: needlehours rug list", unknown.nearest.join(" or "))
        };
        Self::bad_input("rug::unknown", unknown.to_string(), remedy)
    }
}

impl From<DateError> for Failure {
    fn from(error: DateError) -> Self {
        let (code, remedy) = match error {
            DateError::NotADate(_) => {
                ("date::unclear", "Write it as 2026-03-04, \"2026-03-04 18:30\", today or yesterday.")
            }
            DateError::Future(_) => (
                "date::future",
                "Only what has happened can be written down; check the year, and this computer's clock.",
            ),
            DateError::TooLongAgo(_) => ("date::past", "Check the year."),
        };
        Self::bad_input(code, error.to_string(), remedy)
    }
}

fn machines(known: &[(MachineTag, String)]) -> String {
    let words: Vec<String> = known.iter().map(|(tag, name)| format!("{} ({name})", tag.0)).collect();
    words.join(", ")
}

fn loggers(known: &[LoggerId]) -> String {
    let words: Vec<String> = known.iter().map(|logger| format!("{:016x}", logger.0)).collect();
    words.join(", ")
}
