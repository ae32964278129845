//! A new part on the machine is care: it does every task of the plan that looks after the one that it replaces.
//!
//! A new needle has no burr, a new belt does not fray; so the look at the old one is done, and so is its change. A new pair of
//! scissors does the sharpening, but not the look over whether it opens, closes and cuts: a new pair wants that most of all. A
//! part that was taken off still good, or as a precaution, and comes back under its mark is no new one and does nothing.
//! Nothing is noted for it besides the fitting, so that taking the fitting back takes all of it back.

use std::collections::BTreeSet;

use shared_types::{MachineTag, UtcMillis};

use super::plan::CareTask;
use super::tasks::PLAN;
use crate::entries::{Entry, EntryBody, EntryId, InForce, PartFitted, PartName, PartTakenOff, TakenOff};

/// A new part on a machine.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct NewPart<'a> {
    /// The entry of its fitting.
    pub entry: EntryId,
    /// On which machine.
    pub machine: MachineTag,
    /// Its kind.
    pub part: &'a PartName,
    /// When it was fitted.
    pub at: UtcMillis,
}

/// The tasks of the plan that a new part of a kind does.
pub fn tasks_done_by(part: &PartName) -> impl Iterator<Item = &'static CareTask> {
    PLAN.iter().filter(move |task| task.part == Some(part.0.as_str()))
}

/// Every fitting of a new part on a machine, in the order of time.
#[must_use]
pub fn new_parts<'a>(entries: &'a InForce<'_>, machine: MachineTag) -> Vec<NewPart<'a>> {
    let mut new = all_new_parts(entries);
    new.retain(|new| new.machine == machine);
    new
}

/// The same on all machines. A part that comes back may have come off another machine.
#[must_use]
pub fn all_new_parts<'a>(entries: &'a InForce<'_>) -> Vec<NewPart<'a>> {
    let mut resting = Resting::default();
    let mut new = Vec::new();
    for (at, entry, change) in changes(entries) {
        match change {
            Change::Off(off) => resting.take_off(off),
            Change::On(fitted) => {
                if !resting.comes_back(&fitted.part, fitted.serial.as_deref()) {
                    new.push(NewPart { entry, machine: fitted.machine, part: &fitted.part, at });
                }
            }
        }
    }
    new
}

/// Whether a part that is fitted at a moment is an old one that comes back.
#[must_use]
pub fn comes_back(entries: &InForce<'_>, part: &PartName, serial: Option<&str>, at: UtcMillis) -> bool {
    let mut resting = Resting::default();
    for (_, _, change) in changes(entries).into_iter().take_while(|(changed, ..)| *changed <= at) {
        match change {
            Change::Off(off) => resting.take_off(off),
            Change::On(fitted) => {
                resting.comes_back(&fitted.part, fitted.serial.as_deref());
            }
        }
    }
    resting.comes_back(part, serial)
}

enum Change<'a> {
    Off(&'a PartTakenOff),
    On(&'a PartFitted),
}

fn changes<'a>(entries: &'a InForce<'_>) -> Vec<(UtcMillis, EntryId, Change<'a>)> {
    let change = |entry: &'a Entry| match &entry.body {
        EntryBody::PartFitted(fitted) => Some((fitted.at, entry.id, Change::On(fitted))),
        EntryBody::PartTakenOff(off) => Some((off.at, entry.id, Change::Off(off))),
        _ => None,
    };
    let mut changes: Vec<_> = entries.iter().filter_map(change).collect();
    changes.sort_by_key(|(at, id, _)| (*at, *id));
    changes
}

/// Marked parts that were taken off and may come back, on whichever machine.
#[derive(Default)]
struct Resting<'a>(BTreeSet<(&'a str, &'a str)>);

impl<'a> Resting<'a> {
    fn take_off(&mut self, off: &'a PartTakenOff) {
        let Some(serial) = &off.serial else { return };
        let named = (off.part.0.as_str(), serial.as_str());
        if matches!(off.why, TakenOff::StillGood | TakenOff::Precaution) {
            self.0.insert(named);
        } else {
            self.0.remove(&named);
        }
    }

    fn comes_back(&mut self, part: &PartName, serial: Option<&str>) -> bool {
        let of = |at: &(&'a str, &'a str)| at.0 == part.0 && serial == Some(at.1);
        let known = self.0.iter().copied().find(of);
        known.is_some_and(|known| self.0.remove(&known))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::test_facts::entries;

    const ONE: MachineTag = MachineTag(1);

    fn on(serial: Option<&str>, at: i64) -> EntryBody {
        EntryBody::PartFitted(PartFitted {
            machine: ONE,
            part: PartName::of("needle"),
            serial: serial.map(str::to_owned),
            at: UtcMillis(at),
            note: None,
            from_stock: None,
            off_entry: None,
        })
    }

    fn off(serial: Option<&str>, at: i64, why: TakenOff) -> EntryBody {
        EntryBody::PartTakenOff(PartTakenOff {
            machine: ONE,
            part: PartName::of("needle"),
            serial: serial.map(str::to_owned),
            at: UtcMillis(at),
            why,
            note: None,
        })
    }

    fn new_at(said: Vec<EntryBody>, machine: MachineTag) -> Vec<i64> {
        let kept = entries(said);
        new_parts(&kept, machine).into_iter().map(|new| new.at.0).collect()
    }

    #[test]
    fn a_part_that_comes_back_under_its_mark_is_no_new_one() {
        let said = |why| vec![on(Some("A"), 1), off(Some("A"), 2, why), on(Some("A"), 3)];
        assert_eq!(new_at(said(TakenOff::StillGood), ONE), [1]);
        assert_eq!(new_at(said(TakenOff::Precaution), ONE), [1]);
        // The mark of a part that is gone was given to another one.
        assert_eq!(new_at(said(TakenOff::WornOut), ONE), [1, 3]);
        assert_eq!(new_at(said(TakenOff::StillGood), MachineTag(2)), Vec::<i64>::new());
    }

    #[test]
    fn a_part_without_a_mark_is_always_new_and_entries_count_in_the_order_of_time() {
        let unmarked = vec![on(None, 1), off(None, 2, TakenOff::StillGood), on(None, 3)];
        assert_eq!(new_at(unmarked, ONE), [1, 3]);
        let entered_late = vec![on(Some("A"), 3), off(Some("A"), 2, TakenOff::StillGood), on(Some("A"), 1)];
        assert_eq!(new_at(entered_late, ONE), [1]);
    }

    #[test]
    fn a_new_needle_does_its_look_and_its_change_and_new_scissors_only_the_sharpening() {
        let done = |part: &str| {
            tasks_done_by(&PartName::of(part)).map(|task| task.name).collect::<Vec<_>>().join(" ")
        };
        assert_eq!(done("needle"), "needle needle-change");
        assert_eq!(done("scissors"), "scissors-sharpen");
        assert_eq!(done("belt"), "belt");
        assert_eq!(done("Carbon brushes"), "carbon-brushes");
        assert_eq!(done("zip"), "");
    }
}
