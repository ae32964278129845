//! Sessions that the maker typed in, with what follows from the time at the frame.

use std::collections::BTreeMap;

use shared_types::{MachineTag, UtcMillis};

use crate::entries::{
    Certainty, EntryBody, EntryId, InForce, MotorShareSet, MotorShareSource, Owner, SessionNoted,
};
use crate::stats::HOUR_MS;

/// So long the motor is taken to run in an hour at the frame until anybody says otherwise, in milliseconds: 27 minutes, the
/// middle of the 30 to 60 in 100 that are usual (common practice, no source).
pub const START_RUN_MS_PER_HOUR: u32 = 27 * 60_000;

/// How far a session of which only the day is known may reach from noon, in milliseconds.
const HALF_A_DAY_MS: i64 = 12 * HOUR_MS.cast_signed();

/// A session that was typed in.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Worked {
    /// Its entry.
    pub entry: EntryId,
    /// What the maker said.
    pub said: SessionNoted,
    /// To whom the maker gave it afterwards.
    pub given: Option<(Owner, Certainty)>,
    /// Run time in milliseconds: said, or what follows from the time at the frame.
    pub run_ms: u64,
    /// Whether the run time only follows from the time at the frame.
    pub is_about: bool,
}

impl Worked {
    /// So long it took at least, in milliseconds: the time at the frame, else the running.
    #[must_use]
    pub fn frame_ms(&self) -> u64 {
        self.said.frame_ms.unwrap_or(self.run_ms)
    }

    /// The first and the last moment between which it was.
    #[must_use]
    pub fn span(&self) -> (UtcMillis, UtcMillis) {
        let UtcMillis(at) = self.said.at;
        if self.said.is_day {
            return (
                UtcMillis(at.saturating_sub(HALF_A_DAY_MS)),
                UtcMillis(at.saturating_add(HALF_A_DAY_MS - 1)),
            );
        }
        let lasted = i64::try_from(self.frame_ms()).unwrap_or(i64::MAX);
        (self.said.at, UtcMillis(at.saturating_add(lasted)))
    }
}

/// For how much of the time at the frame the motor runs.
#[derive(Clone, Debug, Default)]
pub struct MotorShares {
    of_machine: BTreeMap<MachineTag, MotorShareSet>,
    of_all: Option<MotorShareSet>,
}

impl MotorShares {
    /// What holds for a machine; the last one said.
    #[must_use]
    pub fn of(&self, machine: MachineTag) -> MotorShareSet {
        self.of_machine.get(&machine).copied().or(self.of_all).unwrap_or(MotorShareSet {
            machine: None,
            run_ms_per_hour: START_RUN_MS_PER_HOUR,
            source: MotorShareSource::Assumed,
        })
    }

    /// Whether anything was said or counted of a machine's share.
    #[must_use]
    pub fn is_answered(&self, machine: MachineTag) -> bool {
        self.of_machine.contains_key(&machine) || self.of_all.is_some()
    }

    /// A session as it stands, or would stand, beside the others.
    #[must_use]
    pub fn worked_of(&self, entry: EntryId, said: SessionNoted, given: Option<(Owner, Certainty)>) -> Worked {
        let follows = said.frame_ms.map(|frame| self.run_ms(said.machine, frame));
        Worked {
            entry,
            given,
            run_ms: said.run.map(|run| run.0).or(follows).unwrap_or(0),
            is_about: said.run.is_none() && follows.is_some(),
            said,
        }
    }

    fn take(&mut self, set: MotorShareSet) {
        match set.machine {
            Some(machine) => {
                self.of_machine.insert(machine, set);
            }
            None => self.of_all = Some(set),
        }
    }

    fn run_ms(&self, machine: MachineTag, frame_ms: u64) -> u64 {
        let share = u128::from(self.of(machine).run_ms_per_hour);
        u64::try_from(u128::from(frame_ms) * share / u128::from(HOUR_MS)).unwrap_or(u64::MAX)
    }
}

/// All sessions that were typed in, in the order of entry, and how long the motor runs at the frame.
pub(super) fn worked(entries: &InForce<'_>) -> (Vec<Worked>, MotorShares) {
    let mut shares = MotorShares::default();
    let mut given: BTreeMap<EntryId, (Owner, Certainty)> = BTreeMap::new();
    let mut noted: Vec<(EntryId, SessionNoted)> = Vec::new();
    for entry in entries.iter() {
        match &entry.body {
            EntryBody::HandHours(hours) => noted.push((entry.id, hours.into())),
            EntryBody::SessionNoted(session) => noted.push((entry.id, session.clone())),
            EntryBody::SessionAssigned(to) => {
                given.insert(to.session, (to.owner.clone(), to.certainty));
            }
            EntryBody::HandsOfSession(hands) => {
                if let Some((_, said)) = noted.iter_mut().find(|(entry, _)| *entry == hands.session) {
                    said.person = hands.person;
                }
            }
            EntryBody::MotorShareSet(set) => shares.take(*set),
            _ => {}
        }
    }
    let session = |(entry, said)| shares.worked_of(entry, said, given.get(&entry).cloned());
    (noted.into_iter().map(session).collect(), shares)
}
