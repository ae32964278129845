//! Care: what is due, what was done, and the maker's own limits.

use serde::Serialize;
use shared_types::link::Hello;
use shared_types::log::Limits;
use shared_types::{MachineTag, RunMillis, UtcMillis};

use super::book::Book;
use super::ports::{Clock, Store, StoreError};
use super::request::{RequestError, happened, machine, machines};
use super::stock;
use crate::core::care::done::{CareNotes, Evidence};
use crate::core::care::plan::{BRUSH_OUT, HOUR_MS, OILING, Task, TaskLimits};
use crate::core::care::points::{never_oiled, points};
use crate::core::care::record::about_care;
use crate::core::care::routine::{Step, WALKED_AT_FIRST, steps};
use crate::core::care::schedule::DueState;
use crate::core::care::{DueReport, care_of, due_report, dues, lamp_limits};
use crate::core::entries::{CareDone, CareLimitSet, EntryBody, SpareName};
pub use crate::core::entries::{EntryId, Finding, MoreLimits};
use crate::core::heavy_use::speed::ceiling_said;
use crate::core::knob;
use crate::core::stats::number;
use crate::core::stock::StockLine;
use crate::core::studio::{MachineCard, nearest_names, standing};

/// What care is due on one machine, or on all.
///
/// # Errors
/// When the database cannot be read, or there is no such machine.
pub fn due(store: &impl Store, clock: &impl Clock, number: Option<u32>) -> Result<DueReport, RequestError> {
    let book = Book::read(store)?;
    let ledger = book.ledger();
    let chosen = machines(&book.studio, number)?;
    Ok(due_report(book.grounds(&ledger), &chosen, clock.now(), &clock.zone()))
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
    let (dues, _) = dues(book.grounds(&ledger), card, clock.now(), &clock.zone());
    let ceiling = match ceiling_said(&book.entries, tag) {
        Some(said) => {
            said.per_mille().zip(card.marks).and_then(|(place, marks)| knob::arc_above(&marks, place))
        }
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
    /// What it used up, and how much.
    pub used: Vec<(SpareName, u32)>,
    /// Whether the routine is wanted, however often it was done.
    pub wants_routine: bool,
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
    /// What was seen.
    pub finding: Option<Finding>,
    /// What that means.
    pub finding_means: Option<&'static str>,
    /// Whether cleaning should have come before: oiling with a brush-out due.
    pub brush_out_was_due: bool,
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
}

/// Notes that care was given.
///
/// # Errors
/// When there is no such task or machine, the moment lies in the future, something is used up of which there is no stock, or
/// the database does not take it.
pub fn done(store: &mut impl Store, clock: &impl Clock, said: &DoneSaid) -> Result<DoneReport, RequestError> {
    let book = Book::read(store)?;
    let card = machine(&book.studio, said.machine)?;
    let now = clock.now();
    let at = happened(said.at, now)?;
    let ledger = book.ledger();
    let care = care_of(book.grounds(&ledger), card, at, &clock.zone());
    let task = task_of(&care.notes, card, &said.task)?;
    stock::check_known(&book.entries, &said.used)?;
    let before = care.dues.iter().find(|due| due.planned.task.name == task.name);
    let is_due = |name: &str| care.dues.iter().any(|due| due.planned.task.name == name && due.is_due());
    let state_before = before.map_or(DueState::NotNow, |due| due.state);
    let is_known = before.is_some_and(|due| due.planned.last.evidence != Evidence::Never);
    let times_before = care.notes.times_done(task.name);
    let body = EntryBody::CareDone(CareDone {
        machine: card.tag,
        task: task.entry_name(),
        at,
        finding: said.finding,
        note: said.note.clone(),
    });
    let entry = store.add_entry(now, &body)?;
    let stock = stock::use_up(store, clock, &said.used, at, task.name)?;
    let is_walked = task.name == OILING && (said.wants_routine || times_before < WALKED_AT_FIRST);
    Ok(DoneReport {
        entry,
        machine: card.tag,
        machine_name: card.name.clone(),
        task: task.name.to_owned(),
        at,
        finding: said.finding,
        finding_means: said.finding.map(Finding::meaning),
        brush_out_was_due: task.name == OILING && is_due(BRUSH_OUT),
        state_before,
        used_per_mille_before: before.map_or(0, |due| due.used_per_mille),
        is_early: is_known && state_before == DueState::Fine,
        times_before,
        routine: is_walked.then(|| routine_of(&care.notes, card)),
        stock,
    })
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

/// Takes an entry about care back; it stays visible.
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
    if !standing(&entries).iter().any(|one| one.id == entry && about_care(&one.body).is_some()) {
        return Err(RequestError::UnknownCareEntry { entry: entry.0 });
    }
    let body = EntryBody::Withdrawn { entry, reason: reason.to_owned() };
    store.add_entry(clock.now(), &body)?;
    Ok(WithdrawnReport { entry, reason: reason.to_owned() })
}

/// Corrects a care entry: the new one is noted and the old one, which stays visible, is taken back.
///
/// # Errors
/// As [`done`] and [`withdraw`]; nothing is changed then. Only care that was done can be corrected so.
pub fn correct(
    store: &mut impl Store,
    clock: &impl Clock,
    entry: EntryId,
    said: &DoneSaid,
    reason: &str,
) -> Result<DoneReport, RequestError> {
    let entries = store.entries()?;
    let stands = standing(&entries);
    let old = stands.iter().find_map(|one| match &one.body {
        EntryBody::CareDone(done) if one.id == entry => Some(done),
        _ => None,
    });
    let Some(old) = old else { return Err(RequestError::UnknownCareEntry { entry: entry.0 }) };
    let said = DoneSaid {
        task: if said.task.is_empty() { old.task.0.clone() } else { said.task.clone() },
        machine: said.machine.or(Some(old.machine.0)),
        at: said.at.or(Some(old.at)),
        finding: said.finding.or(old.finding),
        note: said.note.clone().or_else(|| old.note.clone()),
        used: said.used.clone(),
        wants_routine: said.wants_routine,
    };
    let report = done(store, clock, &said)?;
    let body = EntryBody::Withdrawn { entry, reason: reason.to_owned() };
    store.add_entry(clock.now(), &body)?;
    Ok(report)
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
    /// The other limits.
    pub more: MoreLimits,
}

/// The limits of a task as they are now.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LimitReport {
    /// The entry's number.
    pub entry: EntryId,
    /// The machine's number.
    pub machine: MachineTag,
    /// The task.
    pub task: String,
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
    let book = Book::read(store)?;
    let ledger = book.ledger();
    let card = machine(&book.studio, said.machine)?;
    let notes = CareNotes::of(&book.entries, &book.studio, &ledger, card.tag);
    let task = task_of(&notes, card, &said.task)?;
    if said.every_hours.is_none() && said.every_days.is_none() && said.more == MoreLimits::default() {
        return Err(RequestError::NoLimit { task: task.name.to_owned() });
    }
    check_limits(said.every_days, said.more)?;
    let every_run = said.every_hours.map(|hours| run_limit(&task, hours)).transpose()?;
    let set = CareLimitSet {
        machine: card.tag,
        task: task.entry_name(),
        every_run,
        every_days: said.every_days,
        more: said.more,
    };
    let entry = store.add_entry(clock.now(), &EntryBody::CareLimitSet(set.clone()))?;
    let (limits, _) = task.limits(notes.limits.iter().copied().chain([&set]));
    Ok(LimitReport { entry, machine: card.tag, task: task.name.to_owned(), limits })
}

/// The longest limits by calendar, sessions and strokes that make sense of a care task.
const MOST_DAYS: u32 = 3_650;
const MOST_SESSIONS: u32 = 1_000;
const MOST_STROKES: u64 = 100_000_000;

/// Limits that are not run time.
///
/// # Errors
/// When one is beyond a machine's life.
pub(super) fn check_limits(every_days: Option<u32>, more: MoreLimits) -> Result<(), RequestError> {
    let refused = |what, range, given: String| Err(RequestError::OutOfRange { what, range, given });
    for (what, days) in [("the days", every_days), ("the days of standing still", more.idle_days)] {
        if let Some(days) = days.filter(|days| *days > MOST_DAYS) {
            return refused(what, "0 to 3650", days.to_string());
        }
    }
    if let Some(sessions) = more.every_sessions.filter(|sessions| *sessions > MOST_SESSIONS) {
        return refused("the sessions", "0 to 1000", sessions.to_string());
    }
    if let Some(strokes) = more.every_strokes.filter(|strokes| *strokes > MOST_STROKES) {
        return refused("the strokes", "0 to 100000000", strokes.to_string());
    }
    Ok(())
}

/// Hours as typed to milliseconds, within the task's range; zero is off.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "checked to lie in the range before"
)]
pub(super) fn run_limit(task: &Task<'_>, hours: f64) -> Result<RunMillis, RequestError> {
    let (low, high) = task.run_time_range_ms;
    let (low_hours, high_hours) = (number(low) / number(HOUR_MS), number(high) / number(HOUR_MS));
    let is_off = hours == 0.0;
    if !is_off && !(low_hours..=high_hours).contains(&hours) {
        return Err(RequestError::LimitOutOfRange {
            task: task.name.to_owned(),
            asked_hours: hours,
            low_hours,
            high_hours,
        });
    }
    Ok(RunMillis((hours * number(HOUR_MS)).round() as u64))
}

/// A task of a machine by the name that the maker typed; one that is switched off too.
///
/// # Errors
/// When the machine has no such task; names those like it.
pub(super) fn task_of<'a>(
    notes: &CareNotes<'a>,
    card: &MachineCard,
    name: &str,
) -> Result<Task<'a>, RequestError> {
    let tasks = notes.tasks(card);
    let found = tasks.iter().find(|task| task.name.eq_ignore_ascii_case(name.trim()));
    found.copied().ok_or_else(|| {
        let names: Vec<&str> = tasks.iter().map(|task| task.name).collect();
        RequestError::UnknownTask {
            name: name.to_owned(),
            nearest: nearest_names(name, &names),
            known: names.into_iter().map(str::to_owned).collect(),
        }
    })
}
