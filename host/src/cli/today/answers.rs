//! What each key does.

use crate::app::care::done::{self, DoneSaid};
use crate::app::care::limits::{LimitSaid, set_limit, tasks_named};
use crate::app::care::part_care::{CareSaid, note_all};
use crate::app::care::snooze::{SnoozeSaid, snooze};
use crate::app::ports::book::Names;
use crate::app::ports::{Clock as _, Store};
use crate::app::sessions::{SessionSaid, stop};
use crate::app::today::{DayWorked, MachineToday, TodayReport, Whose, felt, say_whose};
use crate::cli::care;
use crate::cli::shell::command_env::CommandEnv;
use crate::cli::shell::failure::Failure;
use crate::cli::shell::{ask, keys, show};
use crate::view;
use crate::view::today::Key;
use host_core::care::report::TaskReport;
use host_core::entries::harm_answers::Tension;
use host_core::stats;
use shared_types::UtcMillis;

/// What became of a key.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Answered {
    /// Something was kept; everything is looked at again.
    Kept,
    /// Nothing was changed.
    Nothing,
    /// The maker is done.
    Left,
}

/// Reads one key and does what it says. A key that is not offered does nothing.
///
/// # Errors
/// When the database cannot be read, or does not take it.
pub fn answer(
    report: &TodayReport,
    machine: &MachineToday,
    store: &mut (impl Store + Names),
    around: &CommandEnv,
) -> Result<Answered, Failure> {
    let Some(letter) = keys::pressed() else { return Ok(Answered::Left) };
    if letter == 'k' {
        show::words(&view::today::keys_in_words(machine))?;
        return Ok(Answered::Nothing);
    }
    let Some(key) = Key::of(letter).filter(|key| view::today::keys(machine).contains(key)) else {
        return Ok(Answered::Nothing);
    };
    // The answer may have taken its time.
    store.read_anew();
    match key {
        Key::End => end(machine, store, around),
        Key::Right => {
            right(machine.to_answer.iter().find(|day| day.rug.is_some()).into_iter(), store, around)
        }
        Key::AllRight => right(machine.to_answer.iter().filter(|day| day.rug.is_some()), store, around),
        Key::OtherRug => other_rug(machine, store, around),
        Key::Tear => tear(machine, store, around),
        Key::Press => press(machine, store, around),
        Key::EndOfDay => end_of_day(machine, store, around),
        Key::ByHours => by_hours(machine, store, around),
        Key::Steps => steps(machine, store, around),
        Key::Later => later(machine, store, around),
        Key::More => {
            show::words(&view::today::more(report, machine, &around.clock().zone()))?;
            Ok(Answered::Nothing)
        }
    }
}

fn end(
    machine: &MachineToday,
    store: &mut (impl Store + Names),
    around: &CommandEnv,
) -> Result<Answered, Failure> {
    let said = SessionSaid { machine: Some(machine.machine.0), ..SessionSaid::default() };
    match stop(store, around.clock(), &said, false) {
        Ok(report) => {
            show::words(&view::sessions::noted(&report, &around.clock().zone()))?;
            Ok(Answered::Kept)
        }
        Err(error) => refused(&Failure::from(error)),
    }
}

fn right<'a>(
    days: impl Iterator<Item = &'a DayWorked>,
    store: &mut impl Store,
    around: &CommandEnv,
) -> Result<Answered, Failure> {
    let days: Vec<DayWorked> = days.cloned().collect();
    say_whose(store, around.clock(), &days, &Whose::Right)?;
    show::words(&view::today::settled(days.len(), None))?;
    Ok(Answered::Kept)
}

/// A line with a name; Enter, or a name that nobody knows, changes nothing.
fn other_rug(
    machine: &MachineToday,
    store: &mut impl Store,
    around: &CommandEnv,
) -> Result<Answered, Failure> {
    let Some(day) = machine.to_answer.first() else { return Ok(Answered::Nothing) };
    let typed = line("Which rug? (care: a test run; Enter leaves it) ");
    let Some(name) = typed.filter(|name| !name.is_empty()) else { return Ok(Answered::Nothing) };
    let whose = if name.eq_ignore_ascii_case("care") { Whose::Care } else { Whose::Rug(name.clone()) };
    store.read_anew();
    match say_whose(store, around.clock(), std::slice::from_ref(day), &whose) {
        Ok(_) => {
            show::words(&view::today::settled(1, Some(&name)))?;
            Ok(Answered::Kept)
        }
        Err(error) => refused(&Failure::from(error)),
    }
}

fn tear(machine: &MachineToday, store: &mut impl Store, around: &CommandEnv) -> Result<Answered, Failure> {
    let Some(tear) = machine.tears.first() else { return Ok(Answered::Nothing) };
    show::words("Unplug before you mend. The cloth was: s slack, r right, h hard; Enter not known")?;
    let tension = match keys::pressed() {
        Some('s') => Tension::Slack,
        Some('r') => Tension::Right,
        Some('h') => Tension::Hard,
        _ => return Ok(Answered::Nothing),
    };
    store.read_anew();
    felt(store, around.clock(), tear, tension)?;
    show::words("Noted with the tear.")?;
    Ok(Answered::Kept)
}

fn press(machine: &MachineToday, store: &mut impl Store, around: &CommandEnv) -> Result<Answered, Failure> {
    let Some(question) = machine.care.presses.first() else { return Ok(Answered::Nothing) };
    let Some(at) = question.press.when.earliest() else { return Ok(Answered::Nothing) };
    let typed = line("What was done? For example: brush oil (Enter leaves it) ").unwrap_or_default();
    let typed: Vec<String> =
        typed.split([' ', ',']).filter(|word| !word.is_empty()).map(str::to_owned).collect();
    if typed.is_empty() {
        return Ok(Answered::Nothing);
    }
    store.read_anew();
    let tasks = match tasks_named(store, Some(machine.machine.0), &typed) {
        Ok(tasks) => tasks,
        Err(error) => return refused(&Failure::from(error)),
    };
    note(tasks, Some(at), machine, store, around)
}

fn end_of_day(
    machine: &MachineToday,
    store: &mut impl Store,
    around: &CommandEnv,
) -> Result<Answered, Failure> {
    let tasks = machine.care.end_of_day.iter().map(|task| task.task.clone()).collect();
    note(tasks, None, machine, store, around)
}

/// Notes tasks in one act.
fn note(
    tasks: Vec<String>,
    at: Option<UtcMillis>,
    machine: &MachineToday,
    store: &mut impl Store,
    around: &CommandEnv,
) -> Result<Answered, Failure> {
    let said =
        |task| CareSaid::Done(DoneSaid { task, machine: Some(machine.machine.0), at, ..DoneSaid::default() });
    let said: Vec<CareSaid> = tasks.iter().cloned().map(said).collect();
    note_all(store, around.clock(), &said)?;
    show::words(&format!("Noted: {}.", view::words::all_of(&tasks)))?;
    Ok(Answered::Kept)
}

/// Asks for end-of-day care by its hours of running alone, as its plan has them.
fn by_hours(
    machine: &MachineToday,
    store: &mut impl Store,
    around: &CommandEnv,
) -> Result<Answered, Failure> {
    let left_out = machine.care.often_left_out.first();
    let task = machine.care.end_of_day.iter().find(|task| Some(&task.task) == left_out);
    let Some((task, run_ms)) = task.and_then(|task| Some((task, task.limits.run_time_ms?))) else {
        return Ok(Answered::Nothing);
    };
    let limit = LimitSaid {
        task: task.task.clone(),
        machine: Some(machine.machine.0),
        every_hours: Some(stats::hours(run_ms)),
        ..LimitSaid::default()
    };
    let report = set_limit(store, around.clock(), &limit)?;
    show::words(&view::care::done::limit(&report))?;
    Ok(Answered::Kept)
}

fn later(machine: &MachineToday, store: &mut impl Store, around: &CommandEnv) -> Result<Answered, Failure> {
    let Some(task) = machine.care.due.first() else { return Ok(Answered::Nothing) };
    let said = SnoozeSaid {
        task: task.task.clone(),
        machine: Some(machine.machine.0),
        for_hours: None,
        for_days: Some(1),
        reason: Some("later".to_owned()),
    };
    snooze(store, around.clock(), &said)?;
    show::words(&format!("Put off until tomorrow: {}.", task.task))?;
    Ok(Answered::Kept)
}

/// Leads through the steps of the most pressing care, and notes it at their end.
fn steps(machine: &MachineToday, store: &mut impl Store, around: &CommandEnv) -> Result<Answered, Failure> {
    let Some(task) = machine.care.due.first() else { return Ok(Answered::Nothing) };
    let Some(said) = walked(task, machine, store, around)? else {
        show::words("Stopped; nothing was noted.")?;
        return Ok(Answered::Nothing);
    };
    store.read_anew();
    let report = done::done(store, around.clock(), &said)?;
    show::words(&view::care::done::done(&report, &around.clock().zone(), true))?;
    Ok(Answered::Kept)
}

fn walked(
    task: &TaskReport,
    machine: &MachineToday,
    store: &impl Store,
    around: &CommandEnv,
) -> Result<Option<DoneSaid>, Failure> {
    let number = Some(machine.machine.0);
    let said = DoneSaid { task: task.task.clone(), machine: number, ..DoneSaid::default() };
    let steps = done::steps_of(store, number, &task.task)?;
    let mut answers = std::io::stdin().lock();
    Ok(care::walked(&steps, said, around.clock(), &mut answers, &mut std::io::stdout()))
}

fn line(question: &str) -> Option<String> {
    ask::line(&mut std::io::stdin().lock(), &mut std::io::stdout(), question)
}

/// Tells why an answer was not taken, and goes on.
fn refused(failure: &Failure) -> Result<Answered, Failure> {
    show::words(&format!("Not taken: {failure}."))?;
    Ok(Answered::Nothing)
}
