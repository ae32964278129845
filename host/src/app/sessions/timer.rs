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

/// The session that goes on; none where nobody has begun one.
///
/// # Errors
/// When the store cannot be read.
pub fn running(store: &impl Store) -> Result<Option<TimerReport>, SessionError> {
    let book = Book::read(store)?;
    let ended: Vec<EntryId> = book.studio.worked.iter().filter_map(|one| one.said.begun).collect();
    let begun = book.entries.iter().rev().find_map(|entry| match &entry.body {
        EntryBody::SessionBegun(begun) if !ended.contains(&entry.id) => Some((entry.id, begun.clone())),
        _ => None,
    });
    Ok(begun.map(|(entry, begun)| TimerReport {
        entry,
        machine_name: book.studio.machine(begun.machine).map(|card| card.name.clone()).unwrap_or_default(),
        begun,
    }))
}

/// Begins to time a session.
///
/// # Errors
/// When one goes on already, the machine, commission or person is not clear, the moment lies in the future, or the store fails.
pub fn begin(
    store: &mut (impl Store + Names),
    clock: &impl Clock,
    said: &SessionSaid,
) -> Result<TimerReport, SessionError> {
    if let Some(runs) = running(store)? {
        let began = moment(runs.begun.at, &clock.zone());
        return Err(SessionError::TimerRuns { began, entry: runs.entry });
    }
    let book = Book::read(store)?;
    let card = choose_machine::machine(&book.studio, said.machine)?;
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
/// When none goes on, it went on for too long, or as [`note::note`].
pub fn stop(
    store: &mut (impl Store + Names),
    clock: &impl Clock,
    said: &SessionSaid,
    anyway: bool,
) -> Result<SessionReport, SessionError> {
    let Some(TimerReport { entry, begun, .. }) = running(store)? else { return Err(SessionError::NoTimer) };
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
