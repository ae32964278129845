//! Taking entries of any kind back, and having them back.

use serde::Serialize;

use crate::app::ports::{Clock, Store};
use crate::app::typed::error::RequestError;
use crate::app::typed::withdrawn;
use crate::app::whole_book::Book;
use host_core::cloth::HarmId;
use host_core::entries::{EntryBody, EntryId, InForce, PressWithdrawn};
use host_core::records::log_records::LogKey;
use host_core::sessions::session_list::SessionName;
use host_core::sessions::typed_doubts::{CountedSessions, TypedDoubt, doubts};

/// What was taken back, or counts again.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct TakenBack {
    /// The entries, with those that were said with them.
    pub entries: Vec<EntryId>,
    /// The presses, by their names.
    pub presses: Vec<HarmId>,
    /// Whether they count again.
    pub counts_again: bool,
}

/// Takes entries and presses back, all or none; they stay visible and count no more.
///
/// # Errors
/// When there is no such entry, it was taken back before, it cannot be taken back alone, or the store fails.
pub fn take_back(
    store: &mut impl Store,
    clock: &impl Clock,
    meant: &[HarmId],
    reason: &str,
) -> Result<TakenBack, RequestError> {
    let entries = store.entries()?;
    let mut taken = TakenBack::default();
    for one in meant {
        match *one {
            HarmId::Entry(number) => taken.entries.extend(with_what_rests_on_it(&entries, number, clock)?),
            HarmId::Press(..) => match withdrawn::of_harm(&entries, *one) {
                None => taken.presses.push(*one),
                Some(by) => return Err(withdrawn::taken_back_before(by, one.to_string(), clock)),
            },
        }
    }
    taken.entries.dedup();
    taken.presses.dedup();
    let withdrawn = |entry: &EntryId| EntryBody::Withdrawn { entry: *entry, reason: reason.to_owned() };
    let pressed = |press: &HarmId| match *press {
        HarmId::Press(LogKey { logger, log }, seq) => {
            Some(EntryBody::PressWithdrawn(PressWithdrawn { logger, log, seq, reason: reason.to_owned() }))
        }
        HarmId::Entry(_) => None,
    };
    let bodies = taken.entries.iter().map(withdrawn).chain(taken.presses.iter().filter_map(pressed));
    store.add_entries(clock.now(), &bodies.collect::<Vec<_>>())?;
    Ok(taken)
}

/// The entry, and what was said with it and goes with it.
fn with_what_rests_on_it(
    entries: &InForce<'_>,
    number: EntryId,
    clock: &impl Clock,
) -> Result<Vec<EntryId>, RequestError> {
    let unknown = || RequestError::UnknownEntry { entry: number.0, what: "this book" };
    let Some(meant) = entries.get(number) else {
        return Err(withdrawn::refused(entries, number, clock).unwrap_or_else(unknown));
    };
    // On these other entries rest: a machine's number, a logger's records, what was said by a new name.
    if matches!(
        meant.body,
        EntryBody::MachineAdded(_) | EntryBody::LoggerFitted(_) | EntryBody::RugRenamed(_)
    ) {
        return Err(RequestError::NotTakenBackAlone(number.0));
    }
    // A fitting takes back the taking off that was said with it.
    let with_it = match &meant.body {
        EntryBody::PartFitted(fitted) => fitted.off_entry.filter(|off| entries.get(*off).is_some()),
        _ => None,
    };
    Ok([number].into_iter().chain(with_it).collect())
}

/// Lets entries and presses count again that were taken back, all or none.
///
/// # Errors
/// When one of them was not taken back, is a session of which the time counts already, or the store fails.
pub fn have_back(
    store: &mut impl Store,
    clock: &impl Clock,
    meant: &[HarmId],
) -> Result<TakenBack, RequestError> {
    let entries = store.entries()?;
    let mut again = TakenBack { counts_again: true, ..TakenBack::default() };
    let mut withdrawals = Vec::new();
    for one in meant {
        match *one {
            HarmId::Entry(number) => again.entries.push(number),
            HarmId::Press(..) => again.presses.push(*one),
        }
        let by = withdrawn::of_harm(&entries, *one).ok_or_else(|| match one {
            HarmId::Entry(entry) => {
                RequestError::UnknownEntry { entry: entry.0, what: "what was taken back" }
            }
            HarmId::Press(..) => RequestError::NotTakenBack(one.to_string()),
        })?;
        withdrawals.push(by.entry);
    }
    let book = Book::read(store)?;
    let zone = clock.zone();
    let counted = CountedSessions::of(&book.ledger(), &zone);
    for number in &again.entries {
        let session = match entries.with_withdrawn().iter().find(|one| one.id == *number).map(|one| &one.body)
        {
            Some(EntryBody::SessionNoted(session)) => session.clone(),
            Some(EntryBody::HandHours(hours)) => hours.into(),
            _ => continue,
        };
        let twice =
            doubts(&book.studio, &counted, &session, false, &zone).into_iter().find_map(
                |doubt| match doubt {
                    TypedDoubt::Counted { session } => Some(session),
                    TypedDoubt::Typed { entry } => Some(SessionName::Typed(entry)),
                    _ => None,
                },
            );
        if let Some(other) = twice {
            return Err(RequestError::CountsTwice { entry: number.0, other });
        }
    }
    let undone = |entry: &EntryId| EntryBody::Withdrawn { entry: *entry, reason: "it was right".to_owned() };
    store.add_entries(clock.now(), &withdrawals.iter().map(undone).collect::<Vec<_>>())?;
    Ok(again)
}
