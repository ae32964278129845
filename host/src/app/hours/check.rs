//! Doubtful running: what the maker is asked about it, and the answer.

use std::collections::BTreeSet;

use serde::Serialize;

use super::error::HoursError;
use crate::app::logger::PullReport;
use crate::app::ports::logger_name::{log_name, logger_name};
use crate::app::ports::{Clock, Store, StoreError};
use crate::app::typed::error::RequestError;
use crate::app::whole_book::Book;
use host_core::entries::{DoubtAnswer, DoubtAnswered, EntryBody, RugName};
use host_core::sessions::doubtful_runs::{self, DoubtfulRun};
use host_core::sessions::ledger::Standing;
use host_core::sessions::session_list::SessionName;

/// The answer of `hours check`.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct CheckList {
    /// All doubtful running, the answered too, the oldest first.
    pub runs: Vec<DoubtfulRun>,
}

/// Lists all doubtful running.
///
/// # Errors
/// When the store cannot be read.
pub fn list(store: &impl Store) -> Result<CheckList, RequestError> {
    let book = Book::read(store)?;
    Ok(CheckList { runs: doubtful_runs::all(&book.studio, &book.ledger()) })
}

/// What was answered.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Checked {
    /// The running, as it stood before.
    pub runs: Vec<DoubtfulRun>,
    /// The same, as it stands now, with the entries that answered it.
    pub now: Vec<DoubtfulRun>,
    /// What was said.
    pub answer: DoubtAnswer,
}

/// Says whether doubtful running was real work: what is named, or everything that counts nowhere because nobody has said yet.
/// What counts already must be named.
///
/// # Errors
/// When a number is of no doubtful running, may be of several, or nothing is named and nothing is to be checked; nothing is
/// changed then.
pub fn answer(
    store: &mut impl Store,
    clock: &impl Clock,
    named: &[SessionName],
    answer: DoubtAnswer,
) -> Result<Checked, HoursError> {
    let before = list(store)?.runs;
    let runs: Vec<DoubtfulRun> = if named.is_empty() {
        before.into_iter().filter(|run| run.standing == Standing::Open).collect()
    } else {
        let named: BTreeSet<SessionName> = named.iter().copied().collect();
        named.into_iter().map(|name| only_one(&before, name)).collect::<Result<_, _>>()?
    };
    if runs.is_empty() {
        return Err(HoursError::AllChecked);
    }
    let bodies: Vec<EntryBody> = runs.iter().map(|run| body(run, answer)).collect();
    store.add_entries(clock.now(), &bodies)?;
    let is_among = |run: &DoubtfulRun| {
        runs.iter().any(|one| one.log == run.log && one.first <= run.first && run.last <= one.last)
    };
    let now = list(store)?.runs.into_iter().filter(is_among).collect();
    Ok(Checked { runs, now, answer })
}

fn only_one(all: &[DoubtfulRun], asked: SessionName) -> Result<DoubtfulRun, HoursError> {
    let fits = |run: &&DoubtfulRun| match asked {
        SessionName::Counted { first, log } => run.first == first && log.is_none_or(|log| log == run.log.log),
        SessionName::Typed(_) => false,
    };
    let found: Vec<&DoubtfulRun> = all.iter().filter(fits).collect();
    match found.as_slice() {
        [] => Err(HoursError::NothingToCheck(asked)),
        [one] => Ok((*one).clone()),
        several => {
            let known = several.iter().map(|run| run.run).collect();
            Err(RequestError::SeveralSessions { asked, known }.into())
        }
    }
}

/// The doubtful running that a pull brought, and of which nobody has said anything yet.
///
/// # Errors
/// When the store cannot be read.
pub fn of_pull(store: &impl Store, report: &PullReport) -> Result<Vec<DoubtfulRun>, RequestError> {
    let Some(from) = report.new_from else { return Ok(Vec::new()) };
    let mut runs = list(store)?.runs;
    runs.retain(|run| {
        run.standing == Standing::Open
            && run.last >= from
            && logger_name(run.log.logger) == report.logger
            && log_name(run.log.log) == report.log
    });
    Ok(runs)
}

/// What is entered with a delivery, so that doubtful running which was left out of the commission stays out.
///
/// # Errors
/// When the store cannot be read.
pub fn left_open(store: &impl Store, rug: &RugName) -> Result<Vec<EntryBody>, StoreError> {
    let book = Book::read(store)?;
    let runs = doubtful_runs::all(&book.studio, &book.ledger());
    let open = runs.iter().filter(|run| {
        run.standing == Standing::Open && run.entry.is_none() && run.rug.as_deref() == Some(rug.0.as_str())
    });
    Ok(open.map(|run| body(run, DoubtAnswer::LeftOpen)).collect())
}

fn body(run: &DoubtfulRun, answer: DoubtAnswer) -> EntryBody {
    EntryBody::DoubtAnswered(DoubtAnswered {
        logger: run.log.logger,
        log: run.log.log,
        from: run.first,
        to: run.last,
        answer,
    })
}
