//! What the maker writes down at the computer, in the order in which it happened.

use shared_types::{RawAngle, UtcMillis};

use super::maker::MACHINE;
use super::scenario::Commission;
use crate::core::entries::{
    CareDone, CareTaskName, Drive, EntryBody, Finding, KnobMarks, MachineAdded, Pile, RugName, RugOrdered,
    RugWork, WorkChange,
};

/// Entries that wait for the maker to sit down at the computer.
#[derive(Debug, Default)]
pub struct Notebook {
    waiting: Vec<(UtcMillis, EntryBody)>,
}

impl Notebook {
    /// The machine and its knob, as the maker enters them on the first day.
    pub fn machine(&mut self, (slow, fast): (RawAngle, RawAngle), at: UtcMillis) {
        let added = MachineAdded {
            machine: MACHINE,
            name: "Blue handle".to_owned(),
            pile: Pile::Cut,
            before_logger: None,
            since: at,
            drive: Drive::Electric,
        };
        self.write(at, EntryBody::MachineAdded(added));
        self.write(at, EntryBody::KnobMarked(KnobMarks { machine: MACHINE, slow, fast, rising: true }));
    }

    /// A commission is taken.
    pub fn order(&mut self, commission: &Commission, at: UtcMillis) {
        let ordered = RugOrdered {
            rug: RugName(commission.name.to_owned()),
            width_mm: Some(commission.width_mm),
            height_mm: Some(commission.height_mm),
            cloth_lot: Some(commission.cloth_lot.to_owned()),
            at,
        };
        self.write(at, EntryBody::RugOrdered(ordered));
    }

    /// Work on a commission begins or ends.
    pub fn work(&mut self, commission: &Commission, change: WorkChange, at: UtcMillis) {
        let rug = RugName(commission.name.to_owned());
        self.write(at, EntryBody::RugWork(RugWork { rug, machine: Some(MACHINE), change, at }));
    }

    /// Care was given.
    pub fn care(&mut self, task: &str, finding: Option<Finding>, at: UtcMillis) {
        let task = CareTaskName(task.to_owned());
        self.write(at, EntryBody::CareDone(CareDone { machine: MACHINE, task, at, finding, note: None }));
    }

    fn write(&mut self, at: UtcMillis, body: EntryBody) {
        self.waiting.push((at, body));
    }

    /// Everything written since the last time, oldest first.
    pub fn take(&mut self) -> Vec<(UtcMillis, EntryBody)> {
        std::mem::take(&mut self.waiting)
    }
}
