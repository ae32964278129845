//! A session that is timed while it goes on.

use serde::Serialize;
use shared_types::UtcMillis;

use super::error::{SessionError, moment};
use super::note::{self, SessionReport, SessionSaid, WhenSaid};
use crate::app::hand::People;
use crate::app::ports::book::Names;
use crate::app::ports::{Clock, Store};
use crate::app::typed::choose_machine;
use crate::app::typed::dates::{Given, happened};
use crate::app::whole_book::Book;
use host_core::entries::{EntryBody, EntryId, SessionBegun};
use host_core::stats::HOUR_MS;

/// A session that nobody has ended for longer than this is asked about, in milliseconds; three hours.
pub const FORGOTTEN_AFTER_MS: u64 = 3 * HOUR_MS;

/// A session that goes on.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct TimerReport {
    /// Its entry.
    pub entry: EntryId,
    /// What was said.
    #[serde(flatten)]
    pub begun: SessionBegun,
    /// The machine's name.
    pub machine_name: String,
}

/// The sessions that go on, one a machine at the most, in the order in which they were begun.
#[must_use]
pub fn running(book: &Book) -> Vec<TimerReport> {
    let ended: Vec<EntryId> = book.studio.worked.iter().filter_map(|one| one.said.begun).collect();
    let name = |machine| book.studio.machine(machine).map(|card| card.name.clone()).unwrap_or_default();
    let begun = book.entries.iter().filter_map(|entry| match &entry.body {
        EntryBody::SessionBegun(begun) if !ended.contains(&entry.id) => {
            Some(TimerReport { entry: entry.id, machine_name: name(begun.machine), begun: begun.clone() })
        }
        _ => None,
    });
    begun.collect()
}

/// The session that goes on on the machine that was said; the only one where none was.
fn meant(book: &Book, machine: Option<u32>) -> Result<TimerReport, SessionError> {
    let mut all = running(book);
    if machine.is_some() {
        let tag = choose_machine::machine(&book.studio, machine)?.tag;
        all.retain(|timer| timer.begun.machine == tag);
        return all.pop().ok_or(SessionError::NoTimer);
    }
    match (all.pop(), all.is_empty()) {
        (None, _) => Err(SessionError::NoTimer),
        (Some(only), true) => Ok(only),
        (Some(last), false) => {
            let known = all.into_iter().chain([last]);
            Err(SessionError::SeveralTimers(
                known.map(|timer| (timer.begun.machine, timer.machine_name)).collect(),
            ))
        }
    }
}

/// Begins to time a session.
///
/// # Errors
/// When one goes on on that machine already, the machine, commission or person is not clear, the moment lies in the future, or the store fails.
pub fn begin(
    store: &mut (impl Store + Names),
    clock: &impl Clock,
    said: &SessionSaid,
) -> Result<TimerReport, SessionError> {
    let book = Book::read(store)?;
    let card = choose_machine::machine(&book.studio, said.machine)?;
    if let Some(runs) = running(&book).into_iter().find(|runs| runs.begun.machine == card.tag) {
        let began = moment(runs.begun.at, &clock.zone());
        return Err(SessionError::TimerRuns { began, machine: runs.machine_name, entry: runs.entry });
    }
    let rug =
        said.rug.as_deref().map(|name| book.studio.rug(name).map(|rug| rug.order.rug.clone())).transpose()?;
    let at = match said.when {
        WhenSaid::Began(given) | WhenSaid::Ended(given) => Some(given.start(clock)),
        WhenSaid::JustNow => None,
    };
    let at = happened(at, clock.now())?;
    let known = People::read(store)?;
    let (machine, machine_name) = (card.tag, card.name.clone());
    let (entry, begun) = store.together(|store| {
        let person = said.who.as_deref().map(|who| note::person(store, clock, &known, who)).transpose()?;
        let begun = SessionBegun { machine, rug, person, at };
        Ok::<_, SessionError>((store.add_entry(clock.now(), &EntryBody::SessionBegun(begun.clone()))?, begun))
    })?;
    Ok(TimerReport { entry, begun, machine_name })
}

/// Ends the session that goes on: it took `lasted_ms`, or until now. An end is never invented: after three hours it must be
/// said how long it was, or that it was all of it.
///
/// # Errors
/// When none goes on, or several and no machine was said, it went on for too long, or as [`note::note`].
pub fn stop(
    store: &mut (impl Store + Names),
    clock: &impl Clock,
    said: &SessionSaid,
    anyway: bool,
) -> Result<SessionReport, SessionError> {
    let TimerReport { entry, begun, .. } = meant(&Book::read(store)?, said.machine)?;
    let since = clock.now().0.saturating_sub(begun.at.0);
    let since = u64::try_from(since).unwrap_or(0);
    let frame_ms = match said.frame_ms {
        Some(frame_ms) => frame_ms,
        None if since > FORGOTTEN_AFTER_MS && !anyway => {
            let began = moment(begun.at, &clock.zone());
            return Err(SessionError::Forgotten { began, hours: since / HOUR_MS });
        }
        None => since.max(1),
    };
    let said = SessionSaid {
        machine: Some(begun.machine.0),
        frame_ms: Some(frame_ms),
        rug: said.rug.clone().or_else(|| begun.rug.as_ref().map(|rug| rug.0.clone())),
        when: WhenSaid::Began(Given::Moment(UtcMillis(begun.at.0))),
        ..said.clone()
    };
    note::timed(store, clock, &said, anyway, entry, begun.person)
}
