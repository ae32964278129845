//! `due`.

use std::process::ExitCode;

use clap::{Args, Subcommand};

use super::notice;
use super::plan::More;
use crate::app::care::limits;
use crate::app::care::snooze::{self, SnoozeSaid};
use crate::app::ports::{Clock as _, Store};
use crate::app::rugs::quiet;
use crate::app::typed::choose_machine::{self, MachineSaid};
use crate::app::typed::dates;
use crate::cli::shell::command_env::CommandEnv;
use crate::cli::shell::failure::Failure;
use crate::cli::shell::numbers::hours;
use crate::cli::shell::{ask, exit, show};
use crate::view;

/// What care the machine needs now, and what next.
///
/// Ends with exit code 3 when something is due, 0 when nothing is; what was put off and what is to be bought is told, and is
/// not due.
#[derive(Debug, Args)]
#[command(args_conflicts_with_subcommands = true)]
pub struct Due {
    /// One task at length: limits, points, cautions, and what was seen last.
    #[arg(conflicts_with = "all")]
    task: Option<String>,
    /// One machine, by its number; all of them otherwise.
    #[arg(long, value_name = "MACHINE")]
    machine: Option<MachineSaid>,
    /// Tell of every task at length.
    #[arg(long)]
    all: bool,
    /// Show what is due as a notification on the desktop, too.
    #[arg(long)]
    notify: bool,
    /// One JSON object on standard output and nothing else.
    #[arg(long)]
    json: bool,
    #[command(subcommand)]
    change: Option<Change>,
}

#[derive(Debug, Subcommand)]
enum Change {
    /// Set your own limits for a task; 0 switches a limit off.
    Set(Set),
    /// Put a task off for some hours of running or some days, whichever ends first; it stays visible.
    Snooze(Snooze),
    /// Note that a task was left out this time; it stays due and visible.
    Skip(Skip),
}

#[derive(Debug, Args)]
struct Snooze {
    /// The task.
    task: String,
    /// For so many hours of running, 0.1 to 100.
    #[arg(long, value_name = "HOURS", value_parser = hours)]
    for_hours: Option<f64>,
    /// For so many days, 1 to 90.
    #[arg(long, value_name = "DAYS")]
    for_days: Option<u32>,
    /// Why; it is shown until the task is done.
    #[arg(long, value_name = "TEXT")]
    reason: Option<String>,
    /// Which machine, by name or number, if there are several.
    #[arg(long, value_name = "MACHINE")]
    machine: Option<MachineSaid>,
    /// One JSON object on standard output and nothing else.
    #[arg(long)]
    json: bool,
}

#[derive(Debug, Args)]
struct Skip {
    /// The task.
    task: String,
    /// Why.
    #[arg(long, value_name = "TEXT")]
    reason: Option<String>,
    /// When: today, "yesterday 18:30", friday, "26 Nov", 28.9.2026, "2 days ago". Left out: now.
    #[arg(long, value_name = "DATE")]
    when: Option<String>,
    /// Which machine, by name or number, if there are several.
    #[arg(long, value_name = "MACHINE")]
    machine: Option<MachineSaid>,
    /// One JSON object on standard output and nothing else.
    #[arg(long)]
    json: bool,
}

#[derive(Debug, Args)]
struct Set {
    /// The task, for example oiling.
    task: String,
    /// Which machine, by name or number, if there are several.
    #[arg(long, value_name = "MACHINE")]
    machine: Option<MachineSaid>,
    /// Due after so many hours of running; replaces a limit by sessions too.
    #[arg(long, value_name = "HOURS", value_parser = hours)]
    every_hours: Option<f64>,
    /// Due after so many days; replaces a limit by days of standing still too.
    #[arg(long, value_name = "DAYS")]
    every_days: Option<u32>,
    #[command(flatten)]
    more: More,
    /// One JSON object on standard output and nothing else.
    #[arg(long)]
    json: bool,
}

impl Due {
    /// Runs the command.
    pub fn run(self, around: &CommandEnv) -> Result<ExitCode, Failure> {
        let mut store = around.open_database()?;
        if let Some(change) = self.change {
            change.run(&mut store, around)?;
            return Ok(ExitCode::SUCCESS);
        }
        let machine = choose_machine::number(&store, self.machine.as_ref())?;
        let report = match &self.task {
            Some(task) => limits::due_of_task(&store, around.clock(), machine, task)?,
            None => limits::due(&store, around.clock(), machine)?,
        };
        let is_at_length = self.all || self.task.is_some();
        let zone = around.clock().zone();
        show::report(&report, self.json, |report| {
            if is_at_length {
                view::care::due_task::due_tasks(report, &zone)
            } else {
                view::care::due::due(report, &zone)
            }
        })?;
        if !self.json
            && ask::somebody_is_there()
            && let Some((quiet, is_without_logger)) = quiet::quiet_days(&store, around.clock())?
        {
            anstream::eprintln!("{}", view::rugs::quiet::quiet(&quiet, is_without_logger));
        }
        if self.notify {
            notice::send(&report, &notice::Desktop);
        }
        Ok(exit::code(if report.is_anything_due { exit::CARE_IS_DUE } else { exit::FINE }))
    }
}

impl Change {
    fn run(self, store: &mut impl Store, around: &CommandEnv) -> Result<(), Failure> {
        let (clock, zone) = (around.clock(), around.clock().zone());
        match self {
            Self::Set(set) => {
                let said = limits::LimitSaid {
                    task: set.task,
                    machine: choose_machine::number(store, set.machine.as_ref())?,
                    every_hours: set.every_hours,
                    every_days: set.every_days,
                    more: set.more.into(),
                };
                let report = limits::set_limit(store, clock, &said)?;
                show::report(&report, set.json, view::care::done::limit)
            }
            Self::Snooze(snooze) => {
                let said = SnoozeSaid {
                    task: snooze.task,
                    machine: choose_machine::number(store, snooze.machine.as_ref())?,
                    for_hours: snooze.for_hours,
                    for_days: snooze.for_days,
                    reason: snooze.reason,
                };
                let report = snooze::snooze(store, clock, &said)?;
                show::report(&report, snooze.json, |report| view::care::record::snoozed(report, &zone))
            }
            Self::Skip(skip) => {
                let at = dates::moment(skip.when.as_deref(), clock)?;
                let machine = choose_machine::number(store, skip.machine.as_ref())?;
                let report = snooze::skip(store, clock, &skip.task, machine, at, skip.reason)?;
                show::report(&report, skip.json, view::care::record::skipped)
            }
        }
    }
}
