//! What a fitting means besides the part's own hours: care that it does, and the spare that it came from.

use serde::Serialize;

use super::book::Book;
use super::care_done::{DoneReport, DoneSaid, done};
use super::part::{PartChanged, PartSaid, TakenOff, fit, on_now};
use super::ports::{Clock, Store};
use super::request::RequestError;
use crate::core::care::care_of;
use crate::core::care::done::{ANSWERED_WITHIN_MS, CareNotes, Evidence};
use crate::core::care::fitted::{comes_back, tasks_done_by};
use crate::core::care::plan::Task;
use crate::core::entries::{Entry, EntryBody, EntryId, PartName, SpareName, StockChange};
use crate::core::stock::{spare_for, stock};
use crate::core::studio::{MachineCard, standing};
use shared_types::UtcMillis;

/// A task of the plan that a fitting did.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct TaskDone {
    /// Its name.
    pub task: String,
    /// Whether the count goes from this fitting on; false where it was done again later.
    pub counts_from_here: bool,
}

/// The part that a task looks after, when the task is noted by itself.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct PartOffer {
    /// The kind.
    pub part: String,
    /// Whether one is on the machine, as far as was noted.
    pub is_on: bool,
    /// The fitting within half a day that did the task already.
    pub fitted_entry: Option<EntryId>,
}

/// The tasks that a fitting did; none when an old part came back.
///
/// # Errors
/// When the database cannot be read.
pub(super) fn tasks_done(
    store: &impl Store,
    clock: &impl Clock,
    card: &MachineCard,
    fitted: EntryId,
) -> Result<Vec<TaskDone>, RequestError> {
    let book = Book::read(store)?;
    let ledger = book.ledger();
    let care = care_of(book.grounds(&ledger), card, clock.now(), &clock.zone());
    let Some(new) = care.notes.new_parts().iter().find(|new| new.entry == fitted) else {
        return Ok(Vec::new());
    };
    let done = |task: &Task<'_>| {
        let last = care.notes.last(task, &care.history, card.since);
        TaskDone {
            task: task.name.to_owned(),
            counts_from_here: last.evidence == Evidence::PartFitted
                && care.notes.entry_of(task, &last) == Some(fitted),
        }
    };
    let tasks = care.notes.tasks(card);
    let of_part = tasks.iter().filter(|task| task.part == Some(new.part.0.as_str()));
    Ok(of_part.map(done).collect())
}

/// The spare that a part comes out of: one of that name that is kept. None for an old part that comes back, and none where
/// one went out with the care itself, so that nothing goes out twice.
pub(super) fn spare_of(
    entries: &[Entry],
    part: &PartName,
    serial: Option<&str>,
    at: UtcMillis,
) -> Option<SpareName> {
    let stands = standing(entries);
    if comes_back(&stands, part, serial, at) {
        return None;
    }
    let lines = stock(entries);
    let spare = spare_for(&lines, part)?.item.clone();
    let is_out = |entry: &&&Entry| match &entry.body {
        EntryBody::StockMoved(moved) => {
            let of_care = |note: &str| tasks_done_by(part).any(|task| task.name == note);
            moved.item == spare
                && matches!(moved.change, StockChange::Out(_))
                && moved.note.as_deref().is_some_and(of_care)
                && is_near(moved.at, at)
        }
        _ => false,
    };
    let out = stands.iter().rfind(is_out).map(|entry| entry.id);
    let is_fitted = |entry: &&Entry| matches!(&entry.body, EntryBody::PartFitted(of) if of.part == *part);
    let fitted = stands.iter().copied().rfind(is_fitted).map(|entry| entry.id);
    let went_out_before = out.is_some_and(|out| fitted.is_none_or(|fitted| fitted < out));
    (!went_out_before).then_some(spare)
}

/// What a task that is noted by itself leaves open about its part.
///
/// # Errors
/// When the database cannot be read.
pub(super) fn offer(
    store: &impl Store,
    clock: &impl Clock,
    card: &MachineCard,
    notes: &CareNotes<'_>,
    task: &Task<'_>,
    at: UtcMillis,
) -> Result<Option<PartOffer>, RequestError> {
    let Some(part) = task.part.map(PartName::of) else { return Ok(None) };
    let near = notes.new_parts().iter().rfind(|new| *new.part == part && is_near(new.at, at));
    Ok(Some(PartOffer {
        is_on: !on_now(store, clock, card, &part)?.is_empty(),
        fitted_entry: near.map(|new| new.entry),
        part: part.0,
    }))
}

fn is_near(one: UtcMillis, other: UtcMillis) -> bool {
    one.0.abs_diff(other.0) <= ANSWERED_WITHIN_MS
}

/// The part of a task that the maker wants to note as fitted.
///
/// # Errors
/// When there is no such task or machine, or the task looks after no part.
pub fn part_of_task(
    store: &impl Store,
    clock: &impl Clock,
    task: &str,
    number: Option<u32>,
    at: Option<UtcMillis>,
) -> Result<PartOffer, RequestError> {
    let book = Book::read(store)?;
    let ledger = book.ledger();
    let card = super::request::machine(&book.studio, number)?;
    let notes = CareNotes::of(&book.entries, &book.studio, &ledger, card.tag);
    let task = super::care::task_of(&notes, card, task)?;
    offer(store, clock, card, &notes, &task, at.unwrap_or(clock.now()))?
        .ok_or_else(|| RequestError::NoPartOfTask { task: task.name.to_owned() })
}

/// One of the things that the maker says were done at one time.
#[derive(Clone, Debug)]
pub enum CareSaid {
    /// A new part went on, and why the one before it was taken off, where one was on.
    NewPart(PartSaid, Option<TakenOff>),
    /// Care was given.
    Done(DoneSaid),
}

/// One of the things that were noted.
#[derive(Clone, Debug)]
pub enum CareNoted {
    /// A fitting.
    NewPart(Box<PartChanged>),
    /// Care.
    Done(Box<DoneReport>),
}

/// Notes in one act what was done at one time.
///
/// # Errors
/// As [`fit`] and [`done`]; nothing is noted then.
pub fn note_all(
    store: &mut impl Store,
    clock: &impl Clock,
    said: &[CareSaid],
) -> Result<Vec<CareNoted>, RequestError> {
    store.together(|store| {
        let mut note = |said: &CareSaid| match said {
            CareSaid::NewPart(part, replaces) => {
                fit(store, clock, part, *replaces).map(|changed| CareNoted::NewPart(Box::new(changed)))
            }
            CareSaid::Done(care) => done(store, clock, care).map(|report| CareNoted::Done(Box::new(report))),
        };
        said.iter().map(&mut note).collect()
    })
}

impl PartSaid {
    /// A fitting that is said as the care that it does.
    #[must_use]
    pub fn of_task(offer: &PartOffer, machine: Option<u32>, at: Option<UtcMillis>) -> Self {
        Self { part: offer.part.clone(), machine, at, ..Self::default() }
    }
}
