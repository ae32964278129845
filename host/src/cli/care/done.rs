//! `done`.

use std::io::{BufRead, Write};
use std::process::ExitCode;

use clap::{Args, ValueEnum};
use serde::Serialize;

use super::new_part;
use super::walk::walked;
use crate::app::care::done::{self, DoneReport, DoneSaid};
use crate::app::care::part_care::{self, CareNoted, CareSaid};
use crate::app::care::{limits, plan, record};
use crate::app::ports::{Clock as _, Store};
use crate::app::typed::choose_machine::{self, MachineSaid};
use crate::app::typed::dates;
use crate::cli::parts::Why;
use crate::cli::shell::command_env::CommandEnv;
use crate::cli::shell::failure::Failure;
use crate::cli::shell::{ask, show};
use crate::view::{self, words};
use host_core::care::schedule::DueState;
use host_core::entries::{EntryId, Finding, OILING, SpareName, TakenOff};

/// Note that care was given.
///
/// On a terminal, oiling is walked through step by step the first three times. For example: done brush-out screws oil
#[derive(Debug, Args)]
pub struct Done {
    /// The tasks, for example brush-out or oil; several in one go.
    #[arg(id = "task", value_name = "TASK")]
    tasks: Vec<String>,
    /// Which machine, by name or number, if there are several.
    #[arg(long, value_name = "MACHINE")]
    machine: Option<MachineSaid>,
    /// When: today, "yesterday 18:30", friday, "26 Nov", 28.9.2026, "2 days ago". Left out: now.
    #[arg(long, value_name = "DATE")]
    when: Option<String>,
    /// What was seen; one letter is enough.
    #[arg(long, value_enum)]
    finding: Option<Seen>,
    /// Anything else.
    #[arg(long)]
    note: Option<String>,
    /// What it used up, for example oil=2 or needle; it goes out of stock. Can be given more than once.
    #[arg(long, value_name = "SPARE=NUMBER", value_parser = used)]
    used: Vec<(SpareName, u32)>,
    /// A new part went on with it: noted as the fitting, which does the care as well. Of needle, needle-change,
    /// scissors-sharpen, belt and carbon-brushes.
    #[arg(long, requires = "task", conflicts_with_all = ["finding", "used", "walk", "history", "correct", "withdraw"])]
    fitted: bool,
    /// With --fitted: why the part before it was taken off.
    #[arg(long, value_enum, value_name = "WHY", requires = "fitted")]
    replaces: Option<Why>,
    /// With --fitted: your mark on the new part.
    #[arg(long, value_name = "MARK", requires = "fitted")]
    serial: Option<String>,
    /// With oiling: it began with a brush-out, which is noted too, unless it was.
    #[arg(long, conflicts_with_all = ["history", "correct", "withdraw", "list"])]
    brushed_out: bool,
    /// Show the oiling routine, and on a terminal walk through it, however often it was done.
    #[arg(long)]
    walk: bool,
    /// Show the tasks that every plan starts with, and their start values.
    #[arg(long, conflicts_with_all = ["task", "withdraw", "history", "correct"])]
    list: bool,
    /// Show what was done, left out and put off, and what was taken back; of one task, if it is named.
    #[arg(long, conflicts_with_all = ["withdraw", "correct", "when", "finding", "note", "used", "walk"])]
    history: bool,
    /// Take an entry back, by the number that was told when it was noted; it stays visible.
    #[arg(long, value_name = "ENTRY", conflicts_with = "task", requires = "reason", hide = true)]
    withdraw: Option<i64>,
    /// Note an entry anew with what is said here changed; the old one is taken back and stays visible.
    #[arg(long, value_name = "ENTRY", conflicts_with = "withdraw", requires = "reason")]
    correct: Option<i64>,
    /// Why it is corrected.
    #[arg(long)]
    reason: Option<String>,
    /// One JSON object on standard output and nothing else.
    #[arg(long)]
    json: bool,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
enum Seen {
    /// Nothing to see.
    #[value(alias = "c")]
    Clean,
    /// Lint in the scissor channel or elsewhere.
    #[value(alias = "l")]
    Lint,
    /// Grey-black oil on the wipe.
    #[value(alias = "g")]
    GreyBlackOil,
    /// A black mark on the yarn.
    #[value(alias = "b")]
    BlackMark,
    /// A clear oil spot on the yarn.
    #[value(alias = "o")]
    ClearOilSpot,
}

impl From<Seen> for Finding {
    fn from(seen: Seen) -> Self {
        match seen {
            Seen::Clean => Self::Clean,
            Seen::Lint => Self::Lint,
            Seen::GreyBlackOil => Self::GreyBlackOil,
            Seen::BlackMark => Self::BlackMarkOnYarn,
            Seen::ClearOilSpot => Self::ClearOilSpot,
        }
    }
}

/// "oil=2", or "needle" for one.
fn used(text: &str) -> Result<(SpareName, u32), String> {
    let (item, count) = text.split_once('=').unwrap_or((text, "1"));
    let count = count.trim().parse().map_err(|_| format!("{count} is no whole number, zero or more"))?;
    if item.trim().is_empty() {
        return Err("say what was used up, for example oil=2".to_owned());
    }
    Ok((SpareName::of(item), count))
}

/// Nobody knows the names of all tasks by heart: those that are due are offered.
fn not_said_what(store: &impl Store, around: &CommandEnv, machine: Option<u32>) -> Result<Failure, Failure> {
    let report = limits::due(store, around.clock(), machine)?;
    let mut due: Vec<String> = Vec::new();
    for task in report.tasks.iter().filter(|task| task.state >= DueState::Due) {
        if !due.contains(&task.task) {
            due.push(task.task.clone());
        }
    }
    let remedy = match due.first() {
        Some(first) => format!(
            "Due now: {}. Say which, for example: needlehours done {first}. All tasks: needlehours care",
            words::all_of(&due)
        ),
        None => {
            "Nothing is due now; early counts too, for example: needlehours done oiling. All tasks: needlehours care"
                .to_owned()
        }
    };
    Ok(Failure::not_understood("care::what", "it was not said what was done", remedy))
}

impl Done {
    /// Runs the command.
    pub fn run(self, around: &CommandEnv) -> Result<ExitCode, Failure> {
        if self.list {
            show::report(&plan::plan(), self.json, view::care::record::start_values)?;
            return Ok(ExitCode::SUCCESS);
        }
        let mut store = around.open_database()?;
        let (clock, zone) = (around.clock(), around.clock().zone());
        let reason = self.reason.clone().unwrap_or_default();
        let machine = choose_machine::number(&store, self.machine.as_ref())?;
        if self.history {
            let record = record::care_record(&store, machine, self.tasks.first().map(String::as_str))?;
            show::report(&record, self.json, |record| view::care::record::record(record, &zone))?;
            return Ok(ExitCode::SUCCESS);
        }
        if let Some(entry) = self.withdraw {
            let report = done::withdraw(&mut store, clock, EntryId(entry), &reason)?;
            show::report(&report, self.json, view::care::done::withdrawn)?;
            return Ok(ExitCode::SUCCESS);
        }
        if self.tasks.is_empty() && self.correct.is_none() {
            return Err(not_said_what(&store, around, machine)?);
        }
        if self.tasks.len() > 1 {
            return self.several(&mut store, machine, around);
        }
        let mut said = DoneSaid {
            task: self.tasks.first().cloned().unwrap_or_default(),
            machine,
            at: dates::moment(self.when.as_deref(), clock)?,
            finding: self.finding.map(Finding::from),
            note: self.note.clone(),
            used: self.used.clone(),
            wants_routine: self.walk,
            brushed_out: self.brushed_out.then_some(None),
        };
        if let Some(entry) = self.correct {
            let report = done::correct(&mut store, clock, EntryId(entry), &said, &reason)?;
            show::report(&report, self.json, |report| view::care::done::done(report, &zone, true))?;
            return Ok(ExitCode::SUCCESS);
        }
        if self.fitted {
            let replaces = self.replaces.map(TakenOff::from);
            new_part::fitted(&said, self.serial, replaces, self.json, &mut store, clock, &zone)?;
            return Ok(ExitCode::SUCCESS);
        }
        let (mut answers, mut out) = (std::io::stdin().lock(), std::io::stdout());
        let is_asked = !self.json && ask::somebody_is_there();
        if is_asked && let Some(part) = new_part::asked(&said, &[], &store, clock, &mut answers, &mut out)? {
            // The part did the task; the care is noted besides only if something was seen or used up.
            let says_more = said.finding.is_some() || !said.used.is_empty();
            let besides = says_more.then_some(CareSaid::Done(said));
            let said: Vec<CareSaid> = [part].into_iter().chain(besides).collect();
            store.read_anew();
            new_part::note(&said, &mut store, clock)?;
            return Ok(ExitCode::SUCCESS);
        }
        let is_walked = self.walks(&store, machine)?;
        if is_walked && !self.walk_through(&mut said, &store, around, &mut answers, &mut out)? {
            show::words("Stopped; nothing was noted.")?;
            return Ok(ExitCode::SUCCESS);
        }
        store.read_anew();
        let report = done::done(&mut store, clock, &said)?;
        show::report(&report, self.json, |report| view::care::done::done(report, &zone, is_walked))?;
        Ok(ExitCode::SUCCESS)
    }

    /// Notes several tasks in one act, in the order of the plan.
    fn several(
        self,
        store: &mut impl Store,
        machine: Option<u32>,
        around: &CommandEnv,
    ) -> Result<ExitCode, Failure> {
        let clock = around.clock();
        let one_only = [
            ("--finding", self.finding.is_some()),
            ("--used", !self.used.is_empty()),
            ("--fitted", self.fitted),
            ("--correct", self.correct.is_some()),
            ("--history", self.history),
        ];
        if let Some((option, _)) = one_only.into_iter().find(|(_, is_given)| *is_given) {
            return Err(Failure::not_understood(
                "care::one_task",
                format!("{option} belongs to one task, and several were named"),
                format!("Note the task that {option} is about by itself, and the others in another go."),
            ));
        }
        let tasks = limits::tasks_named(store, machine, &self.tasks)?;
        let at = dates::moment(self.when.as_deref(), clock)?;
        let mut said: Vec<DoneSaid> = Vec::new();
        for task in tasks {
            let is_oiling = task == OILING;
            let one = DoneSaid {
                task,
                machine,
                at,
                note: self.note.clone(),
                brushed_out: (self.brushed_out && is_oiling).then_some(None),
                ..DoneSaid::default()
            };
            said.push(one);
        }
        if self.walks(store, machine)?
            && let Some(oiling) = said.iter_mut().find(|one| one.task == OILING)
            && !self.walk_through(
                oiling,
                store,
                around,
                &mut std::io::stdin().lock(),
                &mut std::io::stdout(),
            )?
        {
            show::words("Stopped; nothing was noted.")?;
            return Ok(ExitCode::SUCCESS);
        }
        store.read_anew();
        let said: Vec<CareSaid> = said.into_iter().map(CareSaid::Done).collect();
        if self.json {
            let noted = part_care::note_all(store, clock, &said)?;
            let noted: Vec<_> = noted.iter().filter_map(CareNoted::done).collect();
            show::report(&SeveralNoted { noted }, true, |_| String::new())?;
        } else {
            new_part::note(&said, store, clock)?;
        }
        Ok(ExitCode::SUCCESS)
    }

    /// Leads through the oiling routine and keeps what was seen; false when the maker stopped on the way.
    fn walk_through(
        &self,
        said: &mut DoneSaid,
        store: &impl Store,
        around: &CommandEnv,
        answers: &mut impl BufRead,
        out: &mut impl Write,
    ) -> Result<bool, Failure> {
        let steps = done::routine(store, said.machine)?.steps;
        let after = walked(&steps, said.clone(), around.clock(), answers, out);
        let is_done = after.is_some();
        *said = after.unwrap_or_default();
        Ok(is_done)
    }

    /// Whether to walk through the routine now: oiling, at this moment, with somebody at a terminal who wants it or is new to
    /// it. Never where a program asks.
    fn walks(&self, store: &impl Store, machine: Option<u32>) -> Result<bool, Failure> {
        if self.json || self.when.is_some() || !ask::somebody_is_there() {
            return Ok(false);
        }
        let tasks = limits::tasks_named(store, machine, &self.tasks)?;
        if !tasks.iter().any(|task| task == OILING) {
            return Ok(false);
        }
        Ok(self.walk || done::routine(store, machine)?.is_new)
    }
}

/// Several tasks that were noted in one act.
#[derive(Serialize)]
struct SeveralNoted<'a> {
    noted: Vec<&'a DoneReport>,
}
