//! Taking an entry back: it stays visible and counts no more.

use serde::Serialize;

use super::error::RequestError;
use super::withdrawn;
use crate::app::ports::{Clock, Store};
use host_core::entries::{EntryBody, EntryId};

/// An entry that counts no more.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct WithdrawnReport {
    /// Its number.
    pub entry: EntryId,
    /// Why.
    pub reason: String,
    /// What was said with it and counts no more either: the taking off of the part that a fitting replaced.
    pub with_it: Option<EntryId>,
}

/// Takes back an entry of one kind.
pub fn take_back(
    store: &mut impl Store,
    clock: &impl Clock,
    entry: EntryId,
    reason: &str,
    what: &'static str,
    is_meant: impl Fn(&EntryBody) -> bool,
) -> Result<WithdrawnReport, RequestError> {
    let entries = store.entries()?;
    let Some(meant) = entries.get(entry).filter(|one| is_meant(&one.body)) else {
        let mut all = entries.with_withdrawn().iter();
        let is_of_that_kind = all.any(|one| one.id == entry && is_meant(&one.body));
        let before = withdrawn::refused(&entries, entry, clock).filter(|_| is_of_that_kind);
        return Err(before.unwrap_or(RequestError::UnknownEntry { entry: entry.0, what }));
    };
    // A fitting takes back the taking off that was said with it.
    let with_it = match &meant.body {
        EntryBody::PartFitted(fitted) => fitted.off_entry.filter(|off| entries.get(*off).is_some()),
        _ => None,
    };
    let withdrawn = |entry| EntryBody::Withdrawn { entry, reason: reason.to_owned() };
    let bodies = [entry].into_iter().chain(with_it).map(withdrawn);
    store.add_entries(clock.now(), &bodies.collect::<Vec<_>>())?;
    Ok(WithdrawnReport { entry, reason: reason.to_owned(), with_it })
}
