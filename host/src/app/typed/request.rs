//! What a request can meet besides its answer, and the choice of the machine that it is about.

use shared_types::{LoggerId, MachineTag, UtcMillis};
use thiserror::Error;

use super::dates::DateError;
use super::rug_problems::{JobProblem, TellProblem};
use crate::app::ports::StoreError;
use crate::app::ports::logger_name::logger_name;
use host_core::cloth::TableProblem;
use host_core::entries::PersonTag;
use host_core::entries::amount::NotAnAmount;
use host_core::rugs::work_order::WorkProblem;
use host_core::sessions::session_list::SessionName;
use host_core::studio::{MachineCard, Studio, UnknownRug};

/// Why a request was not answered. Nothing was changed in any of these cases.
#[derive(Debug, Error)]
#[non_exhaustive]
pub enum RequestError {
    /// The database said no.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// The date cannot be used.
    #[error(transparent)]
    Date(#[from] DateError),
    /// No machine was ever entered.
    #[error("no machine has been entered yet")]
    NoMachine,
    /// There are several machines and none was named.
    #[error("there are {} machines; say which one is meant", known.len())]
    SeveralMachines {
        /// Their numbers and names.
        known: Vec<(MachineTag, String)>,
    },
    /// No machine has that number.
    #[error("there is no machine {number}")]
    UnknownMachine {
        /// The number.
        number: u32,
        /// The numbers and names that there are.
        known: Vec<(MachineTag, String)>,
    },
    /// No logger was ever pulled.
    #[error("no logger has been pulled yet")]
    NoLogger,
    /// There are several loggers and none was named.
    #[error("there are {} loggers; say which one is meant", known.len())]
    SeveralLoggers {
        /// Their identities.
        known: Vec<LoggerId>,
    },
    /// No logger has that identity.
    #[error("no logger {} was ever pulled", logger_name(*asked))]
    UnknownLogger {
        /// The identity.
        asked: LoggerId,
        /// The identities that there are.
        known: Vec<LoggerId>,
    },
    /// No such care task.
    #[error("there is no care task called {name}")]
    UnknownTask {
        /// What was asked for.
        name: String,
        /// Names like it; may be empty.
        nearest: Vec<String>,
        /// All names.
        known: Vec<String>,
    },
    /// Only care that was done can be corrected by its entry.
    #[error("entry {entry} is no care that was done, so it cannot be corrected by itself")]
    NotCorrected {
        /// The number.
        entry: i64,
    },
    /// Only oiling begins with a brush-out.
    #[error("{task} does not begin with a brush-out; only oiling does")]
    NoBrushOutFirst {
        /// The task.
        task: String,
    },
    /// A care task that looks after no part.
    #[error("{task} looks after no part that could be fitted")]
    NoPartOfTask {
        /// The task.
        task: String,
    },
    /// No commission has that name.
    #[error(transparent)]
    UnknownRug(#[from] UnknownRug),
    /// There is a commission with that name already.
    #[error("there is already a rug called {0}")]
    RugExists(String),
    /// No session has that number.
    #[error("there is no session {0}")]
    UnknownSession(SessionName),
    /// Several logs have a session of that number.
    #[error("session {asked} could be {}", known.iter().map(ToString::to_string).collect::<Vec<_>>().join(" or "))]
    SeveralSessions {
        /// What was asked for.
        asked: SessionName,
        /// The full numbers.
        known: Vec<SessionName>,
    },
    /// No doubtful running has that number.
    #[error("there is nothing to check with the number {0}")]
    NothingToCheck(SessionName),
    /// All doubtful running was answered.
    #[error("there is nothing to check")]
    AllChecked,
    /// Nothing in the choice of sessions fits.
    #[error("no session fits: {0}")]
    NoSession(&'static str),
    /// A value outside its range; says what it is, its range, and what was given.
    #[error("{what} must be {range}, not {given}{}", below_zero(given))]
    OutOfRange {
        /// What it is.
        what: &'static str,
        /// What it may be.
        range: &'static str,
        /// What was given.
        given: String,
    },
    /// No such tear or near-miss.
    #[error("there is no tear or near-miss called {id}")]
    UnknownHarm {
        /// What was asked for.
        id: String,
    },
    /// More than one is called that.
    #[error("{id} may mean {known}")]
    SeveralHarms {
        /// What was asked for.
        id: String,
        /// Full names.
        known: String,
    },
    /// It was taken back before.
    #[error("{id} was taken back already{on}{because}")]
    TakenBackBefore {
        /// Its name.
        id: String,
        /// When that was, by the maker's clock, with a comma before it.
        on: String,
        /// Why, with a colon before it; empty where nobody said.
        because: String,
    },
    /// No care entry has that number.
    #[error("there is no care entry {entry}")]
    UnknownCareEntry {
        /// The number.
        entry: i64,
    },
    /// A moment that is still to come.
    #[error("that lies in the future")]
    InTheFuture,
    /// A limit outside what makes sense.
    #[error("{task} every {} hours is outside {} to {high_hours} hours", short(*asked_hours), short(*low_hours))]
    LimitOutOfRange {
        /// The task.
        task: String,
        /// What was asked for.
        asked_hours: f64,
        /// The shortest.
        low_hours: f64,
        /// The longest.
        high_hours: f64,
    },
    /// No limit was given.
    #[error("no limit was given for {task}")]
    NoLimit {
        /// The task.
        task: String,
    },
    /// A part of that kind is on the machine already.
    #[error("a {part} is on the machine already; it ran {hours:.1} hours so far")]
    PartIsOn {
        /// The kind of part.
        part: String,
        /// Its run hours.
        hours: f64,
    },
    /// No part of that kind, or with that mark, is on the machine.
    #[error("no such {part} is on the machine")]
    PartIsNotOn {
        /// The kind of part.
        part: String,
    },
    /// Several parts of that kind are on the machine and none was named.
    #[error("several are on the machine: {part}")]
    SeveralParts {
        /// The kind of part.
        part: String,
        /// Their marks.
        marks: Vec<String>,
    },
    /// A part cannot be taken off before it was fitted.
    #[error("at that moment the {part} was not yet fitted")]
    OffBeforeOn {
        /// The kind of part.
        part: String,
    },
    /// No part of that kind was ever fitted.
    #[error("no {part} was ever fitted")]
    UnknownPart {
        /// The kind of part.
        part: String,
        /// The kinds that were.
        known: Vec<String>,
    },
    /// No entry of that kind has that number.
    #[error("there is no entry {entry} of {what}")]
    UnknownEntry {
        /// The number.
        entry: i64,
        /// What it should tell of.
        what: &'static str,
    },
    /// No such person.
    #[error("there is nobody called {asked}")]
    UnknownPerson {
        /// What was asked for.
        asked: String,
        /// The people that there are, by number and name.
        known: Vec<(PersonTag, String)>,
    },
    /// Somebody has that name already.
    #[error("{name} is already person {}", number.0)]
    PersonExists {
        /// The name.
        name: String,
        /// The number.
        number: PersonTag,
    },
    /// A machine that is lent cannot be lent again.
    #[error("machine {machine} is lent to {to} already")]
    IsLent {
        /// The machine.
        machine: u32,
        /// The borrower.
        to: String,
    },
    /// A machine that is here cannot come back.
    #[error("machine {machine} is not lent out")]
    IsNotLent {
        /// The machine.
        machine: u32,
    },
    /// Two machines of one name cannot be told apart on paper.
    #[error("machine {machine} is called {name} already")]
    MachineNameTaken {
        /// The machine.
        machine: u32,
        /// Its name.
        name: String,
    },
    /// Nothing new was said of a machine.
    #[error("nothing was said of machine {machine} that does not hold already")]
    MachineUnchanged {
        /// The machine.
        machine: u32,
    },
    /// Running that was counted to a machine is not taken from it unasked.
    #[error("this would take running from a machine to which it is counted")]
    MovesHours,
    /// A machine cannot have run less when it came back than when it left.
    #[error("the reading of machine {machine} would be less than when it left")]
    ReadingFell {
        /// The machine.
        machine: u32,
    },
    /// A machine cannot leave before it last came back.
    #[error("machine {machine} came back after that moment")]
    LentBeforeBack {
        /// The machine.
        machine: u32,
        /// When it came back.
        back: UtcMillis,
    },
    /// A machine cannot come back before it left.
    #[error("machine {machine} left after that moment")]
    BackBeforeLent {
        /// The machine.
        machine: u32,
        /// When it left.
        out: UtcMillis,
    },
    /// Work on a commission cannot have been in that order.
    #[error(transparent)]
    Work(#[from] WorkProblem),
    /// A timer cannot be started or stopped.
    #[error(transparent)]
    Job(#[from] JobProblem),
    /// Something about a commission cannot be.
    #[error(transparent)]
    Tell(#[from] TellProblem),
    /// A table says nothing.
    #[error(transparent)]
    Table(#[from] TableProblem),
    /// An amount of money that is none.
    #[error("{option}: {problem}")]
    Amount {
        /// The option.
        option: &'static str,
        /// What is wrong.
        problem: NotAnAmount,
    },
    /// No amount was given.
    #[error("no cost was given")]
    NoAmount,
    /// The maker's own task would have the name of one of the plan's.
    #[error("there is already a care task called {0}")]
    TaskExists(String),
    /// A task of the maker's own without any limit would never be asked for.
    #[error("nothing says when {0} should be asked for")]
    TaskWithoutLimit(String),
    /// A machine has no such point.
    #[error("there is no oil point called {name}")]
    UnknownPoint {
        /// What was asked for.
        name: String,
        /// Names like it; may be empty.
        nearest: Vec<String>,
        /// All names.
        known: Vec<String>,
    },
    /// There is a point of that name already.
    #[error("there is already an oil point called {0}")]
    PointExists(String),
    /// Putting off needs an end and a reason.
    #[error("it was not said {missing}")]
    SnoozeUnclear {
        /// What is missing.
        missing: &'static str,
    },
    /// The care task is switched off, or was not due.
    #[error("{task} {why}")]
    NothingToSnooze {
        /// The task.
        task: String,
        /// Why there is nothing to put off.
        why: &'static str,
    },
    /// No such spare in stock.
    #[error("nothing called {name} is in stock")]
    UnknownSpare {
        /// What was asked for.
        name: String,
        /// What is.
        known: Vec<String>,
    },
    /// There is no proposed ceiling to accept.
    #[error("no ceiling is proposed now")]
    NothingProposed,
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

/// A moment of which something is told; now if none was said.
///
/// # Errors
/// When it lies in the future: only what has happened can be written down.
pub fn happened(at: Option<UtcMillis>, now: UtcMillis) -> Result<UtcMillis, RequestError> {
    let at = at.unwrap_or(now);
    if at > now { Err(RequestError::InTheFuture) } else { Ok(at) }
}

/// The machine that is meant: the named one, or the only one.
///
/// # Errors
/// When there is none, or several and none was named.
pub fn machine(studio: &Studio, number: Option<u32>) -> Result<&MachineCard, RequestError> {
    match (number, studio.machines.as_slice()) {
        (_, []) => Err(RequestError::NoMachine),
        (Some(number), machines) => machines
            .iter()
            .find(|machine| machine.tag == MachineTag(number))
            .ok_or_else(|| RequestError::UnknownMachine { number, known: known(machines) }),
        (None, [only]) => Ok(only),
        (None, machines) => Err(RequestError::SeveralMachines { known: known(machines) }),
    }
}

/// The number of the named machine; none when none was named, which means all.
///
/// # Errors
/// When there is none of that number.
pub fn only_machine(studio: &Studio, number: Option<u32>) -> Result<Option<MachineTag>, RequestError> {
    number.map(|number| machine(studio, Some(number)).map(|card| card.tag)).transpose()
}

/// The named machine, or all of them.
///
/// # Errors
/// When there is none.
pub fn machines(studio: &Studio, number: Option<u32>) -> Result<Vec<&MachineCard>, RequestError> {
    match number {
        Some(_) => Ok(vec![machine(studio, number)?]),
        None if studio.machines.is_empty() => Err(RequestError::NoMachine),
        None => Ok(studio.machines.iter().collect()),
    }
}

/// Hours as a maker would write them: at most three places.
fn short(hours: f64) -> String {
    if hours.abs() >= 1e6 {
        return format!("{hours:e}");
    }
    let text = format!("{hours:.3}");
    let trimmed = if hours.is_finite() { text.trim_end_matches('0').trim_end_matches('.') } else { &text };
    // A number that only rounds to nothing is not nothing.
    if trimmed == "0" && hours != 0.0 { hours.to_string() } else { trimmed.to_owned() }
}

fn known(machines: &[MachineCard]) -> Vec<(MachineTag, String)> {
    machines.iter().map(|machine| (machine.tag, machine.name.clone())).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_limit_out_of_its_range_is_told_in_numbers_that_can_be_read() {
        let told = |asked_hours| {
            let (low_hours, high_hours) = (1.0 / 12.0, 1_000.0);
            RequestError::LimitOutOfRange { task: "wax".to_owned(), asked_hours, low_hours, high_hours }
                .to_string()
        };
        assert_eq!(told(0.01), "wax every 0.01 hours is outside 0.083 to 1000 hours");
        assert_eq!(told(0.0001), "wax every 0.0001 hours is outside 0.083 to 1000 hours");
        assert_eq!(told(1_200.0), "wax every 1200 hours is outside 0.083 to 1000 hours");
        assert_eq!(told(1e300), "wax every 1e300 hours is outside 0.083 to 1000 hours");
        assert_eq!(told(f64::INFINITY), "wax every inf hours is outside 0.083 to 1000 hours");
    }

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
