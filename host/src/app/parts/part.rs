//! Parts that wear: fitted, taken off, how long they ran.

use serde::Serialize;
use shared_types::{MachineTag, UtcMillis};

use super::came_with::came_with;
use super::error::PartError;
use super::fitted::{TaskDone, spare_of, tasks_done};
use crate::app::ports::{Clock, Store, StoreError};
use crate::app::typed::choose_machine::{machine, machines};
use crate::app::typed::dates::happened;
use crate::app::typed::error::RequestError;
use crate::app::typed::names::checked_name;
use crate::app::typed::take_back::{WithdrawnReport, take_back};
use crate::app::whole_book::Book;
use host_core::care::history::History;
use host_core::care::stock::{StockLine, stock};
use host_core::entries::{EntryBody, EntryId, PartFitted, PartName, PartTakenOff, TakenOff};
use host_core::parts::{Grounds, PartPeriod, part_periods};
use host_core::sessions::ledger::Ledger;
use host_core::studio::{MachineCard, Studio};

/// A part as the maker names it.
#[derive(Clone, Debug, Default)]
pub struct PartSaid {
    /// The kind, as typed.
    pub part: String,
    /// Its mark.
    pub serial: Option<String>,
    /// The machine's number.
    pub machine: Option<u32>,
    /// When; now if nothing is said.
    pub at: Option<UtcMillis>,
    /// Anything else.
    pub note: Option<String>,
    /// Whether it did not come out of the drawer.
    pub not_from_stock: bool,
}

/// What was noted.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PartChanged {
    /// The entry of the fitting, if something was fitted.
    pub fitted_entry: Option<EntryId>,
    /// The entry of the taking off, if something was taken off.
    pub off_entry: Option<EntryId>,
    /// The machine.
    pub machine: MachineTag,
    /// Its name.
    pub machine_name: String,
    /// The kind of part.
    pub part: PartName,
    /// When.
    pub at_utc_ms: UtcMillis,
    /// The part that was taken off, with its hours; null also for one that came with the machine.
    pub taken_off: Option<PartPeriod>,
    /// Whether the part that was taken off came with the machine second-hand, so that its age is not known.
    pub came_with_machine: bool,
    /// The care that the fitting did.
    pub does_tasks: Vec<TaskDone>,
    /// How the spare that it was stands now; empty where none is kept.
    pub stock: Vec<StockLine>,
}

/// All parts, on and off.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PartList {
    /// In the order of fitting.
    pub parts: Vec<PartPeriod>,
    /// Machines by number and name.
    pub machines: Vec<(MachineTag, String)>,
}

/// The running of some machines.
pub(super) fn grounds(
    book: &Book,
    ledger: &Ledger<'_>,
    clock: &impl Clock,
    cards: &[&MachineCard],
) -> Vec<Grounds> {
    let of = |card: &&MachineCard| {
        Grounds::of(card.tag, &History::of(&book.studio, ledger, &book.heard, card.tag, &clock.zone()))
    };
    cards.iter().map(of).collect()
}

/// All parts of one machine, or of all.
///
/// # Errors
/// When there is no such machine, or the store cannot be read.
pub fn list(store: &impl Store, clock: &impl Clock, number: Option<u32>) -> Result<PartList, RequestError> {
    let book = Book::read(store)?;
    let ledger = book.ledger();
    let cards = machines(&book.studio, number)?;
    let grounds = grounds(&book, &ledger, clock, &cards);
    let mut parts = part_periods(&book.entries, &grounds, clock.now());
    parts.retain(|period| cards.iter().any(|card| card.tag == period.machine));
    Ok(PartList { parts, machines: cards.iter().map(|card| (card.tag, card.name.clone())).collect() })
}

/// Notes that a part was fitted; with `replaces`, that the one before it was taken off at the same moment and why.
///
/// # Errors
/// When the machine is not clear, the moment lies in the future, one of the kind is on and nothing is said of it, or the store
/// fails. Nothing is noted then.
pub fn fit(
    store: &mut impl Store,
    clock: &impl Clock,
    said: &PartSaid,
    replaces: Option<TakenOff>,
) -> Result<PartChanged, PartError> {
    let Checked { card, part, serial, at } = checked(store, clock, said)?;
    let on = on_now(store, clock, &card, &part)?;
    let is_another =
        |period: &&PartPeriod| period.serial.is_none() || serial.is_none() || period.serial == serial;
    if let (None, Some(period)) = (replaces, on.iter().find(is_another)) {
        let hours = f64::midpoint(period.hours_at_least, period.hours_at_most);
        return Err(PartError::IsOn { part: part.0, hours });
    }
    let off = match replaces {
        Some(why) => Some(off_now(store, &card, &on, &part, None, at, why)?),
        None => None,
    };
    let (replaced, off) = off.unzip();
    let came_with_machine = matches!(replaced, Some(None));
    let now = clock.now();
    let (entry, fitted) = store.together(|store| {
        let off = off.map(|off| store.add_entry(now, &EntryBody::PartTakenOff(off))).transpose()?;
        // What was taken off just now may be the part that comes back.
        let from_stock = match said.not_from_stock {
            true => None,
            false => spare_of(&store.entries()?, &part, serial.as_deref(), at),
        };
        let (machine, note) = (card.tag, said.note.clone());
        let fitted = PartFitted { machine, part, serial, at, note, from_stock, off_entry: off };
        let entry = store.add_entry(now, &EntryBody::PartFitted(fitted.clone()))?;
        Ok::<_, StoreError>((entry, fitted))
    })?;
    let taken_off = match replaced.flatten() {
        Some(period) => measured(store, clock, &card, &period)?,
        None => None,
    };
    let mut stock = stock(&store.entries()?);
    stock.retain(|line| fitted.from_stock.as_ref() == Some(&line.item));
    Ok(PartChanged {
        fitted_entry: Some(entry),
        off_entry: fitted.off_entry,
        does_tasks: tasks_done(store, clock, &card, entry)?,
        machine: card.tag,
        machine_name: card.name,
        part: fitted.part,
        at_utc_ms: at,
        taken_off,
        came_with_machine,
        stock,
    })
}

/// Notes that a part was taken off.
///
/// # Errors
/// When the machine is not clear, no such part is on, the moment lies in the future or before the fitting, or the store fails.
pub fn off(
    store: &mut impl Store,
    clock: &impl Clock,
    said: &PartSaid,
    why: TakenOff,
) -> Result<PartChanged, PartError> {
    let Checked { card, part, serial, at } = checked(store, clock, said)?;
    let on = on_now(store, clock, &card, &part)?;
    let (period, mut off) = off_now(store, &card, &on, &part, serial.as_deref(), at, why)?;
    off.note.clone_from(&said.note);
    let entry = store.add_entry(clock.now(), &EntryBody::PartTakenOff(off))?;
    Ok(PartChanged {
        fitted_entry: None,
        off_entry: Some(entry),
        machine: card.tag,
        machine_name: card.name.clone(),
        part,
        at_utc_ms: at,
        came_with_machine: period.is_none(),
        taken_off: period.map_or(Ok(None), |period| measured(store, clock, &card, &period))?,
        does_tasks: Vec::new(),
        stock: Vec::new(),
    })
}

/// Takes an entry of a part back; it stays visible. With a fitting goes all that it did: the part before it is on again, the
/// care counts as before, and the spare is in the drawer.
///
/// # Errors
/// When no such entry counts, or the store fails.
pub fn withdraw(
    store: &mut impl Store,
    clock: &impl Clock,
    entry: EntryId,
    reason: &str,
) -> Result<WithdrawnReport, RequestError> {
    let is_meant = |body: &EntryBody| matches!(body, EntryBody::PartFitted(_) | EntryBody::PartTakenOff(_));
    take_back(store, clock, entry, reason, "a part", is_meant)
}

/// What was said, as it is kept.
struct Checked {
    card: MachineCard,
    part: PartName,
    serial: Option<String>,
    at: UtcMillis,
}

fn checked(store: &impl Store, clock: &impl Clock, said: &PartSaid) -> Result<Checked, RequestError> {
    let part = PartName::of(&checked_name("the part's name", &said.part)?);
    let serial = said.serial.as_deref().map(|serial| checked_name("the mark", serial)).transpose()?;
    let at = happened(said.at, clock.now())?;
    let card = machine(&Studio::of(&store.entries()?), said.machine)?.clone();
    Ok(Checked { card, part, serial, at })
}

/// The parts of a kind that are on a machine.
pub(in crate::app) fn on_now(
    store: &impl Store,
    clock: &impl Clock,
    card: &MachineCard,
    part: &PartName,
) -> Result<Vec<PartPeriod>, RequestError> {
    let mut parts = list(store, clock, Some(card.tag.0))?.parts;
    parts.retain(|period| period.part == *part && period.off_utc_ms.is_none());
    Ok(parts)
}

/// The same for a part that came with the machine too, which has no period.
fn off_now(
    store: &impl Store,
    card: &MachineCard,
    on: &[PartPeriod],
    part: &PartName,
    serial: Option<&str>,
    at: UtcMillis,
    why: TakenOff,
) -> Result<(Option<PartPeriod>, PartTakenOff), PartError> {
    if !came_with(&store.entries()?, card, part) {
        return taken_off(on, part, serial, at, why).map(|(period, off)| (Some(period), off));
    }
    if at < card.since {
        return Err(PartError::OffBeforeOn(part.0.clone()));
    }
    let (part, serial) = (part.clone(), serial.map(str::to_owned));
    Ok((None, PartTakenOff { machine: card.tag, part, serial, at, why, note: None }))
}

/// The part that is meant and the entry that takes it off.
fn taken_off(
    on: &[PartPeriod],
    part: &PartName,
    serial: Option<&str>,
    at: UtcMillis,
    why: TakenOff,
) -> Result<(PartPeriod, PartTakenOff), PartError> {
    let is_meant = |period: &&PartPeriod| serial.is_none() || period.serial.as_deref() == serial;
    let mut meant = on.iter().filter(is_meant);
    let (Some(period), others) = (meant.next(), meant.count()) else {
        return Err(PartError::IsNotOn(part.0.clone()));
    };
    if others > 0 {
        let marks = on.iter().filter_map(|period| period.serial.clone()).collect();
        return Err(PartError::SeveralOn { part: part.0.clone(), marks });
    }
    if at < period.fitted_utc_ms {
        return Err(PartError::OffBeforeOn(part.0.clone()));
    }
    let off = PartTakenOff {
        machine: period.machine,
        part: part.clone(),
        serial: period.serial.clone(),
        at,
        why,
        note: None,
    };
    Ok((period.clone(), off))
}

/// The same part once more, with its hours until it was taken off.
fn measured(
    store: &impl Store,
    clock: &impl Clock,
    card: &MachineCard,
    before: &PartPeriod,
) -> Result<Option<PartPeriod>, RequestError> {
    let parts = list(store, clock, Some(card.tag.0))?.parts;
    Ok(parts.into_iter().find(|period| period.entry == before.entry))
}
