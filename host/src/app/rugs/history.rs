//! Everything that was ever said about a commission, with every move and confirmation of its sessions, and taking an entry
//! back.

use std::collections::BTreeSet;

use serde::Serialize;

use super::error::RugError;
use super::goes_with::GoesWith;
use crate::app::money::{HistoryLine, Standing, is_price, taken_back};
use crate::app::ports::{Clock, Store};
use crate::app::typed::error::RequestError;
use crate::app::typed::names::checked_name;
use crate::app::typed::withdrawn;
use crate::app::whole_book::Book;
use host_core::entries::{Entry, EntryBody, EntryId, InForce, Owner, RugName};
use host_core::hours::reassignments::{Reassignment, Reassignments};

/// The answer of `rug history`.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct RugHistory {
    /// The commission.
    pub rug: String,
    /// Everything that was ever said about it, in the order of entry.
    pub entries: Vec<HistoryLine>,
}

/// Everything that was ever said about a commission, corrected and taken back entries too; with every move of sessions to
/// it and away from it.
///
/// # Errors
/// When nothing was ever said about such a commission, or the store cannot be read.
pub fn history(store: &impl Store, name: &str) -> Result<RugHistory, RequestError> {
    let book = Book::read(store)?;
    let entries = &book.entries;
    let wanted = entries.rug_now(&RugName(name.trim().to_owned())).clone();
    let mut moves = Reassignments::of(entries, &book.logs, &book.heard).about(&wanted);
    let (all, named_now) = (entries.with_withdrawn(), entries.all_named_now());
    let timers: BTreeSet<EntryId> = named_now
        .iter()
        .filter(
            |entry| matches!(&entry.body, EntryBody::JobStarted(job) if job.rug.as_ref() == Some(&wanted)),
        )
        .map(|entry| entry.id)
        .collect();
    let mut lines: Vec<HistoryLine> = Vec::new();
    let mut spelled = None;
    for (entry, now) in all.iter().zip(named_now) {
        let moved = moves.remove(&entry.id);
        let is_about = match &now.body {
            EntryBody::JobStopped(stopped) => timers.contains(&stopped.started),
            body => moved.is_some() || rug_of(body) == Some(&wanted),
        };
        if !is_about {
            continue;
        }
        if let EntryBody::RugOrdered(order) = &now.body {
            spelled = Some(order.rug.0.clone());
        }
        let counts = entries.get(entry.id).is_some();
        if counts {
            replace_earlier(&mut lines, &entry.body);
        }
        let standing = match &moved {
            _ if !counts => taken_back(entries, entry.id),
            Some(moved) if moved.moved_again > 0 && moved.moved_again == moved.bursts => Standing::Replaced,
            Some(moved) if moved.moved_again > 0 => Standing::ReplacedInPart,
            _ => Standing::Counts,
        };
        lines.push(HistoryLine {
            entry: entry.id,
            entered_utc_ms: entry.entered_at.0,
            says: entry.body.clone(),
            standing,
            moved,
        });
    }
    if lines.is_empty() {
        book.studio.rug(name)?;
    }
    Ok(RugHistory { rug: spelled.unwrap_or(wanted.0), entries: lines })
}

/// Whether a commission of this name was ever entered, one that was taken back too.
pub fn was_ordered(entries: &InForce<'_>, name: &RugName) -> bool {
    let is_it = |entry: &Entry| matches!(&entry.body, EntryBody::RugOrdered(order) if order.rug == *name);
    entries.with_withdrawn().iter().any(is_it)
}

/// An order or a description says all of it, so an earlier one counts no more.
fn replace_earlier(lines: &mut [HistoryLine], by: &EntryBody) {
    let same = |line: &HistoryLine| {
        matches!(
            (&line.says, by),
            (EntryBody::RugOrdered(_), EntryBody::RugOrdered(_))
                | (EntryBody::RugDescribed(_), EntryBody::RugDescribed(_))
                | (EntryBody::RugPriced(_), EntryBody::RugPriced(_))
        )
    };
    for line in lines.iter_mut().filter(|line| line.standing == Standing::Counts) {
        if same(line) {
            line.standing = Standing::Replaced;
        }
    }
}

/// The commission that an entry is about.
fn rug_of(body: &EntryBody) -> Option<&RugName> {
    match body {
        EntryBody::RugOrdered(order) => Some(&order.rug),
        EntryBody::RugRenamed(renamed) => Some(&renamed.rug),
        EntryBody::RugDescribed(described) => Some(&described.rug),
        EntryBody::RugWork(work) => Some(&work.rug),
        EntryBody::RugPriced(priced) => Some(&priced.rug),
        EntryBody::StageBegun(begun) => Some(&begun.rug),
        EntryBody::YarnWeighed(weighed) => Some(&weighed.rug),
        EntryBody::MaterialUsed(used) => Some(&used.rug),
        EntryBody::JobStarted(started) => started.rug.as_ref(),
        EntryBody::JobAdded(added) => added.rug.as_ref(),
        EntryBody::HandHours(hours) => hours.rug.as_ref(),
        EntryBody::SessionNoted(session) => session.rug.as_ref(),
        EntryBody::SessionBegun(session) => session.rug.as_ref(),
        EntryBody::BurstsAssigned(assigned) => match &assigned.owner {
            Owner::Rug(rug) => Some(rug),
            Owner::Care | Owner::Nobody => None,
        },
        _ => None,
    }
}

/// An entry that was taken back.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct TakenBack {
    /// It.
    pub entry: Entry,
    /// Of an assignment: which running, from whom and to whom.
    pub moved: Option<Reassignment>,
    /// Of the only order of a commission: what counts to it no more.
    pub goes_with: Option<GoesWith>,
}

/// What would count no more if an entry were taken back; none where nothing else would.
///
/// # Errors
/// When the store fails.
pub fn goes_with(
    store: &impl Store,
    clock: &impl Clock,
    number: i64,
) -> Result<Option<GoesWith>, RequestError> {
    let goes = GoesWith::of(&Book::read(store)?, clock, EntryId(number));
    Ok(goes.filter(|goes| !goes.is_nothing()))
}

/// Takes an entry back; it stays visible and counts no more.
///
/// # Errors
/// When there is no such entry, it is none of a commission, of hours, prices or samples, it was taken back before, or the
/// store fails.
pub fn take_back(
    store: &mut impl Store,
    clock: &impl Clock,
    number: i64,
    reason: &str,
) -> Result<TakenBack, RugError> {
    if number < 1 {
        let given = number.to_string();
        return Err(RequestError::OutOfRange { what: "the entry's number", range: "1 or more", given }.into());
    }
    let book = Book::read(store)?;
    let entries = &book.entries;
    let entry = entries.with_withdrawn().iter().find(|entry| entry.id == EntryId(number));
    let entry = entry.ok_or(RugError::NotHere(number))?;
    if let EntryBody::RugRenamed(renamed) = &entry.body {
        return Err(RugError::IsRename { rug: renamed.rug.0.clone(), now: renamed.now.0.clone() });
    }
    let is_here = rug_of(&entry.body).is_some()
        || is_price(&entry.body)
        || matches!(
            entry.body,
            EntryBody::JobStarted(_)
                | EntryBody::JobStopped(_)
                | EntryBody::JobAdded(_)
                | EntryBody::HandHours(_)
                | EntryBody::BurstsAssigned(_)
                | EntryBody::DoubtAnswered(_)
        );
    if !is_here {
        return Err(RugError::NotHere(number));
    }
    if let Some(refused) = withdrawn::refused(entries, entry.id, clock) {
        return Err(refused.into());
    }
    let goes_with = GoesWith::of(&book, clock, entry.id).filter(|goes| !goes.is_nothing());
    let reason = if reason.trim().is_empty() { String::new() } else { checked_name("the reason", reason)? };
    store.add_entry(clock.now(), &EntryBody::Withdrawn { entry: entry.id, reason })?;
    let moved = Reassignments::of(entries, &book.logs, &book.heard).of_entry(entry.id);
    Ok(TakenBack { entry: entry.clone(), moved, goes_with })
}
