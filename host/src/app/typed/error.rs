//! Errors that all subjects share, each with its code and what to try.

use miette::Diagnostic;
use shared_types::MachineTag;
use thiserror::Error;

use super::dates::DateError;
use super::lists::{meant, numbered, one_of, there_are};
use crate::app::ports::StoreError;
use host_core::sessions::session_list::SessionName;
use host_core::studio::UnknownRug;

/// Why a request of any subject was not answered. Nothing was changed in any of these cases.
#[derive(Debug, Error, Diagnostic)]
#[non_exhaustive]
pub enum RequestError {
    /// The database said no.
    #[error(transparent)]
    #[diagnostic(transparent)]
    Store(#[from] StoreError),
    /// The date cannot be used.
    #[error(transparent)]
    #[diagnostic(transparent)]
    Date(#[from] DateError),
    /// No machine was ever entered.
    #[error("no machine has been entered yet")]
    #[diagnostic(code(machine::none), help("Enter it first: needlehours machine add \"My machine\""))]
    NoMachine,
    /// There are several machines and none was named.
    #[error("there are {} machines; say which one is meant", known.len())]
    #[diagnostic(
        code(machine::which),
        help("Add --machine and its name or number: {}.", numbered(known, |tag| tag.0).join(", "))
    )]
    SeveralMachines {
        /// Their numbers and names.
        known: Vec<(MachineTag, String)>,
    },
    /// No machine has that number.
    #[error("there is no machine {number}")]
    #[diagnostic(code(machine::unknown), help("{}", there_are(&numbered(known, |tag| tag.0))))]
    UnknownMachine {
        /// The number.
        number: u32,
        /// The numbers and names that there are.
        known: Vec<(MachineTag, String)>,
    },
    /// No machine has that name.
    #[error("there is no machine called \"{name}\"")]
    #[diagnostic(
        code(machine::unknown),
        help("{}{}", did_you_mean(nearest), there_are(&numbered(known, |tag| tag.0)))
    )]
    NoMachineCalled {
        /// The name.
        name: String,
        /// Names like it; may be empty.
        nearest: Vec<String>,
        /// The numbers and names that there are.
        known: Vec<(MachineTag, String)>,
    },
    /// Several machines have names that begin so.
    #[error("\"{name}\" may be {}", one_of(&numbered(known, |tag| tag.0)))]
    #[diagnostic(code(machine::which), help("Write more of the name, or the number."))]
    SeveralMachinesCalled {
        /// What was typed.
        name: String,
        /// The numbers and names that fit.
        known: Vec<(MachineTag, String)>,
    },
    /// No commission has that name.
    #[error(transparent)]
    #[diagnostic(code(rug::unknown), help("{}", rugs(.0)))]
    UnknownRug(#[from] UnknownRug),
    /// No such care task.
    #[error("there is no care task called {name}")]
    #[diagnostic(
        code(care::task),
        help("{} All tasks: needlehours care", meant(nearest, known, "The tasks are"))
    )]
    UnknownTask {
        /// What was asked for.
        name: String,
        /// Names like it; may be empty.
        nearest: Vec<String>,
        /// All names.
        known: Vec<String>,
    },
    /// No session has that number.
    #[error("there is no session {0}")]
    #[diagnostic(code(session::unknown), help("List them: needlehours rug sessions"))]
    UnknownSession(SessionName),
    /// Several logs have a session of that number.
    #[error("session {asked} could be {}", known.iter().map(ToString::to_string).collect::<Vec<_>>().join(" or "))]
    #[diagnostic(code(session::which), help("Write the full number, with what follows the dash."))]
    SeveralSessions {
        /// What was asked for.
        asked: SessionName,
        /// The full numbers.
        known: Vec<SessionName>,
    },
    /// Nothing in the choice of sessions fits.
    #[error("no session fits: {0}")]
    #[diagnostic(code(session::none), help("List the sessions: needlehours rug sessions"))]
    NoSession(&'static str),
    /// No entry of that kind has that number.
    #[error("there is no entry {entry} of {what}")]
    #[diagnostic(code(entry::unknown), help("The number was told when it was noted."))]
    UnknownEntry {
        /// The number.
        entry: i64,
        /// What it should tell of.
        what: &'static str,
    },
    /// Other entries rest on it.
    #[error("entry {0} cannot be taken back alone: other entries rest on it")]
    #[diagnostic(
        code(entry::rested_on),
        help(
            "A machine: needlehours machine change, or machine remove. A logger: machine fit. A rug's name: rug rename."
        )
    )]
    NotTakenBackAlone(i64),
    /// What counts again would be counted twice.
    #[error("session e{entry} would be counted twice: session {other} has the same time")]
    #[diagnostic(code(entry::twice), help("Take that one back first, if it is the wrong one."))]
    CountsTwice {
        /// The entry.
        entry: i64,
        /// The session that counts already.
        other: SessionName,
    },
    /// It was taken back before.
    #[error("{id} was taken back already{on}{because}")]
    #[diagnostic(
        code(entry::withdrawn),
        help("It counts no more. If it was right after all: needlehours take-back NAME --undo")
    )]
    TakenBackBefore {
        /// Its name.
        id: String,
        /// When that was, by the maker's clock, with a comma before it.
        on: String,
        /// Why, with a colon before it; empty where nobody said.
        because: String,
    },
    /// It counts, so that there is nothing to have back.
    #[error("{0} was not taken back")]
    #[diagnostic(
        code(entry::counts),
        help("It counts. The tears that were taken back: needlehours tear list")
    )]
    NotTakenBack(String),
    /// A value outside its range; says what it is, its range, and what was given.
    #[error("{what} must be {range}, not {given}{}", below_zero(given))]
    #[diagnostic(code(value::range), help("Correct the value and try again; nothing was changed."))]
    OutOfRange {
        /// What it is.
        what: &'static str,
        /// What it may be.
        range: &'static str,
        /// What was given.
        given: String,
    },
    /// A comma that may part thousands, or be a decimal comma.
    #[error("{given} may mean {} or {}", either[0], either[1])]
    #[diagnostic(code(value::comma), help("Write {} or {}; nothing was changed.", either[0], either[1]))]
    Thousands {
        /// What was given.
        given: String,
        /// The two numbers that it may mean.
        either: [String; 2],
    },
}

fn did_you_mean(nearest: &[String]) -> String {
    if nearest.is_empty() { String::new() } else { format!("Did you mean {}? ", one_of(nearest)) }
}

fn rugs(unknown: &UnknownRug) -> String {
    if unknown.known.is_empty() {
        return format!("No rug has been entered yet: needlehours rug new \"{}\"", unknown.name);
    }
    let meant = meant(&unknown.nearest, &unknown.known, "You have");
    format!("{meant} All of them: needlehours rug list")
}

/// Whether what was typed is a number below zero, or a size with a side below zero; with a unit behind it or without.
#[must_use]
pub fn is_below_zero(given: &str) -> bool {
    given.split(['x', 'X', '×']).any(|part| {
        let part = part.trim_matches(|letter: char| letter == '"' || letter.is_whitespace());
        let behind = part.strip_prefix(['-', '\u{2212}']);
        let number = behind.map(|behind| behind.trim_start_matches(['.', ' ']));
        number.is_some_and(|number| number.starts_with(|letter: char| letter.is_ascii_digit()))
    })
}

fn below_zero(given: &str) -> &'static str {
    if is_below_zero(given) { ", which is below zero" } else { "" }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_number_below_zero_is_called_that() {
        for given in ["-5", "\"-5 g\"", "-0.5kg", "-.5", "\u{2212}3", "-80x120cm", "80x-120cm", "80 x -120"] {
            assert!(is_below_zero(given), "{given}");
        }
        for given in ["5", "", "-", "80x120cm", "2025-03-04", "-five", "x-y"] {
            assert!(!is_below_zero(given), "{given}");
        }
        let refused =
            RequestError::OutOfRange { what: "the knob", range: "0 to 100", given: "-5".to_owned() };
        assert_eq!(refused.to_string(), "the knob must be 0 to 100, not -5, which is below zero");
    }
}
