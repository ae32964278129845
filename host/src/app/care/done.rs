//! Care that was given: noted, corrected, taken back.

use serde::Serialize;
use shared_types::{MachineTag, UtcMillis};

use super::error::CareError;
use super::limits::task_of;
use super::part_offer::{PartOffer, offer};
use super::stock;
use crate::app::ports::{Clock, Store, StoreError};
use crate::app::typed::choose_machine::machine;
use crate::app::typed::dates::happened;
use crate::app::typed::error::RequestError;
use crate::app::typed::take_back::{WithdrawnReport, take_back};
use crate::app::typed::withdrawn;
use crate::app::whole_book::Book;
use host_core::care::care_of;
use host_core::care::done::{CareNotes, Evidence};
use host_core::care::points::{never_oiled, points};
use host_core::care::record::about_care;
use host_core::care::routine::{Step, WALKED_AT_FIRST, steps};
use host_core::care::schedule::DueState;
use host_core::care::stock::StockLine;
use host_core::care::task_steps::task_steps;
use host_core::entries::{
    BRUSH_OUT, CareDone, CareTaskName, EntryBody, EntryId, Finding, OILING, SpareName, StockChange,
};
use host_core::records::when::When;
use host_core::sessions::ledger::Ledger;
use host_core::studio::MachineCard;

/// A brush-out that was noted within so much time of the oiling is the one that the oiling began with, in milliseconds; half
/// an hour.
const SAME_BRUSH_OUT_MS: u64 = 1_800_000;

/// What the maker says was done.
#[derive(Clone, Debug, Default)]
pub struct DoneSaid {
    /// The task, as typed.
    pub task: String,
    /// The machine's number.
    pub machine: Option<u32>,
    /// When; now if nothing is said.
    pub at: Option<UtcMillis>,
    /// What was seen.
    pub finding: Option<Finding>,
    /// Anything else.
    pub note: Option<String>,
    /// What it used up, and how much.
    pub used: Vec<(SpareName, u32)>,
    /// Whether the routine is wanted, however often it was done.
    pub wants_routine: bool,
    /// Of an oiling: whether the machine was brushed out first, and when; at the same time if that is not known.
    pub brushed_out: Option<Option<UtcMillis>>,
}

/// What was noted.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct DoneReport {
    /// The entry's number, by which it can be taken back.
    pub entry: EntryId,
    /// The machine's number.
    pub machine: MachineTag,
    /// Its name.
    pub machine_name: String,
    /// The task.
    pub task: String,
    /// When it was done.
    pub at: UtcMillis,
    /// Whether the task counts from there: that it was not done again later.
    pub counts_from_here: bool,
    /// When it was last done, as far as is noted; from there it counts.
    pub last_done: When,
    /// What was seen.
    pub finding: Option<Finding>,
    /// What that means.
    pub finding_means: Option<&'static str>,
    /// Whether cleaning should have come before: oiling with a brush-out due, and none noted with it.
    pub brush_out_was_due: bool,
    /// The brush-out with which an oiling began; null where none was said.
    pub brush_out: Option<BrushOutFirst>,
    /// How pressing the task was before.
    pub state_before: DueState,
    /// The share of its limit that was used up before, per mille.
    pub used_per_mille_before: u64,
    /// Whether it was done before it was due soon. That is welcome, and counts.
    pub is_early: bool,
    /// How often it had been done before, as far as was noted.
    pub times_before: u64,
    /// The routine, the first times and whenever it was asked for; null for a task without one.
    pub routine: Option<Vec<Step>>,
    /// How what was used up stands now.
    pub stock: Vec<StockLine>,
    /// The part that the task looks after, which may have been changed; null for a task without one.
    pub part: Option<PartOffer>,
}

/// The brush-out with which an oiling began.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct BrushOutFirst {
    /// Its entry.
    pub entry: EntryId,
    /// Whether it was noted before; then it is not noted twice.
    pub was_noted: bool,
}

/// Notes that care was given.
///
/// # Errors
/// When there is no such task or machine, the moment lies in the future, something is used up of which there is no stock, or
/// the database does not take it.
pub fn done(store: &mut impl Store, clock: &impl Clock, said: &DoneSaid) -> Result<DoneReport, CareError> {
    note(store, clock, said, None)
}

/// An entry that a new one takes the place of, and why.
type Instead<'a> = (EntryId, &'a str);

fn note(
    store: &mut impl Store,
    clock: &impl Clock,
    said: &DoneSaid,
    instead: Option<Instead<'_>>,
) -> Result<DoneReport, CareError> {
    let now = clock.now();
    let mut book = Book::read(store)?;
    if let Some((entry, reason)) = instead {
        // As the book will be read from now on; nothing is written yet.
        let body = EntryBody::Withdrawn { entry, reason: reason.to_owned() };
        book.entries = book.entries.with(now, body);
    }
    let card = machine(&book.studio, said.machine)?;
    let at = happened(said.at, now)?;
    let ledger = book.ledger();
    let care = care_of(book.grounds(&ledger), card, at, &clock.zone());
    let task = task_of(&care.notes, card, &said.task)?;
    stock::check_known(&book.entries, &said.used)?;
    if said.brushed_out.is_some() && task.name != OILING {
        return Err(CareError::NoBrushOutFirst(task.name.to_owned()));
    }
    let brushed_at = said.brushed_out.map(|at_or_none| happened(at_or_none.or(Some(at)), now)).transpose()?;
    let before = care.dues.iter().find(|due| due.planned.task.name == task.name);
    let is_due = |name: &str| care.dues.iter().any(|due| due.planned.task.name == name && due.is_due());
    let state_before = before.map_or(DueState::NotNow, |due| due.state);
    let is_known = before.is_some_and(|due| due.planned.last.evidence != Evidence::Never);
    let times_before = care.notes.times_done(task.name);
    let part = offer(store, clock, card, &care.notes, &task, at)?;
    let body = EntryBody::CareDone(CareDone {
        machine: card.tag,
        task: task.entry_name(),
        at,
        finding: said.finding,
        note: said.note.clone().filter(|note| !note.trim().is_empty()),
    });
    let (entry, brush_out) = store.together(|store| {
        let first = |at| brush_out_first(store, now, card, &care.notes, at);
        let brush_out = brushed_at.map(first).transpose()?;
        let entry = store.add_entry(now, &body)?;
        stock::use_up(store, now, &said.used, at, task.name, entry)?;
        if let Some((entry, reason)) = instead {
            store.add_entry(now, &EntryBody::Withdrawn { entry, reason: reason.to_owned() })?;
        }
        Ok::<_, StoreError>((entry, brush_out))
    })?;
    // What the old entry used up is in stock again by now.
    let entries = store.entries()?;
    let stock = stock::left_of(&entries, &said.used);
    // Care moves no running: that stands as it was read.
    let notes = CareNotes::of(&entries, &book.studio, &ledger, card.tag);
    let last = notes.last(&task, &care.history, card.since);
    let counts_from_here = notes.entry_of(&task, &last) == Some(entry);
    let is_walked = task.name == OILING && (said.wants_routine || times_before < WALKED_AT_FIRST);
    Ok(DoneReport {
        entry,
        machine: card.tag,
        machine_name: card.name.clone(),
        task: task.name.to_owned(),
        at,
        counts_from_here,
        last_done: last.moment.when,
        finding: said.finding,
        finding_means: said.finding.map(Finding::meaning),
        brush_out_was_due: counts_from_here
            && task.name == OILING
            && brush_out.is_none()
            && is_due(BRUSH_OUT),
        brush_out,
        state_before,
        used_per_mille_before: before.map_or(0, |due| due.used_per_mille),
        is_early: counts_from_here && is_known && state_before == DueState::Fine,
        times_before,
        routine: is_walked.then(|| routine_of(&care.notes, card)),
        stock,
        part,
    })
}

/// Notes the brush-out with which an oiling began, unless it was noted by itself.
fn brush_out_first(
    store: &mut impl Store,
    now: UtcMillis,
    card: &MachineCard,
    notes: &CareNotes<'_>,
    at: UtcMillis,
) -> Result<BrushOutFirst, StoreError> {
    if let Some(entry) = notes.done_near(BRUSH_OUT, at, SAME_BRUSH_OUT_MS) {
        return Ok(BrushOutFirst { entry, was_noted: true });
    }
    let task = CareTaskName(BRUSH_OUT.to_owned());
    let body = EntryBody::CareDone(CareDone { machine: card.tag, task, at, finding: None, note: None });
    Ok(BrushOutFirst { entry: store.add_entry(now, &body)?, was_noted: false })
}

/// The oiling routine of a machine, and whether it should be walked through: the first times.
///
/// # Errors
/// When there is no such machine, or the database cannot be read.
pub fn routine(store: &impl Store, number: Option<u32>) -> Result<Routine, RequestError> {
    let book = Book::read(store)?;
    let card = machine(&book.studio, number)?;
    let ledger = book.ledger();
    let notes = CareNotes::of(&book.entries, &book.studio, &ledger, card.tag);
    let times_before = notes.times_done(OILING);
    Ok(Routine { is_new: times_before < WALKED_AT_FIRST, steps: routine_of(&notes, card) })
}

/// The steps of a task on a machine.
///
/// # Errors
/// When there is no such task or machine, or the database cannot be read.
pub fn steps_of(store: &impl Store, number: Option<u32>, task: &str) -> Result<Vec<Step>, RequestError> {
    let book = Book::read(store)?;
    let card = machine(&book.studio, number)?;
    let notes = CareNotes::of(&book.entries, &book.studio, &Ledger { logs: Vec::new() }, card.tag);
    let task = task_of(&notes, card, task)?;
    let is_oiling = task.name == OILING;
    Ok(if is_oiling { routine_of(&notes, card) } else { task_steps(&task, card.drive) })
}

/// The oiling routine.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Routine {
    /// Whether it was noted fewer than three times.
    pub is_new: bool,
    /// Its steps.
    pub steps: Vec<Step>,
}

fn routine_of(notes: &CareNotes<'_>, card: &MachineCard) -> Vec<Step> {
    let points = points(card.pile, card.drive, card.tag, notes.points.iter().copied());
    steps(&points, card.drive, never_oiled(card.drive))
}

/// Takes an entry about care back; it stays visible. What it used up is in stock again.
///
/// # Errors
/// When there is no such entry of care, or it was taken back before, or the database does not take it.
pub fn withdraw(
    store: &mut impl Store,
    clock: &impl Clock,
    entry: EntryId,
    reason: &str,
) -> Result<WithdrawnReport, CareError> {
    let is_care = |body: &EntryBody| about_care(body).is_some();
    take_back(store, clock, entry, reason, "care", is_care).map_err(|error| match error {
        RequestError::UnknownEntry { entry, .. } => CareError::UnknownEntry(entry),
        other => other.into(),
    })
}

/// Corrects a care entry: the new one is noted and the old one, which stays visible, is taken back. What is not said anew
/// stays as it was, what it used up too.
///
/// # Errors
/// As [`done`] and [`withdraw`]; nothing is changed then. Only care that was done can be corrected so.
pub fn correct(
    store: &mut impl Store,
    clock: &impl Clock,
    entry: EntryId,
    said: &DoneSaid,
    reason: &str,
) -> Result<DoneReport, CareError> {
    let entries = store.entries()?;
    let old = entries.get(entry).map(|one| &one.body);
    let Some(EntryBody::CareDone(old)) = old else {
        let mut all = entries.with_withdrawn().iter();
        let is_care = all.any(|one| one.id == entry && about_care(&one.body).is_some());
        return Err(match withdrawn::refused(&entries, entry, clock) {
            _ if !is_care => CareError::UnknownEntry(entry.0),
            Some(refused) => refused.into(),
            None => CareError::NotCorrected(entry.0),
        });
    };
    let used_then = entries.iter().filter_map(|one| match &one.body {
        EntryBody::StockMoved(moved) if moved.of_care == Some(entry) => match moved.change {
            StockChange::Out(count) => Some((moved.item.clone(), count)),
            StockChange::In(_) | StockChange::Counted(_) => None,
        },
        _ => None,
    });
    let said = DoneSaid {
        task: if said.task.is_empty() { old.task.0.clone() } else { said.task.clone() },
        machine: said.machine.or(Some(old.machine.0)),
        at: said.at.or(Some(old.at)),
        finding: said.finding.or(old.finding),
        note: said.note.clone().or_else(|| old.note.clone()),
        used: if said.used.is_empty() { used_then.collect() } else { said.used.clone() },
        ..said.clone()
    };
    note(store, clock, &said, Some((entry, reason)))
}
