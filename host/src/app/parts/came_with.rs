//! Parts that came with a second-hand machine: on it from the first day, and of unknown age.

use host_core::entries::{Entry, EntryBody, InForce, PartName, USUAL_PARTS};
use host_core::studio::MachineCard;

/// Whether a part of a kind came with a machine and is still on it: the machine came second-hand, the kind is one that every
/// machine has, and none was noted as fitted or taken off.
pub(super) fn came_with(entries: &InForce<'_>, card: &MachineCard, part: &PartName) -> bool {
    let is_noted = |entry: &Entry| match &entry.body {
        EntryBody::PartFitted(of) => of.machine == card.tag && of.part == *part,
        EntryBody::PartTakenOff(of) => of.machine == card.tag && of.part == *part,
        _ => false,
    };
    card.is_second_hand && USUAL_PARTS.contains(&part.0.as_str()) && !entries.iter().any(is_noted)
}
