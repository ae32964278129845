//! Taking entries of any kind back, and having them back.

use serde::Serialize;

use crate::app::ports::{Clock, Store};
use crate::app::typed::error::RequestError;
use crate::app::typed::withdrawn;
use crate::app::whole_book::Book;
use host_core::entries::{EntryBody, EntryId};
use host_core::sessions::session_list::SessionName;
use host_core::sessions::typed_doubts::{CountedSessions, TypedDoubt, doubts};

/// What was taken back, or counts again.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct TakenBack {
    /// The entries, with those that were said with them.
    pub entries: Vec<EntryId>,
    /// Whether they count again.
    pub counts_again: bool,
}

/// Takes entries back, all or none; they stay visible and count no more.
///
/// # Errors
/// When there is no such entry, it was taken back before, it cannot be taken back alone, or the store fails.
pub fn take_back(
    store: &mut impl Store,
    clock: &impl Clock,
    numbers: &[EntryId],
    reason: &str,
) -> Result<TakenBack, RequestError> {
    let entries = store.entries()?;
    let mut taken = Vec::new();
    for number in numbers {
        let unknown = || RequestError::UnknownEntry { entry: number.0, what: "this book" };
        let Some(meant) = entries.get(*number) else {
            return Err(withdrawn::refused(&entries, *number, clock).unwrap_or_else(unknown));
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
        taken.extend([*number].into_iter().chain(with_it));
    }
    taken.dedup();
    let withdrawn = |entry: &EntryId| EntryBody::Withdrawn { entry: *entry, reason: reason.to_owned() };
    store.add_entries(clock.now(), &taken.iter().map(withdrawn).collect::<Vec<_>>())?;
    Ok(TakenBack { entries: taken, counts_again: false })
}

/// Lets entries count again that were taken back, all or none.
///
/// # Errors
/// When one of them was not taken back, is a session of which the time counts already, or the store fails.
pub fn have_back(
    store: &mut impl Store,
    clock: &impl Clock,
    numbers: &[EntryId],
) -> Result<TakenBack, RequestError> {
    let entries = store.entries()?;
    let by = |number: &EntryId| {
        let by = entries.withdrawal(*number).map(|by| by.entry);
        by.ok_or(RequestError::UnknownEntry { entry: number.0, what: "what was taken back" })
    };
    let withdrawals: Vec<EntryId> = numbers.iter().map(by).collect::<Result<_, _>>()?;
    let book = Book::read(store)?;
    let zone = clock.zone();
    let counted = CountedSessions::of(&book.ledger(), &zone);
    for number in numbers {
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
    Ok(TakenBack { entries: numbers.to_vec(), counts_again: true })
}
