//! One session noted, or noted anew in the place of another.

use jiff::tz::TimeZone;
use serde::Serialize;
use shared_types::{MachineTag, RunMillis, UtcMillis};

use super::error::{self, SessionError};
use super::share;
use crate::app::hand::{self, HandError, People};
use crate::app::ports::book::Names;
use crate::app::ports::{Clock, Store};
use crate::app::typed::choose_machine;
use crate::app::typed::dates::Given;
use crate::app::whole_book::Book;
use host_core::entries::{
    Certainty, EntryBody, EntryId, InForce, MotorShareSet, Owner, PersonTag, SessionAssigned, SessionNoted,
};
use host_core::sessions::session_list::{SessionLine, typed_line};
use host_core::sessions::typed_doubts::{CountedSessions, TypedDoubt, doubts};
use host_core::stats::MINUTE_MS;

/// A session as the maker says it.
#[derive(Clone, Debug, Default)]
pub struct SessionSaid {
    /// The machine's number; none: the only one.
    pub machine: Option<u32>,
    /// Time at the frame, in milliseconds.
    pub frame_ms: Option<u64>,
    /// Time during which the motor ran, in milliseconds.
    pub motor_ms: Option<u64>,
    /// The commission; none: the one on the frame then.
    pub rug: Option<String>,
    /// Who worked.
    pub who: Option<String>,
    /// The knob's place, per mille of its travel.
    pub knob_per_mille: Option<u16>,
    /// When it was.
    pub when: WhenSaid,
}

/// When a session was, as far as the maker says.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum WhenSaid {
    /// It has just ended.
    #[default]
    JustNow,
    /// It began then, or was on that day.
    Began(Given),
    /// It ended then, or was on that day.
    Ended(Given),
}

/// What was noted.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct SessionReport {
    /// The entry, by which it can be taken back.
    pub entry: EntryId,
    /// It, as it counts now.
    pub session: SessionLine,
    /// For how long the motor runs in an hour at the frame, where its running follows from that.
    pub share: Option<MotorShareSet>,
    /// What was asked about it and noted all the same.
    pub doubts: Vec<TypedDoubt>,
    /// Who worked, by name.
    pub who: Option<String>,
    /// Whether that name is new.
    pub is_new_person: bool,
    /// The entry that it took the place of.
    pub instead_of: Option<EntryId>,
}

/// Notes a session. Unless `anyway`, one that is asked about is refused.
///
/// # Errors
/// When its length, machine, commission, person or date is not clear, it is asked about, or the store fails; nothing is noted
/// then.
pub fn note(
    store: &mut (impl Store + Names),
    clock: &impl Clock,
    said: &SessionSaid,
    anyway: bool,
) -> Result<SessionReport, SessionError> {
    let book = Book::read(store)?;
    let noted = noted(&book, clock, said)?;
    keep(store, clock, &book, noted, said.who.as_deref(), anyway, None)
}

/// Notes a session anew; the old one, which stays visible, is taken back. What is not said anew stays as it was.
///
/// # Errors
/// As [`note`], and when there is no such session.
pub fn correct(
    store: &mut (impl Store + Names),
    clock: &impl Clock,
    entry: EntryId,
    said: &SessionSaid,
    anyway: bool,
) -> Result<SessionReport, SessionError> {
    let mut book = Book::read(store)?;
    let old = book.studio.worked.iter().find(|one| one.entry == entry).cloned();
    let old = old.ok_or(SessionError::Unknown(entry))?;
    // As the book will be read from now on; nothing is written yet.
    let withdrawn = EntryBody::Withdrawn { entry, reason: CORRECTED.to_owned() };
    book = book.with(clock.now(), withdrawn);
    let said_anew = SessionSaid {
        machine: said.machine.or(Some(old.said.machine.0)),
        frame_ms: said.frame_ms.or(old.said.frame_ms),
        motor_ms: said.motor_ms.or(old.said.run.map(|run| run.0)),
        rug: said.rug.clone().or_else(|| old.said.rug.as_ref().map(|rug| rug.0.clone())),
        who: said.who.clone(),
        knob_per_mille: said.knob_per_mille.or(old.said.knob_per_mille),
        when: if said.when == WhenSaid::JustNow {
            WhenSaid::Began(Given::Moment(old.said.at))
        } else {
            said.when
        },
    };
    let mut noted = noted(&book, clock, &said_anew)?;
    if said.when == WhenSaid::JustNow {
        noted.is_day = old.said.is_day;
    }
    (noted.person, noted.begun) = (old.said.person, old.said.begun);
    let instead = Instead { entry, given: old.given };
    keep(store, clock, &book, noted, said.who.as_deref(), anyway, Some(instead))
}

/// Notes a session that was timed from the entry of its beginning.
pub(super) fn timed(
    store: &mut (impl Store + Names),
    clock: &impl Clock,
    said: &SessionSaid,
    anyway: bool,
    begun: EntryId,
    person: Option<PersonTag>,
) -> Result<SessionReport, SessionError> {
    let book = Book::read(store)?;
    let noted = SessionNoted { begun: Some(begun), person, ..noted(&book, clock, said)? };
    keep(store, clock, &book, noted, said.who.as_deref(), anyway, None)
}

/// Why an entry was taken back whose place another took.
const CORRECTED: &str = "corrected";

/// The session that a new one takes the place of.
struct Instead {
    entry: EntryId,
    given: Option<(Owner, Certainty)>,
}

/// What is to be noted, checked by itself.
///
/// # Errors
/// When its length, machine, commission or date is not clear.
pub(super) fn noted(
    book: &Book,
    clock: &impl Clock,
    said: &SessionSaid,
) -> Result<SessionNoted, SessionError> {
    let machine = choose_machine::machine(&book.studio, said.machine)?.tag;
    let Some(lasted) = said.frame_ms.or(said.motor_ms) else { return Err(SessionError::NoLength) };
    if let (Some(frame), Some(motor)) = (said.frame_ms, said.motor_ms)
        && motor > frame
    {
        return Err(SessionError::MotorBeyondFrame { motor: motor / MINUTE_MS, frame: frame / MINUTE_MS });
    }
    let rug =
        said.rug.as_deref().map(|name| book.studio.rug(name).map(|rug| rug.order.rug.clone())).transpose()?;
    let (at, is_day) = begun(said.when, lasted, clock)?;
    Ok(SessionNoted {
        machine,
        rug,
        person: None,
        at,
        is_day,
        frame_ms: said.frame_ms,
        run: said.motor_ms.map(RunMillis),
        knob_per_mille: said.knob_per_mille,
        begun: None,
    })
}

/// When a session began that took so long, and whether only its day is known.
fn begun(when: WhenSaid, lasted: u64, clock: &impl Clock) -> Result<(UtcMillis, bool), SessionError> {
    let (now, lasted) = (clock.now(), i64::try_from(lasted).unwrap_or(i64::MAX));
    let before = |at: UtcMillis| UtcMillis(at.0.saturating_sub(lasted));
    let (at, is_day) = match when {
        WhenSaid::JustNow => (before(now), false),
        WhenSaid::Began(Given::Moment(at)) => (at, false),
        WhenSaid::Ended(Given::Moment(at)) => (before(at), false),
        WhenSaid::Began(day @ Given::Day(_)) | WhenSaid::Ended(day @ Given::Day(_)) => {
            (day.middle(clock), true)
        }
    };
    let ends = UtcMillis(at.0.saturating_add(lasted));
    if !is_day && ends > now {
        return Err(SessionError::NotOver(error::moment(ends, &clock.zone())));
    }
    Ok((at, is_day))
}

/// Whether the maker said since when a machine is in the studio, rather than leaving it at the moment of its entry.
pub(super) fn since_is_said(entries: &InForce<'_>, machine: MachineTag) -> bool {
    entries.iter().any(|entry| match &entry.body {
        EntryBody::MachineAdded(added) => added.machine == machine && added.since < entry.entered_at,
        _ => false,
    })
}

fn keep(
    store: &mut (impl Store + Names),
    clock: &impl Clock,
    book: &Book,
    mut noted: SessionNoted,
    who: Option<&str>,
    anyway: bool,
    instead: Option<Instead>,
) -> Result<SessionReport, SessionError> {
    let (now, zone) = (clock.now(), clock.zone());
    let since_is_said = since_is_said(&book.entries, noted.machine);
    let counted = CountedSessions::of(&book.ledger(), &zone);
    let doubts = doubts(&book.studio, &counted, &noted, since_is_said, &zone);
    if !doubts.is_empty() && !anyway {
        return Err(SessionError::doubted(&doubts, &zone));
    }
    let (known, machine) = (People::read(store)?, noted.machine);
    let is_new_person = who.is_some_and(|who| known.find(who).is_err());
    let share = share::to_note(book, &noted, &zone);
    let (entry, shown) = store.together(|store| {
        if let Some(who) = who {
            noted.person = Some(person(store, clock, &known, who)?);
        }
        if let Some(share) = share {
            store.add_entry(now, &EntryBody::MotorShareSet(share))?;
        }
        let entry = store.add_entry(now, &EntryBody::SessionNoted(noted.clone()))?;
        if let Some(Instead { entry: old, given }) = &instead {
            if let Some((owner, certainty)) = given.clone() {
                store.add_entry(
                    now,
                    &EntryBody::SessionAssigned(SessionAssigned { session: entry, owner, certainty }),
                )?;
            }
            store.add_entry(now, &EntryBody::Withdrawn { entry: *old, reason: CORRECTED.to_owned() })?;
        }
        Ok::<_, SessionError>((entry, noted.person))
    })?;
    let book = Book::read(store)?;
    let people = People::read(store)?;
    let session = line(&book, entry, &zone)?;
    Ok(SessionReport {
        entry,
        share: session.about.then(|| book.studio.motor_shares.of(machine)),
        session,
        doubts,
        who: shown.map(|person| people.called(person)),
        is_new_person,
        instead_of: instead.map(|old| old.entry),
    })
}

/// A person by name, entered where the name is new.
pub(super) fn person(
    store: &mut (impl Store + Names),
    clock: &impl Clock,
    known: &People,
    who: &str,
) -> Result<PersonTag, HandError> {
    match known.find(who) {
        Ok(person) => Ok(person.person),
        Err(_) => Ok(hand::add(store, clock, who)?.person),
    }
}

/// A session as it counts.
///
/// # Errors
/// When there is none of that number.
pub(super) fn line(book: &Book, entry: EntryId, zone: &TimeZone) -> Result<SessionLine, SessionError> {
    let found = book.studio.worked.iter().find(|session| session.entry == entry);
    found.map(|session| typed_line(&book.studio, session, zone)).ok_or(SessionError::Unknown(entry))
}
