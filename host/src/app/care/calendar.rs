//! Due dates for the maker's calendar, each with a lasting name and a number that grows when the date changes. A date that was
//! told and holds no more is cancelled under the same name.

use jiff::civil::Date;
use jiff::tz::TimeZone;
use jiff::{Span, Timestamp};
use serde::Serialize;
use shared_types::{MachineTag, UtcMillis};

use super::limits;
use crate::app::ports::{Clock, Store};
use crate::app::typed::error::RequestError;
use host_core::care::DueReport;
use host_core::care::forecast::NoDate;
use host_core::care::forecast::due_day::{DueDay, due_day};
use host_core::care::report::TaskReport;
use host_core::care::schedule::DueState;
use host_core::entries::{CareTaskName, Drive, DuePublished, EntryBody, InForce, day_as_text};
use host_core::stats::DAY_MS;
use host_core::studio::Studio;

/// For so long every file says that a date was taken out, so that a file that was never read into the calendar does no harm.
const CANCELLED_FOR_MS: u64 = 30 * DAY_MS;
/// A forecast that moves by so many days for no other reason than that a day went by stays where it was told.
const STAYS_WITHIN_DAYS: i32 = 1;

/// What goes into the calendar, and what does not.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CalendarReport {
    /// When this was worked out.
    pub as_of_utc_ms: UtcMillis,
    /// Tasks with a date, the most pressing first.
    pub items: Vec<CalendarItem>,
    /// Dates that were told and hold no more.
    pub cancelled: Vec<Cancelled>,
    /// Tasks without one.
    pub without_date: Vec<WithoutDate>,
    /// Machines whose dates rest on a short history.
    pub rough: Vec<RoughDates>,
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
    /// What moves the machine's needle, and so what must be off before.
    pub drive: Drive,
    /// The day on which it falls due, or fell due.
    #[serde(serialize_with = "as_text")]
    pub due_on: Date,
    /// The first day of its range when that date was first told.
    #[serde(serialize_with = "day_as_text")]
    pub earliest: Option<Date>,
    /// The last day of its range when that date was first told; without a first one a limit in days makes it due then.
    #[serde(serialize_with = "day_as_text")]
    pub latest: Option<Date>,
    /// Whether it is due now.
    pub is_due: bool,
    /// Whether the maker put it off until that day.
    pub is_put_off: bool,
    /// How many other dates were told before.
    pub sequence: u32,
    /// When this date was first told.
    pub revised_at_utc_ms: UtcMillis,
}

/// A date that was told and holds no more.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Cancelled {
    /// Its lasting name in all calendars.
    pub uid: String,
    /// The machine's number.
    pub machine: MachineTag,
    /// Its name.
    pub machine_name: String,
    /// The task.
    pub task: String,
    /// What moves the machine's needle.
    pub drive: Drive,
    /// The day that was told last.
    #[serde(serialize_with = "as_text")]
    pub due_on: Date,
    /// How often another date was told, or it was taken out.
    pub sequence: u32,
    /// When it was taken out.
    pub revised_at_utc_ms: UtcMillis,
}

/// A machine whose dates rest on a short history.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct RoughDates {
    /// The machine's number.
    pub machine: MachineTag,
    /// Its name.
    pub machine_name: String,
    /// Whole weeks of running so far.
    pub whole_weeks: usize,
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

/// A calendar whose dates are not noted yet.
#[derive(Clone, Debug)]
pub struct CalendarPlan {
    /// What goes into the calendar.
    pub report: CalendarReport,
    /// Every date that is new or another one than before, or holds no more.
    published: Vec<EntryBody>,
}

impl CalendarPlan {
    /// Notes its dates.
    ///
    /// # Errors
    /// When the database does not take the note.
    pub fn note(self, store: &mut impl Store) -> Result<CalendarReport, RequestError> {
        store.add_entries(self.report.as_of_utc_ms, &self.published)?;
        Ok(self.report)
    }
}

/// Works out what the calendar should show and notes its dates.
///
/// # Errors
/// As [`plan`], and when the database does not take the note.
pub fn calendar(
    store: &mut impl Store,
    clock: &impl Clock,
    machine: Option<u32>,
) -> Result<CalendarReport, RequestError> {
    plan(store, clock, machine)?.note(store)
}

/// Works out what the calendar should show. Whoever shows it notes its dates first: a number that was shown and is not noted
/// would be given to another date later, which a calendar that knows the first then refuses. A number that is noted and was
/// never shown does no harm.
///
/// # Errors
/// When there is no such machine, or the database cannot be read.
pub fn plan(
    store: &impl Store,
    clock: &impl Clock,
    machine: Option<u32>,
) -> Result<CalendarPlan, RequestError> {
    let due = limits::due(store, clock, machine)?;
    let entries = store.entries()?;
    let studio = Studio::of(&entries);
    let since = |tag: MachineTag| studio.machine(tag).map_or(0, |card| card.since.0);
    let (mut items, mut without_date, mut published) = (Vec::new(), Vec::new(), Vec::new());
    for task in &due.tasks {
        let last = last_published(&entries, task.machine, &task.task);
        let Some(wanted) = wanted(task, last, &clock.zone()) else {
            without_date.push(without(task));
            continue;
        };
        let (told, told_at) = match last {
            Some((told, at)) if !told.cancelled && told.due_on == wanted.due_on => (told.clone(), at),
            _ => {
                published.push(EntryBody::DuePublished(wanted.clone()));
                (wanted, due.as_of_utc_ms)
            }
        };
        items.push(CalendarItem {
            uid: uid(task.machine, &task.task, since(task.machine)),
            machine: task.machine,
            machine_name: task.machine_name.clone(),
            task: task.task.clone(),
            what: task.what.clone(),
            lubricant: task.lubricant.clone(),
            drive: studio.machine(task.machine).map(|card| card.drive).unwrap_or_default(),
            due_on: told.due_on,
            earliest: told.earliest,
            latest: told.latest,
            is_due: task.state >= DueState::Due,
            is_put_off: task.state == DueState::Snoozed,
            sequence: told.sequence,
            revised_at_utc_ms: told_at,
        });
    }
    let mut cancelled = Vec::new();
    for (told, at) in no_more(&entries, &due, &items) {
        let (told, at) = if told.cancelled {
            (told.clone(), at)
        } else {
            let gone =
                DuePublished { sequence: told.sequence.saturating_add(1), cancelled: true, ..told.clone() };
            published.push(EntryBody::DuePublished(gone.clone()));
            (gone, due.as_of_utc_ms)
        };
        let named = studio.machine(told.machine);
        cancelled.push(Cancelled {
            uid: uid(told.machine, &told.task.0, since(told.machine)),
            machine: told.machine,
            machine_name: named.map(|card| card.name.clone()).unwrap_or_default(),
            task: told.task.0,
            drive: named.map(|card| card.drive).unwrap_or_default(),
            due_on: told.due_on,
            sequence: told.sequence,
            revised_at_utc_ms: at,
        });
    }
    let rough = rough(&due);
    let report = CalendarReport { as_of_utc_ms: due.as_of_utc_ms, items, cancelled, without_date, rough };
    Ok(CalendarPlan { report, published })
}

fn rough(due: &DueReport) -> Vec<RoughDates> {
    let rough = due.machines.iter().filter_map(|line| {
        let is_rough = |task: &&TaskReport| task.machine == line.machine && task.forecast.is_rough();
        due.tasks.iter().find(is_rough).map(|task| RoughDates {
            machine: line.machine,
            machine_name: line.machine_name.clone(),
            whole_weeks: task.forecast.whole_weeks,
        })
    });
    rough.collect()
}

fn without(task: &TaskReport) -> WithoutDate {
    WithoutDate {
        machine: task.machine,
        machine_name: task.machine_name.clone(),
        task: task.task.clone(),
        because: task.forecast.no_date_because.unwrap_or(NoDate::TooFar),
        whole_weeks: task.forecast.whole_weeks,
        least_whole_weeks: task.forecast.least_whole_weeks,
    }
}

/// The date that the calendar should show. What is due already stays on the day that was told, if that has come; it must not
/// move on with every day on which nothing is done.
fn wanted(
    task: &TaskReport,
    last: Option<(&DuePublished, UtcMillis)>,
    zone: &TimeZone,
) -> Option<DuePublished> {
    let forecast = &task.forecast;
    // What was told before the task was done, or before another cloth came on, belongs to what is past.
    let told = last.filter(|(told, at)| !told.cancelled && !was_done_since(task, *at)).map(|(told, _)| told);
    let (due_on, earliest, latest) = match forecast.no_date_because {
        Some(NoDate::DueNow) => {
            let today = forecast.today?;
            match told {
                Some(told) if told.due_on <= today => (told.due_on, told.earliest, told.latest),
                _ => (today, None, None),
            }
        }
        Some(NoDate::EndOfDay) => return None,
        Some(NoDate::NotNow) => (put_off_until(task, zone)?, None, None),
        None | Some(NoDate::TooFewWeeks | NoDate::TooFar) => {
            let new = due_day(forecast)?;
            match last {
                Some((told, at)) if stays(told, at, &new, task) => (told.due_on, told.earliest, told.latest),
                _ => (new.on, new.earliest, new.latest),
            }
        }
    };
    Some(DuePublished {
        machine: task.machine,
        task: CareTaskName(task.task.clone()),
        due_on,
        earliest,
        latest,
        sequence: last.map_or(0, |(told, _)| told.sequence.saturating_add(1)),
        cancelled: false,
    })
}

/// Whether a forecast that was told stays, though another one is a day away: no care was given since, and the day that was
/// told is still to come and likely. What a limit in days fixes never stays.
fn stays(told: &DuePublished, at: UtcMillis, new: &DueDay, task: &TaskReport) -> bool {
    let (Some(earliest), Some(today)) = (new.earliest, task.forecast.today) else { return false };
    let is_forecast = new.latest != Some(earliest) && told.earliest.is_some();
    let is_likely = earliest <= told.due_on && new.latest.is_none_or(|latest| told.due_on <= latest);
    let moved = told.due_on.until(new.on).map_or(i32::MAX, |span: Span| span.get_days().abs());
    !told.cancelled
        && is_forecast
        && is_likely
        && told.due_on >= today
        && moved <= STAYS_WITHIN_DAYS
        && !was_done_since(task, at)
}

fn was_done_since(task: &TaskReport, at: UtcMillis) -> bool {
    task.last_done.and_then(|when| when.latest()).is_some_and(|done| done > at)
}

/// The local day until which the maker put a task off, where a date was said.
fn put_off_until(task: &TaskReport, zone: &TimeZone) -> Option<Date> {
    let until = task.besides.snoozed.as_ref().filter(|_| task.state == DueState::Snoozed)?.until_utc_ms?;
    Some(Timestamp::from_millisecond(until.0).ok()?.to_zoned_datetime(zone.clone()).date())
}

fn last_published<'a>(
    entries: &'a InForce<'a>,
    machine: MachineTag,
    task: &str,
) -> Option<(&'a DuePublished, UtcMillis)> {
    entries.iter().rev().find_map(|entry| match &entry.body {
        EntryBody::DuePublished(told) if told.machine == machine && told.task.0 == task => {
            Some((told, entry.entered_at))
        }
        _ => None,
    })
}

/// What was told last of tasks of these machines that have no date now; what was taken out long ago is not told again.
fn no_more<'a>(
    entries: &'a InForce<'a>,
    due: &DueReport,
    items: &[CalendarItem],
) -> Vec<(&'a DuePublished, UtcMillis)> {
    let mut last: Vec<(&DuePublished, UtcMillis)> = Vec::new();
    for entry in entries.iter() {
        if let EntryBody::DuePublished(told) = &entry.body {
            last.retain(|(before, _)| (before.machine, &before.task) != (told.machine, &told.task));
            last.push((told, entry.entered_at));
        }
    }
    let has_date = |told: &DuePublished| {
        items.iter().any(|item| item.machine == told.machine && item.task == told.task.0)
    };
    let asked = due.machines.iter().map(|line| line.machine);
    // A machine out of use has no dates, so what was told of it is taken out.
    let asked: Vec<MachineTag> = asked.chain(due.resting.iter().map(|line| line.machine)).collect();
    let is_asked = |told: &DuePublished| asked.contains(&told.machine);
    let is_fresh = |at: UtcMillis| due.as_of_utc_ms.0.abs_diff(at.0) <= CANCELLED_FOR_MS;
    last.retain(|(told, at)| is_asked(told) && !has_date(told) && (!told.cancelled || is_fresh(*at)));
    last
}

/// The same for a machine and a task for ever; the moment at which the machine joined keeps two studios apart.
fn uid(machine: MachineTag, task: &str, machine_since_utc_ms: i64) -> String {
    format!("care-{}-{task}-{machine_since_utc_ms}@needlehours", machine.0)
}

fn as_text<S: serde::Serializer>(day: &Date, out: S) -> Result<S::Ok, S::Error> {
    out.collect_str(day)
}
