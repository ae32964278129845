//! What a request can meet besides its answer, and the choice of the machine that it is about.

use shared_types::MachineTag;
use thiserror::Error;

use super::ports::StoreError;
use crate::core::studio::{MachineCard, Studio, UnknownRug};
use crate::core::tears::TableProblem;

/// Why a request was not answered.
#[derive(Debug, Error)]
#[non_exhaustive]
pub enum RequestError {
    /// The database said no.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// There is no machine.
    #[error("there is no machine yet")]
    NoMachine,
    /// There are several, and none was named.
    #[error("which machine? There are {known}")]
    SeveralMachines {
        /// Numbers and names.
        known: String,
    },
    /// There is none of that number.
    #[error("there is no machine {number}; there are {known}")]
    UnknownMachine {
        /// The number.
        number: u32,
        /// Numbers and names of those there are.
        known: String,
    },
    /// No such care task.
    #[error("there is no care task called {name}")]
    UnknownTask {
        /// What was asked for.
        name: String,
        /// Names like it.
        nearest: Vec<String>,
    },
    /// No such commission.
    #[error(transparent)]
    UnknownRug(#[from] UnknownRug),
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
    #[error("{id} was taken back before: {reason}")]
    TakenBackBefore {
        /// Its name.
        id: String,
        /// Why it was.
        reason: String,
    },
    /// No care entry of that number counts.
    #[error("there is no care entry {entry} that counts")]
    UnknownCareEntry {
        /// The number.
        entry: i64,
    },
    /// A moment that is still to come.
    #[error("that lies in the future")]
    InTheFuture,
    /// A limit outside what makes sense.
    #[error("{task} every {asked_hours} hours is outside {low_hours} to {high_hours} hours")]
    LimitOutOfRange {
        /// The task.
        task: &'static str,
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
        task: &'static str,
    },
    /// A table cannot be read.
    #[error("line {line}: {what}")]
    TableLine {
        /// The line of the file.
        line: u64,
        /// What is wrong with it.
        what: String,
    },
    /// A table has no such column.
    #[error("the table has no column {column}; its columns are {found}")]
    MissingColumn {
        /// The column.
        column: &'static str,
        /// The columns there are.
        found: String,
    },
    /// A table says nothing.
    #[error(transparent)]
    Table(#[from] TableProblem),
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

fn known(machines: &[MachineCard]) -> String {
    let named: Vec<String> =
        machines.iter().map(|machine| format!("{} ({})", machine.tag.0, machine.name)).collect();
    named.join(", ")
}
