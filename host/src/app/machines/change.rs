//! Putting right what was said when a machine was entered.

use super::error::MachineError;
use super::machine::{check_age, check_is_free, hours_before};
use crate::app::ports::{Clock, Store};
use crate::app::typed::choose_machine;
use crate::app::typed::dates::Given;
use crate::app::typed::error::RequestError;
use crate::app::typed::names::checked_name;
use host_core::entries::{Drive, EntryBody, MachineAdded, Pile};
use host_core::studio::Studio;

/// What is said anew; what is none stays as it was.
#[derive(Clone, Debug, Default)]
pub struct MachineChange {
    /// Which machine; none: the only one.
    pub machine: Option<u32>,
    /// Its name.
    pub name: Option<String>,
    /// What it makes.
    pub pile: Option<Pile>,
    /// What moves its needle.
    pub drive: Option<Drive>,
    /// The owner's estimate of run time before the logger, in hours.
    pub hours_before: Option<u32>,
    /// Since when it is in the studio.
    pub since: Option<Given>,
    /// Whether a logger board is on it.
    pub has_logger: Option<bool>,
    /// Whether it came second-hand, with parts of unknown age.
    pub is_second_hand: Option<bool>,
}

/// Enters the machine anew under its number and takes the old entry back, which stays visible. Returns what holds now.
///
/// # Errors
/// When the machine is not clear, a value is refused as when a machine is added, nothing would change, or the store
/// fails.
pub fn change(
    store: &mut impl Store,
    clock: &impl Clock,
    change: MachineChange,
) -> Result<MachineAdded, MachineError> {
    let entries = store.entries()?;
    let studio = Studio::of(&entries);
    let tag = choose_machine::machine(&studio, change.machine)?.tag;
    let old = entries.iter().rev().find_map(|entry| match &entry.body {
        EntryBody::MachineAdded(added) if added.machine == tag => Some((entry.id, added)),
        _ => None,
    });
    let Some((old_entry, old)) = old else { return Err(RequestError::NoMachine.into()) };
    let name = change.name.map(|name| checked_name("the machine's name", &name)).transpose()?;
    let new = MachineAdded {
        machine: tag,
        name: name.unwrap_or_else(|| old.name.clone()),
        pile: change.pile.unwrap_or(old.pile),
        before_logger: change.hours_before.map(hours_before).transpose()?.or(old.before_logger),
        since: change.since.map_or(old.since, |since| since.start(clock)),
        drive: change.drive.unwrap_or(old.drive),
        has_logger: change.has_logger.or(old.has_logger),
        is_second_hand: change.is_second_hand.or(old.is_second_hand),
    };
    check_age(&new)?;
    check_is_free(&studio, &new.name, Some(tag))?;
    if new == *old {
        return Err(MachineError::Unchanged(tag.0));
    }
    let withdrawn = EntryBody::Withdrawn { entry: old_entry, reason: "put right".to_owned() };
    store.add_entries(clock.now(), &[EntryBody::MachineAdded(new.clone()), withdrawn])?;
    Ok(new)
}
