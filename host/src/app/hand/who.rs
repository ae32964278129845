//! Who works: from a moment on, or in some sessions.

use jiff::civil::Date;
use serde::Serialize;
use shared_types::{MachineTag, UtcMillis};

use super::error::HandError;
use super::people::{NOBODY, People, Person};
use crate::app::ports::book::Names;
use crate::app::ports::{Clock, Store};
use crate::app::rugs::{self, Choice};
use crate::app::typed::choose_machine;
use crate::app::typed::dates::Given;
use crate::app::typed::error::RequestError;
use host_core::entries::{EntryBody, HandsAtWork, HandsOfBursts, HandsOfSession, PersonTag};
use host_core::records::log_records::LogKey;
use host_core::sessions::local_day;
use host_core::sessions::session_list::{SessionLine, SessionName, SessionRecords, SessionSource};
use host_core::studio::Studio;

/// What the maker says.
#[derive(Clone, Debug, Default)]
pub struct WhoSaid {
    /// The person, by number or name, or a word for nobody.
    pub person: String,
    /// These sessions.
    pub sessions: Vec<SessionName>,
    /// The sessions of this day.
    pub day: Option<Date>,
    /// From when on, where no session is meant; none: from the start of today.
    pub from: Option<Given>,
    /// On this machine only.
    pub machine: Option<u32>,
}

/// What was entered.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct WhoSet {
    /// The person; none: it is not known.
    pub person: Option<Person>,
    /// On this machine only.
    pub machine: Option<MachineTag>,
    /// From when on, in milliseconds UTC; none: some sessions only.
    pub from_utc_ms: Option<UtcMillis>,
    /// The sessions.
    pub sessions: Vec<SessionName>,
}

/// Enters who works, or worked.
///
/// # Errors
/// When there is no such person, machine or session, or the store fails.
pub fn say(
    store: &mut (impl Store + Names),
    clock: &impl Clock,
    said: &WhoSaid,
) -> Result<WhoSet, HandError> {
    let is_nobody = NOBODY.iter().any(|word| said.person.trim().eq_ignore_ascii_case(word));
    let person = if is_nobody { None } else { Some(People::read(store)?.find(&said.person)?.clone()) };
    let tag = person.as_ref().map(|known| known.person);
    let machine = choose_machine::only_machine(&Studio::of(&store.entries()?), said.machine)?;
    if said.sessions.is_empty() && said.day.is_none() {
        let now = clock.now();
        let today = local_day(now, &clock.zone()).map_or(Given::Moment(now), Given::Day);
        let from = said.from.unwrap_or(today).start(clock);
        store.add_entry(clock.now(), &EntryBody::HandsAtWork(HandsAtWork { machine, person: tag, from }))?;
        return Ok(WhoSet { person, machine, from_utc_ms: Some(from), sessions: Vec::new() });
    }
    let choice = Choice { named: said.sessions.clone(), day: said.day, ..Choice::default() };
    let mut lines = rugs::sessions(store, clock, &choice)?.sessions;
    lines.retain(|line| machine.is_none_or(|machine| line.machine == Some(machine.0)));
    if lines.is_empty() {
        return Err(RequestError::NoSession("none is of that day and machine").into());
    }
    let bodies = lines.iter().map(|line| body(line, tag)).collect::<Vec<_>>();
    store.add_entries(clock.now(), &bodies)?;
    let sessions = lines.iter().map(|line| line.session).collect();
    Ok(WhoSet { person, machine, from_utc_ms: None, sessions })
}

fn body(line: &SessionLine, person: Option<PersonTag>) -> EntryBody {
    match &line.source {
        SessionSource::Counted(SessionRecords { log, first, last, .. }) => {
            let LogKey { logger, log } = *log;
            EntryBody::HandsOfBursts(HandsOfBursts { logger, log, first: *first, last: *last, person })
        }
        SessionSource::TypedIn(session) => {
            EntryBody::HandsOfSession(HandsOfSession { session: *session, person })
        }
    }
}
