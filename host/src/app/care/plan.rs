//! The plan of a machine, and the maker's hand in it: own tasks, tasks switched off, points to be oiled.

use serde::Serialize;
use shared_types::{MachineTag, UtcMillis};

use super::error::CareError;
use super::limits::{check_limits, run_limit, task_of};
use crate::app::ports::{Clock, Store};
use crate::app::typed::choose_machine::machine;
use crate::app::typed::dates::happened;
use crate::app::typed::error::RequestError;
use crate::app::typed::names::checked_name;
use crate::app::whole_book::Book;
use host_core::care::done::CareNotes;
use host_core::care::plan::{BelongsTo, Source, Task, TaskLimits, cautions};
use host_core::care::points::{OilPoint, is_called, never_oiled, points};
use host_core::care::tasks::PLAN;
use host_core::entries::{
    CareTaskAdded, CareTaskName, CareTaskSwitched, Drive, EntryBody, EntryId, Lubricant, MoreLimits,
    OilPointChange, OilPointChanged, Pile, PileHeightSet, RETENSION,
};
use host_core::sessions::ledger::Ledger;
use host_core::studio::{MachineCard, nearest_names};

/// The longest sentence about a task, in characters.
const LONGEST_SENTENCE: usize = 300;

/// A task as `done --list` shows it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct PlanLine {
    /// Its name.
    pub task: &'static str,
    /// What is done.
    pub what: &'static str,
    /// Start values.
    pub start: TaskLimits,
    /// The run time between two times that makes sense: shortest, longest, in milliseconds.
    pub allowed_run_time_ms: (u64, u64),
    /// The run times at which a new machine asks for it as well.
    pub running_in_at_run_time_ms: &'static [u64],
    /// Which machines have it; null: with a motor or on air.
    pub only_for: Option<Drive>,
    /// Whether only machines with scissors have it.
    pub needs_scissors: bool,
    /// How well they are founded.
    pub source: Source,
    /// Where they come from.
    pub basis: &'static str,
}

/// The whole plan.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct PlanReport {
    /// Its tasks.
    pub tasks: Vec<PlanLine>,
    /// Of them, the one that belongs to the cloth on the frame.
    pub of_the_cloth: &'static str,
}

/// The care plan with its start values, for every kind of machine.
#[must_use]
pub fn plan() -> PlanReport {
    let tasks = PLAN.iter().map(|task| PlanLine {
        task: task.name,
        what: task.what,
        start: task.start,
        allowed_run_time_ms: task.run_time_range_ms,
        running_in_at_run_time_ms: task.running_in_ms,
        only_for: task.only_for,
        needs_scissors: task.needs_scissors,
        source: task.source,
        basis: task.basis,
    });
    PlanReport { tasks: tasks.collect(), of_the_cloth: RETENSION }
}

/// A task of one machine.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct OwnPlanLine {
    /// Its name.
    pub task: String,
    /// What is done.
    pub what: String,
    /// Of the machine, or of the cloth on the frame.
    pub belongs_to: BelongsTo,
    /// Whether it is on.
    pub is_on: bool,
    /// The limits in force.
    pub limits: TaskLimits,
    /// Whether the maker set any of them.
    pub limits_by_maker: bool,
    /// The run time between two times that makes sense: shortest, longest, in milliseconds.
    pub allowed_run_time_ms: (u64, u64),
    /// How well the start values are founded.
    pub source: Source,
    /// Where they come from.
    pub basis: &'static str,
    /// What to mind.
    pub caution: Option<String>,
}

/// The plan of one machine.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct MachinePlan {
    /// The machine's number.
    pub machine: MachineTag,
    /// Its name.
    pub machine_name: String,
    /// What it makes.
    pub pile: Pile,
    /// What moves its needle.
    pub drive: Drive,
    /// Its tasks.
    pub tasks: Vec<OwnPlanLine>,
    /// Its points, each with its lubricant.
    pub points: Vec<OilPoint>,
    /// What must stay dry.
    pub keep_dry: Vec<&'static str>,
    /// What to mind before any care.
    pub cautions: Vec<&'static str>,
}

/// The plan of a machine as it is now.
///
/// # Errors
/// When there is no such machine, or the database cannot be read.
pub fn machine_plan(store: &impl Store, number: Option<u32>) -> Result<MachinePlan, RequestError> {
    let book = Book::read(store)?;
    let ledger = book.ledger();
    let card = machine(&book.studio, number)?;
    let notes = CareNotes::of(&book.entries, &book.studio, &ledger, card.tag);
    let line = |task: Task<'_>| {
        let (limits, limits_by_maker) = task.limits(notes.limits.iter().copied());
        OwnPlanLine {
            task: task.name.to_owned(),
            what: task.what.to_owned(),
            belongs_to: task.belongs_to,
            is_on: notes.is_on(task.name),
            limits,
            limits_by_maker,
            allowed_run_time_ms: task.run_time_range_ms,
            source: task.source,
            basis: task.basis,
            caution: task.caution.map(str::to_owned),
        }
    };
    Ok(MachinePlan {
        machine: card.tag,
        machine_name: card.name.clone(),
        pile: card.pile,
        drive: card.drive,
        tasks: notes.tasks(card).into_iter().map(line).collect(),
        points: points_of(&notes, card),
        keep_dry: never_oiled(card.drive).to_vec(),
        cautions: cautions(&[card.drive]),
    })
}

fn points_of(notes: &CareNotes<'_>, card: &MachineCard) -> Vec<OilPoint> {
    points(card.pile, card.drive, card.tag, notes.points.iter().copied())
}

/// A task of the maker's own.
#[derive(Clone, Debug, Default)]
pub struct TaskSaid {
    /// Its name.
    pub task: String,
    /// The machine's number.
    pub machine: Option<u32>,
    /// What is done.
    pub what: String,
    /// What to mind.
    pub caution: Option<String>,
    /// What goes on the points.
    pub lubricant: Option<String>,
    /// Run hours between two times.
    pub every_hours: Option<f64>,
    /// Days between two times.
    pub every_days: Option<u32>,
    /// The other limits.
    pub more: MoreLimits,
}

/// A change of the plan.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct PlanChanged {
    /// The entry's number, by which it can be taken back.
    pub entry: EntryId,
    /// The machine's number.
    pub machine: MachineTag,
    /// Its name.
    pub machine_name: String,
    /// The task or point, as it is called now.
    pub name: String,
    /// What became of it.
    pub change: PlanChange,
}

/// What became of a task or point.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum PlanChange {
    /// A task was added.
    TaskAdded,
    /// A task was switched off.
    TaskOff,
    /// A task was switched on.
    TaskOn,
    /// A point was added.
    PointAdded,
    /// A point has another name.
    PointRenamed,
    /// A point gets something else.
    PointGets,
    /// A point was taken away.
    PointRemoved,
}

/// Adds a task of the maker's own, or changes one.
///
/// # Errors
/// When the name or a sentence is empty or too long, the plan has a task of that name, no limit was given or one out of range.
pub fn add_task(
    store: &mut impl Store,
    clock: &impl Clock,
    said: &TaskSaid,
) -> Result<PlanChanged, CareError> {
    let name = checked_name("the task's name", &said.task)?;
    let what = sentence("what is done", &said.what)?;
    let studio = Book::read(store)?.studio;
    let card = machine(&studio, said.machine)?;
    if PLAN.iter().any(|task| task.name.eq_ignore_ascii_case(&name)) {
        return Err(CareError::TaskExists(name));
    }
    let mut added = CareTaskAdded {
        machine: card.tag,
        task: CareTaskName(name.clone()),
        what,
        caution: said.caution.as_deref().map(|text| sentence("what to mind", text)).transpose()?,
        lubricant: said.lubricant.as_deref().map(|text| sentence("the lubricant", text)).transpose()?,
        every_run: None,
        every_days: said.every_days.filter(|days| *days > 0),
        more: said.more,
    };
    check_limits(said.every_days, said.more)?;
    added.every_run = said.every_hours.map(|hours| run_limit(&Task::of_maker(&added), hours)).transpose()?;
    if Task::of_maker(&added).start == TaskLimits::default() {
        return Err(CareError::TaskWithoutLimit(name));
    }
    let (tag, machine_name) = (card.tag, card.name.clone());
    let entry = store.add_entry(clock.now(), &EntryBody::CareTaskAdded(added))?;
    Ok(PlanChanged { entry, machine: tag, machine_name, name, change: PlanChange::TaskAdded })
}

fn sentence(what: &'static str, text: &str) -> Result<String, RequestError> {
    let text = text.trim();
    if text.is_empty() || text.chars().count() > LONGEST_SENTENCE || text.chars().any(char::is_control) {
        let given = format!("\"{}\"", text.escape_debug());
        return Err(RequestError::OutOfRange { what, range: "1 to 300 letters", given });
    }
    Ok(text.to_owned())
}

/// Switches a task off, or on again. It stays in the plan and in the record.
///
/// # Errors
/// When there is no such task or machine, or the database does not take it.
pub fn switch_task(
    store: &mut impl Store,
    clock: &impl Clock,
    task: &str,
    number: Option<u32>,
    on: bool,
    reason: Option<String>,
) -> Result<PlanChanged, RequestError> {
    let book = Book::read(store)?;
    let ledger = book.ledger();
    let card = machine(&book.studio, number)?;
    let notes = CareNotes::of(&book.entries, &book.studio, &ledger, card.tag);
    let task = task_of(&notes, card, task)?;
    let switched = CareTaskSwitched { machine: card.tag, task: task.entry_name(), on, reason };
    let entry = store.add_entry(clock.now(), &EntryBody::CareTaskSwitched(switched))?;
    Ok(PlanChanged {
        entry,
        machine: card.tag,
        machine_name: card.name.clone(),
        name: task.name.to_owned(),
        change: if on { PlanChange::TaskOn } else { PlanChange::TaskOff },
    })
}

/// Changes a point to be oiled.
///
/// # Errors
/// When there is no such point (or, to be added, there is one), a name is empty or too long, or the machine is not clear.
pub fn change_point(
    store: &mut impl Store,
    clock: &impl Clock,
    number: Option<u32>,
    point: &str,
    change: OilPointChange,
) -> Result<PlanChanged, CareError> {
    let book = Book::read(store)?;
    let ledger = Ledger { logs: Vec::new() };
    let card = machine(&book.studio, number)?;
    let notes = CareNotes::of(&book.entries, &book.studio, &ledger, card.tag);
    let points = points_of(&notes, card);
    let known = |name: &str| points.iter().find(|point| is_called(point, name));
    let named = checked_name("the point's name", point)?;
    let (name, told) = match &change {
        OilPointChange::Added(lubricant) => {
            check_lubricant(lubricant)?;
            if known(&named).is_some() {
                return Err(CareError::PointExists(named));
            }
            (named.clone(), PlanChange::PointAdded)
        }
        OilPointChange::Renamed(to) => {
            let to = checked_name("the point's new name", to)?;
            if known(&to).is_some_and(|point| !is_called(point, &named)) {
                return Err(CareError::PointExists(to));
            }
            (to, PlanChange::PointRenamed)
        }
        OilPointChange::Gets(lubricant) => {
            check_lubricant(lubricant)?;
            (named.clone(), PlanChange::PointGets)
        }
        OilPointChange::Removed => (named.clone(), PlanChange::PointRemoved),
    };
    let is_new = told == PlanChange::PointAdded;
    if known(&named).is_none() && !is_new {
        let names: Vec<&str> = points.iter().map(|point| point.point.as_str()).collect();
        return Err(CareError::UnknownPoint {
            nearest: nearest_names(&named, &names),
            known: names.into_iter().map(str::to_owned).collect(),
            name: named,
        });
    }
    let body = EntryBody::OilPointChanged(OilPointChanged { machine: card.tag, point: named, change });
    let entry = store.add_entry(clock.now(), &body)?;
    Ok(PlanChanged { entry, machine: card.tag, machine_name: card.name.clone(), name, change: told })
}

fn check_lubricant(lubricant: &Lubricant) -> Result<(), RequestError> {
    match lubricant {
        Lubricant::Other(own) => checked_name("the lubricant", own).map(|_| ()),
        Lubricant::Oil | Lubricant::Grease => Ok(()),
    }
}

/// The lowest and highest pile that a hand machine is set to, in tenths of a millimetre; the trade has 7 to 74 mm.
const PILE_TENTHS_MM: std::ops::RangeInclusive<u32> = 10..=1_500;

/// A pile height that was noted.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct PileHeightReport {
    /// The entry's number.
    pub entry: EntryId,
    /// The machine's number.
    pub machine: MachineTag,
    /// Its name.
    pub machine_name: String,
    /// Tenths of a millimetre.
    pub pile_height_tenths_mm: u32,
    /// When it was changed.
    pub at_utc_ms: UtcMillis,
    /// Tasks that such a change asks for.
    pub asks_for: Vec<String>,
}

/// Notes that the pile height of a machine was changed.
///
/// # Errors
/// When it is not 1 to 150 mm, the moment lies in the future, or the machine is not clear.
pub fn set_pile_height(
    store: &mut impl Store,
    clock: &impl Clock,
    number: Option<u32>,
    tenths_mm: u32,
    at: Option<UtcMillis>,
) -> Result<PileHeightReport, RequestError> {
    let plan = machine_plan(store, number)?;
    if !PILE_TENTHS_MM.contains(&tenths_mm) {
        let given = format!("{}.{} mm", tenths_mm / 10, tenths_mm % 10);
        return Err(RequestError::OutOfRange { what: "the pile height", range: "1 to 150 mm", given });
    }
    let now = clock.now();
    let at = happened(at, now)?;
    let set = PileHeightSet { machine: plan.machine, tenths_mm, at };
    let entry = store.add_entry(now, &EntryBody::PileHeightSet(set))?;
    let asks = plan.tasks.iter().filter(|task| task.is_on && task.limits.after_pile_height);
    Ok(PileHeightReport {
        entry,
        machine: plan.machine,
        machine_name: plan.machine_name.clone(),
        pile_height_tenths_mm: tenths_mm,
        at_utc_ms: at,
        asks_for: asks.map(|task| task.task.clone()).collect(),
    })
}
