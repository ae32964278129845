//! Open questions about the part of a task that was noted by itself.

use crate::app::parts::{is_near, on_now};
use crate::app::ports::{Clock, Store};
use crate::app::typed::error::RequestError;
use host_core::care::done::CareNotes;
use host_core::care::plan::Task;
use host_core::entries::{EntryId, PartName};
use host_core::studio::MachineCard;
use serde::Serialize;
use shared_types::UtcMillis;

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

/// What a task that is noted by itself leaves open about its part.
///
/// # Errors
/// When the database cannot be read.
pub fn offer(
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
