//! Removing a machine of which nothing is noted.

use super::error::MachineError;
use crate::app::ports::{Clock, Store};
use crate::app::typed::choose_machine;
use crate::app::typed::error::RequestError;
use host_core::entries::{Entry, EntryBody, MachineAdded};
use host_core::studio::Studio;

/// Takes back that a machine was entered, and with it that it was out of use. Its number is given to no other machine.
///
/// # Errors
/// When there is no such machine, anything else is noted of it, or the store fails.
pub fn remove(store: &mut impl Store, clock: &impl Clock, number: u32) -> Result<MachineAdded, MachineError> {
    let entries = store.entries()?;
    let studio = Studio::of(&entries);
    let tag = choose_machine::machine(&studio, Some(number))?.tag;
    let of_it: Vec<&Entry> = entries.iter().filter(|entry| entry.body.machine() == Some(tag)).collect();
    let mut noted: Vec<(&str, usize)> = Vec::new();
    for noun in of_it.iter().filter_map(|entry| noun(&entry.body)) {
        match noted.iter_mut().find(|(known, _)| *known == noun) {
            Some((_, count)) => *count += 1,
            None => noted.push((noun, 1)),
        }
    }
    if !noted.is_empty() {
        let noted = noted.into_iter().map(|(noun, count)| format!("{noun} ({count})")).collect();
        return Err(MachineError::IsUsed { machine: number, noted });
    }
    let added = of_it.iter().rev().find_map(|entry| match &entry.body {
        EntryBody::MachineAdded(added) => Some(added.clone()),
        _ => None,
    });
    let Some(added) = added else { return Err(RequestError::NoMachine.into()) };
    let withdrawn =
        |entry: &&Entry| EntryBody::Withdrawn { entry: entry.id, reason: "never used".to_owned() };
    store.add_entries(clock.now(), &of_it.iter().map(withdrawn).collect::<Vec<_>>())?;
    Ok(added)
}

/// What an entry is called among the reasons why its machine stays; none for what goes with the machine.
const fn noun(body: &EntryBody) -> Option<&'static str> {
    Some(match body {
        EntryBody::MachineAdded(_) | EntryBody::MachineRested(_) => return None,
        EntryBody::LoggerFitted(_) => "a logger",
        EntryBody::HandHours(_) => "work by hand",
        EntryBody::RugWork(_) => "work on a rug",
        EntryBody::MachineLent(_) | EntryBody::MachineReturned(_) => "lending",
        EntryBody::PartFitted(_) | EntryBody::PartTakenOff(_) => "parts",
        EntryBody::MachineFault(_) => "faults",
        EntryBody::TearNoted(_) => "tears and near-misses",
        EntryBody::HandsAtWork(_) => "who worked",
        EntryBody::MachineCosts(_) => "costs",
        EntryBody::CareDone(_)
        | EntryBody::CareSnoozed(_)
        | EntryBody::CareSkipped(_)
        | EntryBody::PileHeightSet(_)
        | EntryBody::DuePublished(_) => "care",
        _ => "settings",
    })
}
