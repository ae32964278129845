//! Consequences of a fitting besides the part's hours: care that it does, and the spare that is used up.

use serde::Serialize;
use shared_types::UtcMillis;

use crate::app::ports::{Clock, Store};
use crate::app::typed::error::RequestError;
use crate::app::whole_book::Book;
use host_core::care::care_of;
use host_core::care::done::{ANSWERED_WITHIN_MS, Evidence};
use host_core::care::fitted::{comes_back, tasks_done_by};
use host_core::care::plan::Task;
use host_core::care::stock::{spare_for, stock};
use host_core::entries::{Entry, EntryBody, EntryId, InForce, PartName, SpareName, StockChange};
use host_core::studio::MachineCard;

/// A task of the plan that a fitting did.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct TaskDone {
    /// Its name.
    pub task: String,
    /// Whether the count goes from this fitting on; false where it was done again later.
    pub counts_from_here: bool,
}

/// The tasks that a fitting did; none when an old part came back.
///
/// # Errors
/// When the database cannot be read.
pub(in crate::app) fn tasks_done(
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
pub(in crate::app) fn spare_of(
    entries: &InForce<'_>,
    part: &PartName,
    serial: Option<&str>,
    at: UtcMillis,
) -> Option<SpareName> {
    if comes_back(entries, part, serial, at) {
        return None;
    }
    let lines = stock(entries);
    let spare = spare_for(&lines, part)?.item.clone();
    let is_out = |entry: &&Entry| match &entry.body {
        EntryBody::StockMoved(moved) => {
            let of_care = |note: &str| tasks_done_by(part).any(|task| task.name == note);
            moved.item == spare
                && matches!(moved.change, StockChange::Out(_))
                && moved.note.as_deref().is_some_and(of_care)
                && is_near(moved.at, at)
        }
        _ => false,
    };
    let out = entries.iter().rfind(is_out).map(|entry| entry.id);
    let is_fitted = |entry: &&Entry| matches!(&entry.body, EntryBody::PartFitted(of) if of.part == *part);
    let fitted = entries.iter().rfind(is_fitted).map(|entry| entry.id);
    let went_out_before = out.is_some_and(|out| fitted.is_none_or(|fitted| fitted < out));
    (!went_out_before).then_some(spare)
}

pub(in crate::app) fn is_near(one: UtcMillis, other: UtcMillis) -> bool {
    one.0.abs_diff(other.0) <= ANSWERED_WITHIN_MS
}
