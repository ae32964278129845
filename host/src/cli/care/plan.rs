//! `care`.

use std::process::ExitCode;

use clap::{ArgGroup, Args, Subcommand};

use crate::app::care::plan::{self, TaskSaid};
use crate::app::typed::choose_machine::{self, MachineSaid};
use crate::cli::shell::command_env::CommandEnv;
use crate::cli::shell::failure::Failure;
use crate::cli::shell::numbers::hours;
use crate::cli::shell::show;
use crate::view;
use host_core::entries::{Lubricant, MoreLimits, OilPointChange};

/// The care plan of a machine: its tasks, its oil points, and your own hand in both.
#[derive(Debug, Args)]
#[command(args_conflicts_with_subcommands = true)]
pub struct Care {
    #[command(flatten)]
    which: Which,
    #[command(subcommand)]
    change: Option<Change>,
}

#[derive(Debug, Args)]
struct Which {
    /// Which machine, by name or number, if there are several.
    #[arg(long, value_name = "MACHINE")]
    machine: Option<MachineSaid>,
    /// One JSON object on standard output and nothing else.
    #[arg(long)]
    json: bool,
}

#[derive(Debug, Subcommand)]
enum Change {
    /// Add a task of your own, or change one that you added.
    Add(Add),
    /// Switch a task off. It stays in the plan and in the record.
    Off(Switch),
    /// Switch a task on again.
    On(Switch),
    /// Change the points to be oiled or greased.
    Point(Point),
}

#[derive(Debug, Args)]
struct Add {
    /// Its name.
    task: String,
    /// What is done, in a sentence.
    #[arg(long, value_name = "TEXT")]
    what: String,
    /// What to mind.
    #[arg(long, value_name = "TEXT")]
    caution: Option<String>,
    /// What goes on it.
    #[arg(long, value_name = "TEXT")]
    lubricant: Option<String>,
    /// Due after so many hours of running.
    #[arg(long, value_name = "HOURS", value_parser = hours)]
    every_hours: Option<f64>,
    /// Due after so many days.
    #[arg(long, value_name = "DAYS")]
    every_days: Option<u32>,
    #[command(flatten)]
    more: More,
    #[command(flatten)]
    which: Which,
}

/// Limits beside hours and days.
#[derive(Clone, Copy, Debug, Args)]
pub struct More {
    /// Due after so many strokes.
    #[arg(long, value_name = "STROKES")]
    every_strokes: Option<u64>,
    /// Due after so many sessions.
    #[arg(long, value_name = "SESSIONS")]
    every_sessions: Option<u32>,
    /// Due when the machine stood still for so many days.
    #[arg(long, value_name = "DAYS")]
    idle_days: Option<u32>,
    /// Due after every tear: yes or no.
    #[arg(long, value_name = "YES-OR-NO", value_parser = yes_or_no)]
    after_tear: Option<bool>,
    /// Due after every change of the pile height: yes or no.
    #[arg(long, value_name = "YES-OR-NO", value_parser = yes_or_no)]
    after_pile_height: Option<bool>,
}

impl From<More> for MoreLimits {
    fn from(more: More) -> Self {
        Self {
            every_strokes: more.every_strokes,
            every_sessions: more.every_sessions,
            idle_days: more.idle_days,
            after_tear: more.after_tear,
            after_pile_height: more.after_pile_height,
        }
    }
}

fn yes_or_no(text: &str) -> Result<bool, String> {
    match text.to_lowercase().as_str() {
        "yes" | "y" => Ok(true),
        "no" | "n" => Ok(false),
        _ => Err("say yes or no".to_owned()),
    }
}

#[derive(Debug, Args)]
struct Switch {
    /// The task.
    task: String,
    /// Why.
    #[arg(long, value_name = "TEXT")]
    reason: Option<String>,
    #[command(flatten)]
    which: Which,
}

#[derive(Debug, Args)]
#[command(group = ArgGroup::new("how").required(true))]
#[command(override_usage = "needlehours care point <POINT> --add|--lubricant <LUBRICANT>\n       \
    needlehours care point <POINT> --rename <NAME>\n       \
    needlehours care point <POINT> --remove")]
struct Point {
    /// The point, for example "crank pin".
    point: String,
    /// It is a point that the list has not: say what it gets, oil, grease, or in your own words.
    #[arg(long, value_name = "LUBRICANT", group = "how")]
    add: Option<String>,
    /// It gets something else: oil, grease, or in your own words.
    #[arg(long, value_name = "LUBRICANT", group = "how")]
    lubricant: Option<String>,
    /// It is called otherwise.
    #[arg(long, value_name = "NAME", group = "how")]
    rename: Option<String>,
    /// This machine has no such point.
    #[arg(long, group = "how")]
    remove: bool,
    #[command(flatten)]
    which: Which,
}

fn lubricant(text: &str) -> Lubricant {
    match text.trim().to_lowercase().as_str() {
        "oil" => Lubricant::Oil,
        "grease" => Lubricant::Grease,
        _ => Lubricant::Other(text.trim().to_owned()),
    }
}

impl Care {
    /// Runs the command.
    pub fn run(self, around: &CommandEnv) -> Result<ExitCode, Failure> {
        let mut store = around.open_database()?;
        let clock = around.clock();
        let (changed, json) = match self.change {
            None => {
                let plan =
                    plan::machine_plan(&store, choose_machine::number(&store, self.which.machine.as_ref())?)?;
                show::report(&plan, self.which.json, view::care::record::plan)?;
                return Ok(ExitCode::SUCCESS);
            }
            Some(Change::Add(add)) => {
                let said = TaskSaid {
                    task: add.task,
                    machine: choose_machine::number(&store, add.which.machine.as_ref())?,
                    what: add.what,
                    caution: add.caution,
                    lubricant: add.lubricant,
                    every_hours: add.every_hours,
                    every_days: add.every_days,
                    more: add.more.into(),
                };
                (plan::add_task(&mut store, clock, &said)?, add.which.json)
            }
            Some(Change::Off(of)) => {
                let (task, number) = (&of.task, choose_machine::number(&store, of.which.machine.as_ref())?);
                (plan::switch_task(&mut store, clock, task, number, false, of.reason)?, of.which.json)
            }
            Some(Change::On(of)) => {
                let (task, number) = (&of.task, choose_machine::number(&store, of.which.machine.as_ref())?);
                (plan::switch_task(&mut store, clock, task, number, true, of.reason)?, of.which.json)
            }
            Some(Change::Point(of)) => {
                let change = match (&of.add, &of.lubricant, of.rename) {
                    (Some(what), ..) => OilPointChange::Added(lubricant(what)),
                    (_, Some(what), _) => OilPointChange::Gets(lubricant(what)),
                    (.., Some(name)) => OilPointChange::Renamed(name),
                    (None, None, None) => OilPointChange::Removed,
                };
                let number = choose_machine::number(&store, of.which.machine.as_ref())?;
                (plan::change_point(&mut store, clock, number, &of.point, change)?, of.which.json)
            }
        };
        show::report(&changed, json, view::care::record::changed)?;
        Ok(ExitCode::SUCCESS)
    }
}
