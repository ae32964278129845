//! What `due` shows: every task as it stands, and what the maker is still to be asked.

use std::cmp::Reverse;

use jiff::tz::TimeZone;
use serde::Serialize;
use shared_types::{MachineTag, UtcMillis};

use super::done::{CareNotes, Evidence, OpenQuestion};
use super::forecast::{DueForecast, Outlook};
use super::grounds::Grounds;
use super::history::History;
use super::plan::{BelongsTo, START_VALUES, Source, TaskLimits, cautions, short_caution};
use super::report_besides::{TaskBesides, besides, told};
use super::schedule::{Due, DueState, LimitKind, PlannedTask, schedule};
use super::since::SinceDone;
use super::stock::{self, StockLine};
use crate::entries::{Drive, Finding};
use crate::records::when::When;
use crate::stats::{self, DAY_MS};
use crate::studio::{MachineCard, Rest};

/// How the care of the machines stands.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct DueReport {
    /// When this was worked out.
    pub as_of_utc_ms: UtcMillis,
    /// Whether any task is due now, or to be looked at first.
    pub is_anything_due: bool,
    /// The most pressing first, whichever machine it is of.
    pub tasks: Vec<TaskReport>,
    /// The machines in use.
    pub machines: Vec<MachineLine>,
    /// Machines out of use, whose care is not asked for.
    pub resting: Vec<RestingLine>,
    /// Care presses of which it is not known what was done.
    pub questions: Vec<Question>,
    /// Tasks that the maker switched off.
    pub switched_off: Vec<SwitchedOff>,
    /// Spares and supplies of which more is to be bought.
    pub to_buy: Vec<StockLine>,
    /// What to mind before any care.
    pub cautions: Vec<&'static str>,
    /// The same in one line.
    pub short_caution: &'static str,
    /// Where the start values come from.
    pub start_values: &'static str,
}

impl DueReport {
    /// The same of one task alone.
    #[must_use]
    pub fn of_task(mut self, name: &str) -> Self {
        self.tasks.retain(|task| task.task == name);
        self.switched_off.retain(|off| off.task == name);
        self.is_anything_due = self.tasks.iter().any(TaskReport::is_asked_for);
        self
    }
}

/// A machine whose care is told.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct MachineLine {
    /// Its number.
    pub machine: MachineTag,
    /// Its name.
    pub machine_name: String,
    /// Whether it has no logger board.
    pub is_without_logger: bool,
    /// The owner's estimate of what ran before any logger; in none of the numbers of its tasks.
    pub before_logger_run_time_ms: Option<u64>,
    /// Running that may be no work, of which the maker has said nothing yet; care counts it until then, in milliseconds.
    pub to_check_run_time_ms: u64,
}

/// A machine out of use.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct RestingLine {
    /// Its number.
    pub machine: MachineTag,
    /// Its name.
    pub machine_name: String,
    /// Since when and why.
    #[serde(flatten)]
    pub rest: Rest,
}

/// A task that the maker switched off.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SwitchedOff {
    /// The machine's number.
    pub machine: MachineTag,
    /// Its name.
    pub machine_name: String,
    /// The task.
    pub task: String,
}

/// A care press of which it is not known what was done.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Question {
    /// The machine's number.
    pub machine: MachineTag,
    /// Its name.
    pub machine_name: String,
    /// The press.
    #[serde(flatten)]
    pub press: OpenQuestion,
}

/// One task.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct TaskReport {
    /// The machine's number.
    pub machine: MachineTag,
    /// Its name.
    pub machine_name: String,
    /// Its name.
    pub task: String,
    /// What is done.
    pub what: String,
    /// How pressing it is.
    pub state: DueState,
    /// Whether it is to be looked at first: the machine came second-hand, and it was never done since, so that its numbers
    /// count from a beginning that nobody knows.
    pub age_unknown: bool,
    /// Of the machine, or of the cloth on the frame.
    pub belongs_to: BelongsTo,
    /// The limit that is reached first.
    pub decided_by: Option<LimitKind>,
    /// The share of that limit that is used up, per mille.
    pub used_per_mille: u64,
    /// Run time since it was done that is certain, measured.
    pub run_time_since_at_least_ms: u64,
    /// Run time since it was done at most, measured, with what is not recorded; this decides.
    pub run_time_since_at_most_ms: u64,
    /// Part of it of which no record tells.
    pub not_recorded_ms: u64,
    /// Part of it that may be no work; the maker has not said yet.
    pub doubtful_ms: u64,
    /// Run time since it was done, written by hand; it counts too.
    pub by_hand_run_time_ms: u64,
    /// Sessions begun since.
    pub sessions_since: u64,
    /// Local days on which they began.
    pub days_worked_since: u64,
    /// Days since it was done.
    pub days_since: f64,
    /// The longest standstill since it was done, in days.
    pub longest_rest_days: f64,
    /// Run time left until the limit; below zero when it is passed.
    pub remaining_run_time_ms: Option<i64>,
    /// Days left until the nearer limit by calendar; below zero when it is passed.
    pub remaining_days: Option<f64>,
    /// On which day it will probably fall due.
    pub forecast: DueForecast,
    /// How it is known when it was last done.
    pub last_done_by: Evidence,
    /// When it was last done; null when never.
    pub last_done: Option<When>,
    /// What was seen then.
    pub last_finding: Option<Finding>,
    /// The limits in force.
    pub limits: TaskLimits,
    /// The run time between two times that makes sense: shortest, longest, in milliseconds.
    pub allowed_run_time_ms: (u64, u64),
    /// Whether the maker set any of the limits.
    pub limits_by_maker: bool,
    /// How well the start values are founded.
    pub source: Source,
    /// What goes on the points.
    pub lubricant: Option<String>,
    /// What to mind beyond the general cautions.
    pub caution: Option<String>,
    /// What else bears on it.
    #[serde(flatten)]
    pub besides: TaskBesides,
}

impl TaskReport {
    /// Whether it should be done now.
    #[must_use]
    pub fn is_asked_for(&self) -> bool {
        self.age_unknown || self.state >= DueState::Due
    }

    /// Whether it is known when it will fall due, or after how much running.
    #[must_use]
    pub fn is_foreseen(&self) -> bool {
        self.forecast.middle.is_some() || self.remaining_run_time_ms.is_some_and(|left| left > 0)
    }

    /// Whether it is end-of-day care that is asked for this evening, and nothing else asks for it.
    #[must_use]
    pub fn is_for_the_evening(&self) -> bool {
        !self.age_unknown && self.state == DueState::EndOfDay
    }
}

/// The care of one machine, judged.
#[derive(Clone, Debug)]
pub struct MachineCare<'a> {
    /// Its tasks, the most pressing first.
    pub dues: Vec<Due<'a>>,
    /// What the maker and the buttons said.
    pub notes: CareNotes<'a>,
    /// What it ran.
    pub history: History,
}

/// Judges every task of a machine.
#[must_use]
pub fn care_of<'a>(
    grounds: Grounds<'a>,
    machine: &MachineCard,
    now: UtcMillis,
    zone: &TimeZone,
) -> MachineCare<'a> {
    let Grounds { entries, studio, ledger, heard } = grounds;
    let history = History::of(studio, ledger, heard, machine.tag, zone);
    let notes = CareNotes::of(entries, studio, ledger, machine.tag);
    let mut done = SinceDone::of(&history, now, zone);
    let planned: Vec<PlannedTask<'a>> = notes
        .tasks(machine)
        .into_iter()
        .filter(|task| notes.is_on(task.name))
        .map(|task| {
            let (limits, limits_by_maker) = task.limits(notes.limits.iter().copied());
            let applies = task.belongs_to == BelongsTo::Machine || notes.cloth_is_on != Some(false);
            let last = notes.last(&task, &history, machine.since);
            let besides = besides(&notes, &mut done, machine, &task, &last);
            PlannedTask { task, limits, limits_by_maker, last, applies, besides }
        })
        .collect();
    let dues = schedule(&planned, &mut done);
    MachineCare { dues, notes, history }
}

/// Judges every task of a machine, the most pressing first, and lists what is still to be asked.
#[must_use]
pub fn dues<'a>(
    grounds: Grounds<'a>,
    machine: &MachineCard,
    now: UtcMillis,
    zone: &TimeZone,
) -> (Vec<Due<'a>>, Vec<OpenQuestion>) {
    let care = care_of(grounds, machine, now, zone);
    let questions = care.notes.open_questions();
    (care.dues, questions)
}

/// Works out how the care of some machines stands.
#[must_use]
pub fn due_report(
    grounds: Grounds<'_>,
    machines: &[&MachineCard],
    now: UtcMillis,
    zone: &TimeZone,
) -> DueReport {
    let (mut tasks, mut questions, mut switched_off) = (Vec::new(), Vec::new(), Vec::new());
    let mut lines = Vec::new();
    let resting = machines.iter().filter_map(|machine| resting_line(machine)).collect();
    let machines: Vec<&MachineCard> =
        machines.iter().copied().filter(|machine| machine.resting.is_none()).collect();
    for machine in &machines {
        let care = care_of(grounds, machine, now, zone);
        lines.push(MachineLine {
            machine: machine.tag,
            machine_name: machine.name.clone(),
            is_without_logger: grounds.studio.is_without_logger(machine.tag),
            before_logger_run_time_ms: machine.before_logger.map(|run| run.0),
            to_check_run_time_ms: care.history.run_ever().doubtful_ms,
        });
        let outlook = Outlook::of(&care.history, now, zone);
        tasks.extend(care.dues.iter().zip(outlook.forecasts(&care.dues)).map(|(due, forecast)| {
            let besides = told(grounds, &care.notes, machine, &due.planned, now, &care.history);
            task_report(due, machine, forecast, besides)
        }));
        questions.extend(care.notes.open_questions().into_iter().map(|press| Question {
            machine: machine.tag,
            machine_name: machine.name.clone(),
            press,
        }));
        let off = care.notes.tasks(machine).into_iter().filter(|task| !care.notes.is_on(task.name));
        switched_off.extend(off.map(|task| SwitchedOff {
            machine: machine.tag,
            machine_name: machine.name.clone(),
            task: task.name.to_owned(),
        }));
    }
    // Each machine's tasks are in this order already but for their age; a stable sort merges them.
    tasks.sort_by_key(|task| Reverse((task.age_unknown, task.state, task.used_per_mille)));
    let drives: Vec<Drive> = machines.iter().map(|machine| machine.drive).collect();
    DueReport {
        as_of_utc_ms: now,
        is_anything_due: tasks.iter().any(TaskReport::is_asked_for),
        tasks,
        machines: lines,
        resting,
        questions,
        switched_off,
        to_buy: stock::stock(grounds.entries).into_iter().filter(|line| line.is_low).collect(),
        cautions: cautions(&drives),
        short_caution: short_caution(&drives),
        start_values: START_VALUES,
    }
}

/// Whether nobody knows since when a task of a second-hand machine was not done. What was put off or switched off waits.
fn is_age_unknown(due: &Due<'_>, machine: &MachineCard) -> bool {
    let PlannedTask { task, last, besides, .. } = due.planned;
    machine.is_second_hand
        && task.belongs_to == BelongsTo::Machine
        && last.evidence == Evidence::Never
        && due.state != DueState::NotNow
        && !besides.is_snoozed
}

fn resting_line(machine: &MachineCard) -> Option<RestingLine> {
    let rest = machine.resting.clone()?;
    Some(RestingLine { machine: machine.tag, machine_name: machine.name.clone(), rest })
}

fn task_report(
    due: &Due<'_>,
    machine: &MachineCard,
    forecast: DueForecast,
    besides: TaskBesides,
) -> TaskReport {
    let PlannedTask { task, limits, limits_by_maker, last, .. } = due.planned;
    TaskReport {
        machine: machine.tag,
        machine_name: machine.name.clone(),
        task: task.name.to_owned(),
        what: task.what.to_owned(),
        state: due.state,
        age_unknown: is_age_unknown(due, machine),
        belongs_to: task.belongs_to,
        decided_by: due.decided_by,
        used_per_mille: due.used_per_mille,
        run_time_since_at_least_ms: due.used.run.at_least_ms,
        run_time_since_at_most_ms: due.used.run.at_most_ms,
        not_recorded_ms: due.used.run.not_recorded_ms,
        doubtful_ms: due.used.run.doubtful_ms,
        by_hand_run_time_ms: due.used.run.by_hand_ms,
        sessions_since: due.used.sessions,
        days_worked_since: due.used.days_worked,
        days_since: stats::days(due.used.time_ms),
        longest_rest_days: stats::days(due.used.rest_ms),
        remaining_run_time_ms: due.remaining_run_ms(),
        remaining_days: due.remaining_time_ms().map(days),
        forecast,
        last_done_by: last.evidence,
        last_done: (last.evidence != Evidence::Never).then_some(last.moment.when),
        last_finding: last.finding,
        limits,
        allowed_run_time_ms: task.run_time_range_ms,
        limits_by_maker,
        source: task.source,
        lubricant: task.lubricant.map(str::to_owned),
        caution: task.caution.map(str::to_owned),
        besides,
    }
}

#[expect(clippy::cast_precision_loss, reason = "a span of milliseconds far below 2^53")]
fn days(ms: i64) -> f64 {
    ms as f64 / DAY_MS as f64
}
