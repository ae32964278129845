//! Hours by person, for whoever rents machines out.

use std::collections::{BTreeMap, BTreeSet};

use serde::Serialize;
use shared_types::MachineTag;

use super::people::People;
use crate::app::ports::book::Names;
use crate::app::ports::{Clock, Store};
use crate::app::typed::choose_machine::only_machine;
use crate::app::typed::error::RequestError;
use crate::app::whole_book::Book;
use host_core::entries::PersonTag;
use host_core::hours::entered::Entered;
use host_core::hours::report::HoursReport;
use host_core::sessions;
use host_core::sessions::hands::Hands;

/// What a logger counted while a person worked.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Counted {
    /// Motor moving, in milliseconds.
    pub run_time_ms: u64,
    /// Sessions in which at least one of the bursts lies; one in which two people worked is a session of both.
    pub sessions: u64,
}

/// One person's hours.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct PersonHours {
    /// The number; none: it was not said who it was.
    pub person: Option<PersonTag>,
    /// The name; none where it was erased, or nobody was named.
    pub name: Option<String>,
    /// Counted by a logger.
    pub counted: Counted,
    /// Typed in.
    pub entered: Entered,
}

/// The answer of `hours --by-person`.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct HoursByPerson {
    /// People of whom there are hours, in the order of their numbers, and last what nobody was named for.
    pub people: Vec<PersonHours>,
    /// Run time of all of them, in milliseconds.
    pub run_time_ms: u64,
    /// Run time in nobody's hours, because it is doubtful, set aside or not recorded, in milliseconds. With `run_time_ms` it makes
    /// the totals of the machines.
    pub left_out_run_time_ms: u64,
}

/// Adds up by person what ran on all machines, or on one.
///
/// # Errors
/// When there is no such machine, or the store cannot be read.
pub fn hours_by_person(
    store: &(impl Store + Names),
    clock: &impl Clock,
    machine: Option<u32>,
) -> Result<HoursByPerson, RequestError> {
    let book = Book::read(store)?;
    let only = only_machine(&book.studio, machine)?;
    let (ledger, zone, known) = (book.ledger(), clock.zone(), People::read(store)?);
    let hands = Hands::of(&book.entries);
    let is_meant = |tag: MachineTag| only.is_none_or(|only| only == tag);
    let mut sums: BTreeMap<Option<PersonTag>, (Counted, Entered)> = BTreeMap::new();
    for log in &ledger.logs {
        for session in sessions::of_log(log, &zone) {
            let Some(tag) = session.machine.filter(|tag| is_meant(*tag)) else { continue };
            let mut theirs = BTreeSet::new();
            for line in session.lines(log) {
                let person = hands.person(tag, log.facts.key, line.burst.first, line.when);
                let (counted, _) = sums.entry(person).or_default();
                counted.run_time_ms = counted.run_time_ms.saturating_add(line.burst.run.0);
                counted.sessions += u64::from(theirs.insert(person));
            }
        }
    }
    for session in book.studio.worked.iter().filter(|session| is_meant(session.said.machine)) {
        let (_, entered) = sums.entry(hands.of_session(session)).or_default();
        entered.add(session);
    }
    let run_time_ms = sums.values().fold(0, |sum: u64, (counted, entered)| {
        sum.saturating_add(counted.run_time_ms).saturating_add(entered.run_time_ms)
    });
    let name = |person| {
        let known = known.people.iter().find(|known| Some(known.person) == person);
        known.and_then(|known| known.name.clone())
    };
    let of_people = sums.into_iter().map(|(person, (counted, entered))| PersonHours {
        person,
        name: name(person),
        counted,
        entered,
    });
    let mut people: Vec<PersonHours> = of_people.collect();
    people.sort_by_key(|hours| (hours.person.is_none(), hours.person));
    let machines = HoursReport::of(&book.studio, &ledger, &zone).narrowed(only, None).machines;
    let left_out_run_time_ms = machines.iter().fold(0, |sum: u64, hours| {
        let doubtful = hours.doubtful.sum.run_time_ms;
        sum.saturating_add(doubtful).saturating_add(hours.not_recorded.run_time_ms)
    });
    Ok(HoursByPerson { people, run_time_ms, left_out_run_time_ms })
}
