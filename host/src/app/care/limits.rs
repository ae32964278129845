//! Care: what is due, what was done, and the maker's own limits.

use serde::Serialize;
use shared_types::link::LoggerStatus;
use shared_types::log::Limits;
use shared_types::{MachineTag, RunMillis};

use super::error::CareError;
use crate::app::ports::{Clock, Store, StoreError};
use crate::app::typed::choose_machine::{machine, machines};
use crate::app::typed::error::RequestError;
use crate::app::whole_book::Book;
use host_core::care::done::CareNotes;
use host_core::care::plan::{Task, TaskLimits};
use host_core::care::{DueReport, due_report, dues, lamp_limits};
use host_core::entries::{CareLimitSet, EntryBody, EntryId, MoreLimits};
use host_core::heavy::speed::ceiling_said;
use host_core::records::knob;
use host_core::sessions::ledger::Ledger;
use host_core::stats::{self, HOUR_MS, number};
use host_core::studio::{MachineCard, nearest_names};

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

/// How one task stands, by the name that was typed, on one machine or on all that have it.
///
/// # Errors
/// When no machine has such a task, there is no such machine, or the database cannot be read.
pub fn due_of_task(
    store: &impl Store,
    clock: &impl Clock,
    number: Option<u32>,
    task: &str,
) -> Result<DueReport, RequestError> {
    let report = due(store, clock, number)?;
    let mut names: Vec<&str> = report.tasks.iter().map(|line| line.task.as_str()).collect();
    names.extend(report.switched_off.iter().map(|off| off.task.as_str()));
    names.sort_unstable();
    names.dedup();
    let Some(name) = task_name(task, &names).map(str::to_owned) else {
        return Err(unknown_task(task, &names));
    };
    Ok(report.of_task(&name))
}

/// The lamp's limits for a logger that sits on a machine, counted from its lifetime totals as it just told them, with the
/// ceiling that the maker accepted; while nothing was said of one, the logger's own stays as it is. None for a machine that was never entered. Made for [`crate::app::logger::PullWish::lamp_limits`].
///
/// # Errors
/// When the database cannot be read.
pub fn lamp(
    store: &(impl Store + ?Sized),
    clock: &(impl Clock + ?Sized),
    status: &LoggerStatus,
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
        None => status.settings.limits.ceiling,
    };
    Ok(Some(Limits { ceiling, ..lamp_limits(&dues, status.totals) }))
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
    /// Its name.
    pub machine_name: String,
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
) -> Result<LimitReport, CareError> {
    let book = Book::read(store)?;
    let ledger = book.ledger();
    let card = machine(&book.studio, said.machine)?;
    let notes = CareNotes::of(&book.entries, &book.studio, &ledger, card.tag);
    let task = task_of(&notes, card, &said.task)?;
    if said.every_hours.is_none() && said.every_days.is_none() && said.more == MoreLimits::default() {
        return Err(CareError::NoLimit(task.name.to_owned()));
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
    let (machine, machine_name) = (card.tag, card.name.clone());
    Ok(LimitReport { entry, machine, machine_name, task: task.name.to_owned(), limits })
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
pub(super) fn run_limit(task: &Task<'_>, hours: f64) -> Result<RunMillis, CareError> {
    let (low, high) = task.run_time_range_ms;
    let (low_hours, high_hours) = (stats::hours(low), stats::hours(high));
    let is_off = hours == 0.0;
    if !is_off && !(low_hours..=high_hours).contains(&hours) {
        return Err(CareError::LimitOutOfRange {
            task: task.name.to_owned(),
            asked_hours: hours,
            low_hours,
            high_hours,
        });
    }
    Ok(RunMillis((hours * number(HOUR_MS)).round() as u64))
}

/// A task of a machine by the name that the maker typed, or the beginning of one of its words where no other task has it; one
/// that is switched off too.
///
/// # Errors
/// When the machine has no such task, or several; names those like it.
pub(super) fn task_of<'a>(
    notes: &CareNotes<'a>,
    card: &MachineCard,
    name: &str,
) -> Result<Task<'a>, RequestError> {
    let tasks = notes.tasks(card);
    let names: Vec<&str> = tasks.iter().map(|task| task.name).collect();
    let found = task_name(name, &names).and_then(|found| tasks.iter().find(|task| task.name == found));
    found.copied().ok_or_else(|| unknown_task(name, &names))
}

fn unknown_task(name: &str, names: &[&str]) -> RequestError {
    RequestError::UnknownTask {
        name: name.to_owned(),
        nearest: nearest_names(name, names),
        known: names.iter().map(|&name| name.to_owned()).collect(),
    }
}

/// The tasks of a machine that were meant, each once, in the order of the plan: cleaning comes before oil.
///
/// # Errors
/// When there is no such machine or task, or the database cannot be read.
pub fn tasks_named(
    store: &impl Store,
    number: Option<u32>,
    typed: &[String],
) -> Result<Vec<String>, RequestError> {
    let book = Book::read(store)?;
    let card = machine(&book.studio, number)?;
    let notes = CareNotes::of(&book.entries, &book.studio, &Ledger { logs: Vec::new() }, card.tag);
    let named = typed.iter().map(|typed| task_of(&notes, card, typed).map(|task| task.name));
    let named: Vec<&str> = named.collect::<Result<_, _>>()?;
    let in_order = notes.tasks(card).into_iter().map(|task| task.name).filter(|name| named.contains(name));
    Ok(in_order.map(str::to_owned).collect())
}

/// The name that was meant: as it is, else the only one that begins so, else the only one with a word that begins so.
fn task_name<'a>(typed: &str, names: &[&'a str]) -> Option<&'a str> {
    let typed = typed.trim().to_lowercase();
    let begins = |text: &str| !typed.is_empty() && text.to_lowercase().starts_with(&typed);
    let only = |is_meant: &dyn Fn(&str) -> bool| {
        let mut meant = names.iter().copied().filter(|name| is_meant(name));
        meant.next().filter(|_| meant.next().is_none())
    };
    let exact = names.iter().copied().find(|name| name.to_lowercase() == typed);
    exact.or_else(|| only(&begins)).or_else(|| only(&|name| name.split(['-', ' ']).any(begins)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use host_core::care::tasks::PLAN;

    #[test]
    fn a_task_is_understood_by_the_beginning_of_its_name_or_of_a_word_of_it_where_only_one_has_it() {
        let names: Vec<&str> = PLAN.iter().map(|task| task.name).collect();
        for (typed, meant) in [
            ("oil", Some("oiling")),
            ("OILING ", Some("oiling")),
            ("brush", Some("brush-out")),
            ("brushes", Some("carbon-brushes")),
            ("screw", Some("screws")),
            ("needle", Some("needle")),
            ("scissors", Some("scissors")),
            ("sharpen", Some("scissors-sharpen")),
            ("grease", Some("gear-grease")),
            ("tension", Some("re-tension")),
            ("s", None),
            ("scis", None),
            ("air", None),
            ("water", Some("air-water")),
            ("oiler", Some("air-oiler")),
            ("", None),
            ("-", None),
            ("oilings", None),
        ] {
            assert_eq!(task_name(typed, &names), meant, "{typed}");
        }
    }
}
