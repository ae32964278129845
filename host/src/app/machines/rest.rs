//! Machines out of use, and back.

use serde::Serialize;
use shared_types::{MachineTag, UtcMillis};

use super::error::MachineError;
use crate::app::ports::{Clock, Store};
use crate::app::typed::choose_machine;
use crate::app::typed::error::RequestError;
use host_core::entries::{EntryBody, EntryId, MachineRested};
use host_core::studio::{MachineCard, Studio};

/// Longest reason, in characters.
const LONGEST_REASON: usize = 300;

/// What was noted.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct RestReport {
    /// The entry's number.
    pub entry: EntryId,
    /// The machine's number.
    pub machine: MachineTag,
    /// Its name.
    pub machine_name: String,
    /// When it was said, in milliseconds UTC.
    pub at_utc_ms: UtcMillis,
    /// Whether it is out of use from then on.
    pub rests: bool,
    /// Why.
    pub reason: Option<String>,
}

/// Takes a machine out of use: its care is not asked for, and it is not the machine that is meant where none is named.
///
/// # Errors
/// When there is no such machine, it is out of use already, the reason is empty or too long, or the store fails.
pub fn rest(
    store: &mut impl Store,
    clock: &impl Clock,
    number: u32,
    reason: &str,
) -> Result<RestReport, MachineError> {
    let card = machine(store, number)?;
    if card.resting.is_some() {
        return Err(MachineError::Rests(number));
    }
    let reason = reason.trim();
    if reason.is_empty() || reason.chars().count() > LONGEST_REASON || reason.chars().any(char::is_control) {
        let given = format!("\"{}\"", reason.escape_debug());
        return Err(RequestError::OutOfRange { what: "the reason", range: "1 to 300 letters", given }.into());
    }
    note(store, clock, card, Some(reason.to_owned()))
}

/// Takes a machine back into use.
///
/// # Errors
/// When there is no such machine, it is in use, or the store fails.
pub fn back(store: &mut impl Store, clock: &impl Clock, number: u32) -> Result<RestReport, MachineError> {
    let card = machine(store, number)?;
    if card.resting.is_none() {
        return Err(MachineError::IsInUse(number));
    }
    note(store, clock, card, None)
}

fn machine(store: &impl Store, number: u32) -> Result<MachineCard, RequestError> {
    Ok(choose_machine::machine(&Studio::of(&store.entries()?), Some(number))?.clone())
}

fn note(
    store: &mut impl Store,
    clock: &impl Clock,
    card: MachineCard,
    reason: Option<String>,
) -> Result<RestReport, MachineError> {
    let (at, rests) = (clock.now(), reason.is_some());
    let rested = MachineRested { machine: card.tag, at, rests, reason: reason.clone() };
    let entry = store.add_entry(at, &EntryBody::MachineRested(rested))?;
    Ok(RestReport { entry, machine: card.tag, machine_name: card.name, at_utc_ms: at, rests, reason })
}
