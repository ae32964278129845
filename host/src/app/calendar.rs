//! Due dates for the maker's calendar, each with a lasting name and a number that grows when the date changes.

use jiff::civil::Date;
use serde::Serialize;
use shared_types::{MachineTag, UtcMillis};

use super::care;
use super::ports::{Clock, Store};
use super::request::RequestError;
use crate::core::care::report::TaskReport;
use crate::core::entries::{CareTaskName, DuePublished, Entry, EntryBody};
use crate::core::forecast::NoDate;
use crate::core::sessions::day_as_text;
use crate::core::studio::Studio;

/// What goes into the calendar, and what does not.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CalendarReport {
    /// When this was worked out.
    pub as_of_utc_ms: UtcMillis,
    /// Tasks with a date, the most pressing first.
    pub items: Vec<CalendarItem>,
    /// Tasks without one.
    pub without_date: Vec<WithoutDate>,
}

/// A task with its date.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CalendarItem {
    /// Its lasting name in all calendars.
    pub uid: String,
    /// The machine's number.
    pub machine: MachineTag,
    /// Its name.
    pub machine_name: String,
    /// The task.
    pub task: String,
    /// What is done.
    pub what: String,
    /// What goes on the points.
    pub lubricant: Option<String>,
    /// The day on which it falls due, or fell due.
    #[serde(serialize_with = "as_text")]
    pub due_on: Date,
    /// The first day of its range when that date was first told.
    #[serde(serialize_with = "day_as_text")]
    pub earliest: Option<Date>,
    /// The last day of its range when that date was first told.
    #[serde(serialize_with = "day_as_text")]
    pub latest: Option<Date>,
    /// How many other dates were told before.
    pub sequence: u32,
    /// When this date was first told.
    pub revised_at_utc_ms: UtcMillis,
}

/// A task without a date.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct WithoutDate {
    /// The machine's number.
    pub machine: MachineTag,
    /// Its name.
    pub machine_name: String,
    /// The task.
    pub task: String,
    /// Why.
    pub because: NoDate,
    /// Whole weeks of running so far.
    pub whole_weeks: usize,
    /// Whole weeks without which there is no date.
    pub least_whole_weeks: usize,
}

/// Works out what the calendar should show and notes every date that is new or another one than before.
///
/// # Errors
/// When there is no such machine, or the database cannot be read or does not take the note.
pub fn calendar(
    store: &mut impl Store,
    clock: &impl Clock,
    machine: Option<u32>,
) -> Result<CalendarReport, RequestError> {
    let due = care::due(store, clock, machine)?;
    let entries = store.entries()?;
    let studio = Studio::of(&entries);
    let (mut items, mut without_date) = (Vec::new(), Vec::new());
    for task in &due.tasks {
        let last = last_published(&entries, task);
        let Some(wanted) = wanted(task, last) else {
            without_date.push(WithoutDate {
                machine: task.machine,
                machine_name: task.machine_name.clone(),
                task: task.task.clone(),
                because: task.forecast.no_date_because.unwrap_or(NoDate::TooFar),
                whole_weeks: task.forecast.whole_weeks,
                least_whole_weeks: task.forecast.least_whole_weeks,
            });
            continue;
        };
        let (told, told_at) = match last {
            Some((told, at)) if told.due_on == wanted.due_on => (told.clone(), at),
            _ => {
                store.add_entry(due.as_of_utc_ms, &EntryBody::DuePublished(wanted.clone()))?;
                (wanted, due.as_of_utc_ms)
            }
        };
        let since = studio.machine(task.machine).map_or(0, |card| card.since.0);
        items.push(CalendarItem {
            uid: uid(task, since),
            machine: task.machine,
            machine_name: task.machine_name.clone(),
            task: task.task.clone(),
            what: task.what.clone(),
            lubricant: task.lubricant.clone(),
            due_on: told.due_on,
            earliest: told.earliest,
            latest: told.latest,
            sequence: told.sequence,
            revised_at_utc_ms: told_at,
        });
    }
    Ok(CalendarReport { as_of_utc_ms: due.as_of_utc_ms, items, without_date })
}

/// The date that the calendar should show. What is due already stays on the day that was told, if that has come; it must not
/// move on with every day on which nothing is done.
fn wanted(task: &TaskReport, last: Option<(&DuePublished, UtcMillis)>) -> Option<DuePublished> {
    let forecast = &task.forecast;
    let told = last.map(|(told, _)| told);
    let (due_on, earliest, latest) = match forecast.no_date_because {
        None => (forecast.middle?, forecast.earliest, forecast.latest),
        Some(NoDate::DueNow) => {
            let today = forecast.today?;
            match told {
                Some(told) if told.due_on <= today => (told.due_on, told.earliest, told.latest),
                _ => (today, None, None),
            }
        }
        Some(NoDate::NotNow | NoDate::TooFewWeeks | NoDate::TooFar) => return None,
    };
    Some(DuePublished {
        machine: task.machine,
        task: CareTaskName(task.task.clone()),
        due_on,
        earliest,
        latest,
        sequence: told.map_or(0, |told| told.sequence.saturating_add(1)),
    })
}

fn last_published<'a>(entries: &'a [Entry], task: &TaskReport) -> Option<(&'a DuePublished, UtcMillis)> {
    entries.iter().rev().find_map(|entry| match &entry.body {
        EntryBody::DuePublished(told) if told.machine == task.machine && told.task.0 == task.task => {
            Some((told, entry.entered_at))
        }
        _ => None,
    })
}

/// The same for a machine and a task for ever; the moment at which the machine joined keeps two studios apart.
fn uid(task: &TaskReport, machine_since_utc_ms: i64) -> String {
    format!("care-{}-{}-{machine_since_utc_ms}@needlehours", task.machine.0, task.task)
}

fn as_text<S: serde::Serializer>(day: &Date, out: S) -> Result<S::Ok, S::Error> {
    out.collect_str(day)
}
