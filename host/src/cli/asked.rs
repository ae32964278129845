//! A request that was not answered, as it is told to the maker.

use super::Failure;
use crate::app::request::RequestError;

impl From<RequestError> for Failure {
    fn from(error: RequestError) -> Self {
        let (code, remedy) = match error {
            RequestError::Store(error) => return error.into(),
            RequestError::NoMachine => {
                ("machine::none", "Enter one with `needlehours machine add`.".to_owned())
            }
            RequestError::SeveralMachines { .. } => {
                ("machine::which", "Name it with --machine and its number.".to_owned())
            }
            RequestError::UnknownMachine { .. } => {
                ("machine::unknown", "Name one of these with --machine.".to_owned())
            }
            RequestError::UnknownTask { ref nearest, .. } => (
                "care::task",
                format!("Did you mean {}? `needlehours done --list` shows all tasks.", either(nearest)),
            ),
            RequestError::UnknownRug(ref unknown) => (
                "rug::unknown",
                if unknown.nearest.is_empty() {
                    "Enter it first with `needlehours rug add`.".to_owned()
                } else {
                    format!("Did you mean {}?", either(&unknown.nearest))
                },
            ),
            RequestError::UnknownHarm { .. } => {
                ("tear::unknown", "`needlehours tear list` shows them with their names.".to_owned())
            }
            RequestError::SeveralHarms { .. } => {
                ("tear::which", "Write the whole name, with the part after the dash.".to_owned())
            }
            RequestError::TakenBackBefore { .. } => {
                ("tear::withdrawn", "Note it anew if it did happen after all.".to_owned())
            }
            RequestError::UnknownCareEntry { .. } => {
                ("care::entry", "`needlehours done TASK` says the number when it notes something.".to_owned())
            }
            RequestError::InTheFuture => {
                ("when::future", "Check --when and the computer's clock.".to_owned())
            }
            RequestError::LimitOutOfRange { .. } => {
                ("care::limit", "Choose a number in that range, or 0 to switch the limit off.".to_owned())
            }
            RequestError::NoLimit { .. } => {
                ("care::no_limit", "Add --every-hours, --every-days or both.".to_owned())
            }
            RequestError::TableLine { .. } => (
                "table::line",
                "Mend that line and try again. One row is one session: knob,hours,tears.".to_owned(),
            ),
            RequestError::MissingColumn { .. } => (
                "table::column",
                "The first line names the columns: knob,hours,tears; strokes and stratum if you have them."
                    .to_owned(),
            ),
            RequestError::Table(_) => (
                "table::content",
                "Every tear needs the hours or strokes in which it happened, and whole numbers of tears."
                    .to_owned(),
            ),
        };
        Self::bad_input(code, error.to_string(), remedy)
    }
}

/// "oiling", "oiling or belt", "oiling, belt or needle".
fn either(names: &[String]) -> String {
    match names {
        [] => String::new(),
        [only] => only.clone(),
        [most @ .., last] => format!("{} or {last}", most.join(", ")),
    }
}
