//! Care that is put off or left out.

use serde::Serialize;
use shared_types::{MachineTag, RunMillis, UtcMillis};

use super::error::CareError;
use super::limits::task_of;
use crate::app::ports::{Clock, Store};
use crate::app::typed::choose_machine::machine;
use crate::app::typed::dates::happened;
use crate::app::typed::error::RequestError;
use crate::app::whole_book::Book;
use host_core::care::done::CareNotes;
use host_core::entries::{CareSkipped, CareSnoozed, EntryBody, EntryId};
use host_core::stats::{self, DAY_MS, HOUR_MS};

/// A task is put off for at most so many run hours at a time.
const MOST_HOURS: f64 = 100.0;
/// A task is put off for at most so many days at a time.
const MOST_DAYS: u32 = 90;

/// What the maker says of a task that is put off.
#[derive(Clone, Debug, Default)]
pub struct SnoozeSaid {
    /// The task, as typed.
    pub task: String,
    /// The machine's number.
    pub machine: Option<u32>,
    /// For so many hours of running.
    pub for_hours: Option<f64>,
    /// For so many days.
    pub for_days: Option<u32>,
    /// Why.
    pub reason: Option<String>,
}

/// What was put off or left out.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LaterReport {
    /// The entry's number.
    pub entry: EntryId,
    /// The machine's number.
    pub machine: MachineTag,
    /// Its name.
    pub machine_name: String,
    /// The task.
    pub task: String,
    /// Why.
    pub reason: Option<String>,
    /// For so much run time.
    pub for_run_time_ms: Option<u64>,
    /// Until this moment.
    pub until_utc_ms: Option<UtcMillis>,
}

/// Puts a task off for some run time or some days, whichever ends first.
///
/// # Errors
/// When there is no such task or machine, the task is switched off, no end or no reason was given, or an end too far away.
pub fn snooze(
    store: &mut impl Store,
    clock: &impl Clock,
    said: &SnoozeSaid,
) -> Result<LaterReport, CareError> {
    let book = Book::read(store)?;
    let ledger = book.ledger();
    let card = machine(&book.studio, said.machine)?;
    let notes = CareNotes::of(&book.entries, &book.studio, &ledger, card.tag);
    let task = task_of(&notes, card, &said.task)?;
    if !notes.is_on(task.name) {
        let why = "is switched off; there is nothing to put off";
        return Err(CareError::NothingToSnooze { task: task.name.to_owned(), why });
    }
    let reason = said.reason.as_deref().map(str::trim).filter(|reason| !reason.is_empty());
    let Some(reason) = reason else { return Err(CareError::SnoozeUnclear("why")) };
    let for_run = said.for_hours.map(run).transpose()?;
    let now = clock.now();
    let until = said.for_days.map(|days| later(now, days)).transpose()?;
    if for_run.is_none() && until.is_none() {
        return Err(CareError::SnoozeUnclear("until when"));
    }
    let entry = store.add_entry(
        now,
        &EntryBody::CareSnoozed(CareSnoozed {
            machine: card.tag,
            task: task.entry_name(),
            at: now,
            for_run,
            until,
            reason: reason.to_owned(),
        }),
    )?;
    Ok(LaterReport {
        entry,
        machine: card.tag,
        machine_name: card.name.clone(),
        task: task.name.to_owned(),
        reason: Some(reason.to_owned()),
        for_run_time_ms: for_run.map(|run| run.0),
        until_utc_ms: until,
    })
}

/// Notes that a task was left out this time. It stays due.
///
/// # Errors
/// When there is no such task or machine, the moment lies in the future, or the database does not take it.
pub fn skip(
    store: &mut impl Store,
    clock: &impl Clock,
    task: &str,
    number: Option<u32>,
    at: Option<UtcMillis>,
    reason: Option<String>,
) -> Result<LaterReport, RequestError> {
    let book = Book::read(store)?;
    let ledger = book.ledger();
    let card = machine(&book.studio, number)?;
    let notes = CareNotes::of(&book.entries, &book.studio, &ledger, card.tag);
    let task = task_of(&notes, card, task)?;
    let now = clock.now();
    let at = happened(at, now)?;
    let body = EntryBody::CareSkipped(CareSkipped {
        machine: card.tag,
        task: task.entry_name(),
        at,
        reason: reason.clone(),
    });
    let entry = store.add_entry(now, &body)?;
    Ok(LaterReport {
        entry,
        machine: card.tag,
        machine_name: card.name.clone(),
        task: task.name.to_owned(),
        reason,
        for_run_time_ms: None,
        until_utc_ms: None,
    })
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "checked to lie in the range before"
)]
fn run(hours: f64) -> Result<RunMillis, RequestError> {
    if !(0.1..=MOST_HOURS).contains(&hours) {
        let (what, range) = ("the hours of running", "0.1 to 100");
        return Err(RequestError::OutOfRange { what, range, given: hours.to_string() });
    }
    Ok(RunMillis((hours * stats::number(HOUR_MS)).round() as u64))
}

fn later(now: UtcMillis, days: u32) -> Result<UtcMillis, RequestError> {
    if !(1..=MOST_DAYS).contains(&days) {
        let (what, range) = ("the days", "1 to 90");
        return Err(RequestError::OutOfRange { what, range, given: days.to_string() });
    }
    let ms = i64::try_from(u64::from(days) * DAY_MS).unwrap_or(i64::MAX);
    Ok(UtcMillis(now.0.saturating_add(ms)))
}
