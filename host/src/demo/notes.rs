//! What the maker writes down at the computer, in the order in which it happened.

use shared_types::{RawAngle, UtcMillis};

use super::maker::MACHINE;
use super::scenario::{Commission, PILE_HEIGHT_TENTHS_MM};
use crate::core::entries::{
    CareDone, CareTaskName, EntryBody, Finding, KnobMarks, MachineAdded, PartFitted, PartName, Pile,
    RugDescribed, RugName, RugOrdered, RugWork, WorkChange,
};
use crate::core::quote::Style;

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
        };
        self.write(at, EntryBody::MachineAdded(added));
        self.write(at, EntryBody::KnobMarked(KnobMarks { machine: MACHINE, slow, fast, rising: true }));
        let (part, serial) = (PartName::of("needle"), Some("A1".to_owned()));
        let needle = PartFitted { machine: MACHINE, part, serial, at, note: None };
        self.write(at, EntryBody::PartFitted(needle));
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
        let described = RugDescribed {
            rug: RugName(commission.name.to_owned()),
            style: Some(Style::Cut),
            pile_height_tenths_mm: Some(PILE_HEIGHT_TENTHS_MM),
            colours: commission.colours.iter().map(|colour| (*colour).to_owned()).collect(),
        };
        self.write(at, EntryBody::RugDescribed(described));
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
