//! Care: what is due, what was done, and the maker's own limits.

use serde::Serialize;
use shared_types::link::Hello;
use shared_types::log::Limits;
use shared_types::{MachineTag, RunMillis, UtcMillis};

use super::book::Book;
use super::ports::{Clock, Store, StoreError};
use super::request::{RequestError, machine, machines};
use crate::core::care::plan::{HOUR_MS, PLAN, RETENSION, Source, TaskLimits, tasks_for};
use crate::core::care::{CareTask, DueReport, Grounds, due_report, dues, lamp_limits};
use crate::core::entries::{CareDone, CareLimitSet, Entry, EntryBody};
pub use crate::core::entries::{EntryId, Finding};
use crate::core::heavy_use::speed::{arc_above, ceiling_said};
use crate::core::ledger::Ledger;
use crate::core::stats::number;
use crate::core::studio::{MachineCard, Studio, nearest_names, standing};

/// What care is judged from.
fn grounds<'book>(book: &'book Book, ledger: &'book Ledger<'book>) -> Grounds<'book> {
    Grounds { entries: &book.entries, studio: &book.studio, ledger, heard: &book.heard }
}

/// What care is due on one machine, or on all.
///
/// # Errors
/// When the database cannot be read, or there is no such machine.
pub fn due(store: &impl Store, clock: &impl Clock, number: Option<u32>) -> Result<DueReport, RequestError> {
    let book = Book::read(store)?;
    let ledger = book.ledger();
    let chosen = machines(&book.studio, number)?;
    Ok(due_report(grounds(&book, &ledger), &chosen, clock.now(), &clock.zone()))
}

/// The lamp's limits for a logger that sits on a machine, counted from its lifetime totals as it just told them, with the
/// ceiling that the maker accepted; while nothing was said of one, the logger's own stays as it is. None for a machine that was never entered. Made for [`super::pull::PullWish::lamp_limits`].
///
/// # Errors
/// When the database cannot be read.
pub fn lamp(
    store: &(impl Store + ?Sized),
    clock: &(impl Clock + ?Sized),
    hello: &Hello,
    tag: MachineTag,
) -> Result<Option<Limits>, StoreError> {
    let book = Book::read(store)?;
    let ledger = book.ledger();
    let Some(card) = book.studio.machine(tag) else { return Ok(None) };
    let (dues, _) = dues(grounds(&book, &ledger), card, clock.now(), &clock.zone());
    let ceiling = match ceiling_said(&book.entries, tag) {
        Some(said) => said.per_mille().zip(card.marks).and_then(|(place, marks)| arc_above(&marks, place)),
        None => hello.settings.limits.ceiling,
    };
    Ok(Some(Limits { ceiling, ..lamp_limits(&dues, hello.totals) }))
}

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
    pub task: &'static str,
    /// When it was done.
    pub at: UtcMillis,
    /// What was seen.
    pub finding: Option<Finding>,
    /// Whether cleaning should have come before: oiling with a brush-out due.
    pub brush_out_was_due: bool,
}

/// Notes that care was given.
///
/// # Errors
/// When there is no such task or machine, the moment lies in the future, or the database does not take it.
pub fn done(store: &mut impl Store, clock: &impl Clock, said: &DoneSaid) -> Result<DoneReport, RequestError> {
    let book = Book::read(store)?;
    let card = machine(&book.studio, said.machine)?;
    let task = task_of(card, &said.task)?;
    let now = clock.now();
    let at = said.at.unwrap_or(now);
    if at > now {
        return Err(RequestError::InTheFuture);
    }
    let ledger = book.ledger();
    let (before, _) = dues(grounds(&book, &ledger), card, at, &clock.zone());
    let is_due = |name: &str| before.iter().any(|due| due.planned.task.name == name && due.is_due());
    let body = EntryBody::CareDone(CareDone {
        machine: card.tag,
        task: task.entry_name(),
        at,
        finding: said.finding,
        note: said.note.clone(),
    });
    let entry = store.add_entry(now, &body)?;
    Ok(DoneReport {
        entry,
        machine: card.tag,
        machine_name: card.name.clone(),
        task: task.name,
        at,
        finding: said.finding,
        brush_out_was_due: task.name == "oiling" && is_due("brush-out"),
    })
}

/// Takes a care entry or a limit back; it stays visible.
///
/// # Errors
/// When there is no such entry of care, or it was taken back before, or the database does not take it.
pub fn withdraw(
    store: &mut impl Store,
    clock: &impl Clock,
    entry: EntryId,
    reason: &str,
) -> Result<WithdrawnReport, RequestError> {
    let entries = store.entries()?;
    let is_care = |one: &&Entry| {
        one.id == entry && matches!(one.body, EntryBody::CareDone(_) | EntryBody::CareLimitSet(_))
    };
    if !standing(&entries).iter().any(is_care) {
        return Err(RequestError::UnknownCareEntry { entry: entry.0 });
    }
    let body = EntryBody::Withdrawn { entry, reason: reason.to_owned() };
    store.add_entry(clock.now(), &body)?;
    Ok(WithdrawnReport { entry, reason: reason.to_owned() })
}

/// An entry that counts no more.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct WithdrawnReport {
    /// Its number.
    pub entry: EntryId,
    /// Why.
    pub reason: String,
}

/// The maker's own limits; zero switches a limit off, none leaves it.
#[derive(Clone, Debug, Default)]
pub struct LimitSaid {
    /// The task, as typed.
    pub task: String,
    /// The machine's number.
    pub machine: Option<u32>,
    /// Run hours between two times.
    pub every_hours: Option<f64>,
    /// Days between two times.
    pub every_days: Option<u32>,
}

/// The limits of a task as they are now.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LimitReport {
    /// The entry's number.
    pub entry: EntryId,
    /// The machine's number.
    pub machine: MachineTag,
    /// The task.
    pub task: &'static str,
    /// The limits in force.
    pub limits: TaskLimits,
}

/// Sets the maker's own limits for a task.
///
/// # Errors
/// When there is no such task or machine, no limit was given or one outside the range that makes sense.
pub fn set_limit(
    store: &mut impl Store,
    clock: &impl Clock,
    said: &LimitSaid,
) -> Result<LimitReport, RequestError> {
    let entries = store.entries()?;
    let studio = Studio::of(&entries);
    let card = machine(&studio, said.machine)?;
    let task = task_of(card, &said.task)?;
    if said.every_hours.is_none() && said.every_days.is_none() {
        return Err(RequestError::NoLimit { task: task.name });
    }
    let every_run = said.every_hours.map(|hours| run_limit(task, hours)).transpose()?;
    let set =
        CareLimitSet { machine: card.tag, task: task.entry_name(), every_run, every_days: said.every_days };
    let entry = store.add_entry(clock.now(), &EntryBody::CareLimitSet(set.clone()))?;
    let before = standing(&entries).into_iter().filter_map(|entry| match &entry.body {
        EntryBody::CareLimitSet(set) if set.machine == card.tag => Some(set),
        _ => None,
    });
    let (limits, _) = task.limits(before.chain([&set]));
    Ok(LimitReport { entry, machine: card.tag, task: task.name, limits })
}

/// Hours as typed to milliseconds, within the task's range; zero is off.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "checked to lie in the range before"
)]
fn run_limit(task: &CareTask, hours: f64) -> Result<RunMillis, RequestError> {
    let (low, high) = task.run_time_range_ms;
    let (low_hours, high_hours) = (number(low) / number(HOUR_MS), number(high) / number(HOUR_MS));
    let is_off = hours == 0.0;
    if !is_off && !(low_hours..=high_hours).contains(&hours) {
        return Err(RequestError::LimitOutOfRange {
            task: task.name,
            asked_hours: hours,
            low_hours,
            high_hours,
        });
    }
    Ok(RunMillis((hours * number(HOUR_MS)).round() as u64))
}

/// A task as `done --list` shows it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct PlanLine {
    /// Its name.
    pub task: &'static str,
    /// What is done.
    pub what: &'static str,
    /// Start values.
    pub start: TaskLimits,
    /// How well they are founded.
    pub source: Source,
}

/// The whole plan.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct PlanReport {
    /// Its tasks.
    pub tasks: Vec<PlanLine>,
    /// Of them, the one that belongs to the cloth on the frame.
    pub of_the_cloth: &'static str,
}

/// The care plan with its start values.
#[must_use]
pub fn plan() -> PlanReport {
    let line = |task: &CareTask| PlanLine {
        task: task.name,
        what: task.what,
        start: task.start,
        source: task.source,
    };
    PlanReport { tasks: PLAN.iter().map(line).collect(), of_the_cloth: RETENSION }
}

fn task_of(card: &MachineCard, name: &str) -> Result<&'static CareTask, RequestError> {
    tasks_for(card.pile).find(|task| task.name.eq_ignore_ascii_case(name.trim())).ok_or_else(|| {
        let names: Vec<&'static str> = tasks_for(card.pile).map(|task| task.name).collect();
        RequestError::UnknownTask {
            name: name.to_owned(),
            nearest: nearest_names(name, &names),
            known: names,
        }
    })
}
