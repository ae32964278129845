//! The choice of the machine that a request is about.

use shared_types::MachineTag;

use super::error::RequestError;
use host_core::studio::{MachineCard, Studio};

/// The machine that is meant: the named one, the only one, or the only one in use.
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
        (None, machines) => {
            let mut in_use = machines.iter().filter(|machine| machine.resting.is_none());
            let several = || RequestError::SeveralMachines { known: known(machines) };
            in_use.next().filter(|_| in_use.next().is_none()).ok_or_else(several)
        }
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

fn known(machines: &[MachineCard]) -> Vec<(MachineTag, String)> {
    machines.iter().map(|machine| (machine.tag, machine.name.clone())).collect()
}
