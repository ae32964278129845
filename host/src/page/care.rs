//! Care: what is due, what was done, what is proposed, and the plan.

use askama::Template;

use super::answers::written;
use super::desk::{PageClock, Room};
use super::error::Refused;
use super::forms::Said;
use super::frame::{Asked, Frame};
use super::sentences::sentences;
use crate::app::book::take_back;
use crate::app::care::done::DoneSaid;
use crate::app::care::limits::{LimitSaid, due, set_limit, tasks_named};
use crate::app::care::part_care::{CareSaid, note_all};
use crate::app::care::record::care_record;
use crate::app::care::snooze::{SnoozeSaid, snooze};
use crate::app::care::{done, plan};
use crate::app::parts::interval;
use crate::app::ports::Clock as _;
use crate::store::Database;
use crate::view::care::{record, so_far, standing};
use crate::view::parts::interval as proposals;
use crate::view::words::sheet::Section;
use crate::view::words::{all_of, capital, clock, html_of, moment};
use host_core::cloth::HarmId;
use host_core::entries::{EntryId, MoreLimits};
use host_core::records::when::When;

/// So much of the history is shown, the newest first.
const SHOWN: usize = 40;

/// A task as it stands.
#[derive(Debug)]
struct TaskLine {
    machine: u32,
    machine_name: String,
    task: String,
    standing: String,
    words: String,
    is_asked_for: bool,
}

/// A change that the findings propose.
#[derive(Debug)]
struct Proposal {
    machine: u32,
    task: &'static str,
    words: String,
    hours: f64,
    sessions: Option<u32>,
}

/// A press of which it is not known what was done.
#[derive(Debug)]
struct Press {
    machine: u32,
    when: String,
    at_ms: i64,
}

/// An entry of the history.
#[derive(Debug)]
struct Past {
    entry: i64,
    when: String,
    words: String,
    counts: bool,
    because: String,
}

#[derive(Template)]
#[template(path = "page/care.html")]
struct CarePage {
    frame: Frame,
    several: bool,
    tasks: Vec<TaskLine>,
    presses: Vec<Press>,
    proposals: Vec<Proposal>,
    cautions: Vec<&'static str>,
    history: Vec<Past>,
    older: usize,
    plans: String,
}

/// The page.
///
/// # Errors
/// When the database cannot be read, or there is no such machine.
pub fn care(room: &mut Room, asked: &Asked) -> Result<String, Refused> {
    let (machine, zone) = (asked.said.machine()?, room.clock.zone());
    let report = room.held(format!("due {machine:?}"), |store, clock| due(store, clock, machine))?;
    let tasks = report.tasks.iter().map(|task| TaskLine {
        machine: task.machine.0,
        machine_name: task.machine_name.clone(),
        task: task.task.clone(),
        standing: capital(standing(task)),
        words: so_far(task),
        is_asked_for: task.is_asked_for() || task.is_for_the_evening(),
    });
    let presses = report.questions.iter().filter_map(|question| match question.press.when {
        When::Dated(at) => {
            Some(Press { machine: question.machine.0, when: moment(question.press.when, &zone), at_ms: at.0 })
        }
        _ => None,
    });
    let record =
        room.held(format!("care record {machine:?}"), |store, _| care_record(store, machine, None))?;
    let past = &record.entries;
    let older = past.len().saturating_sub(SHOWN);
    let history = past.iter().rev().take(SHOWN).map(|line| Past {
        entry: line.entry.0,
        when: clock(line.at_utc_ms, &zone),
        words: capital(&record::said(line, &zone)),
        counts: line.counts,
        because: line.taken_back_because.clone().unwrap_or_default(),
    });
    let plans = report.machines.iter().map(|line| {
        let number = Some(line.machine.0);
        let plan = room.held(format!("plan {number:?}"), |store, _| plan::machine_plan(store, number))?;
        Ok(Section::new("", sentences(&record::plan(&plan))))
    });
    let page = CarePage {
        frame: Frame::new("Care", "/care", asked, room)?,
        several: report.machines.len() > 1,
        presses: presses.collect(),
        proposals: if report.machines.is_empty() { Vec::new() } else { proposed(room, machine)? },
        cautions: report.cautions.clone(),
        history: history.collect(),
        older,
        plans: html_of(&plans.collect::<Result<Vec<_>, Refused>>()?),
        tasks: tasks.collect(),
    };
    written(&page)
}

fn proposed(room: &Room, machine: Option<u32>) -> Result<Vec<Proposal>, Refused> {
    let report = room.held(format!("interval {machine:?}"), |store, clock| {
        interval::of_log(store, clock, machine, None)
    })?;
    let proposals = report.tasks.iter().filter_map(|task| {
        let hours = task.proposed_hours?;
        Some(Proposal {
            machine: task.machine.0,
            task: task.task,
            words: proposals::proposed(task)?,
            hours,
            sessions: task.limits.sessions,
        })
    });
    Ok(proposals.collect())
}

/// Accepts what was proposed.
///
/// # Errors
/// When it is proposed no more, or the database does not take it.
pub fn accept(store: &mut Database, clock: &PageClock, said: &Said) -> Result<String, Refused> {
    let (task, machine) = (said.needed("task", "the task")?, said.machine()?);
    let hours = said.whole::<f64>("hours")?;
    let report = interval::of_log(store, clock, machine, Some(task))?;
    let still =
        report.tasks.iter().any(|one| one.task == task && one.proposed_hours == hours && hours.is_some());
    if !still {
        return Err(Refused::new(
            "this is proposed no more",
            "Look at the page of care; something was noted meanwhile.",
        ));
    }
    let more = MoreLimits { every_sessions: said.whole("sessions")?, ..MoreLimits::default() };
    let limit =
        LimitSaid { task: task.to_owned(), machine, every_hours: hours, more, ..LimitSaid::default() };
    set_limit(store, clock, &limit)?;
    Ok(format!("the limit of {task} as proposed"))
}

/// Puts care off until tomorrow.
///
/// # Errors
/// When there is no such task, or the database does not take it.
pub fn later(store: &mut Database, clock: &PageClock, said: &Said) -> Result<String, Refused> {
    let task = said.needed("task", "the task")?.to_owned();
    let words = format!("{task} is put off until tomorrow");
    let reason = Some("later".to_owned());
    let later = SnoozeSaid { task, machine: said.machine()?, for_hours: None, for_days: Some(1), reason };
    snooze(store, clock, &later)?;
    Ok(words)
}

/// Says what was done when the care button was held.
///
/// # Errors
/// When there is no such task, or the database does not take it.
pub fn press(store: &mut Database, clock: &PageClock, said: &Said) -> Result<String, Refused> {
    let machine = said.machine()?;
    let typed: Vec<String> = said
        .all("task")
        .iter()
        .flat_map(|text| text.split([' ', ',']))
        .filter(|word| !word.is_empty())
        .map(str::to_owned)
        .collect();
    if typed.is_empty() {
        return Err(Refused::new("what was done is missing", "Name a task, for example oil."));
    }
    let at = said.whole::<i64>("at")?.map(shared_types::UtcMillis);
    let tasks = tasks_named(store, machine, &typed)?;
    let care =
        |task: &String| CareSaid::Done(DoneSaid { task: task.clone(), machine, at, ..DoneSaid::default() });
    note_all(store, clock, &tasks.iter().map(care).collect::<Vec<_>>())?;
    Ok(format!("{} done", all_of(&tasks)))
}

/// Takes an entry back.
///
/// # Errors
/// When it was taken back before, cannot be taken back alone, or the database does not take it.
pub fn back(store: &mut Database, clock: &PageClock, said: &Said) -> Result<String, Refused> {
    let entry = said.whole::<i64>("entry")?.map(EntryId);
    let entry = entry.ok_or_else(|| Refused::new("the entry is missing", "Go back and tap again."))?;
    take_back::take_back(store, clock, &[HarmId::Entry(entry)], said.get("because").unwrap_or_default())?;
    Ok(format!("entry {} is taken back; it stays visible and counts no more", entry.0))
}

/// Notes care without its steps.
///
/// # Errors
/// When there is no such task, or the database does not take it.
pub fn noted(store: &mut Database, clock: &PageClock, said: &Said) -> Result<String, Refused> {
    let task = said.needed("task", "the task")?.to_owned();
    let report =
        done::done(store, clock, &DoneSaid { task, machine: said.machine()?, ..DoneSaid::default() })?;
    Ok(format!("{} done", report.task))
}
