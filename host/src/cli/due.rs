//! `due`.

use std::process::ExitCode;

use clap::{Args, Subcommand};

use super::{Failure, Surroundings, exit, notice, show};
use crate::app::care;
use crate::app::ports::Clock as _;
use crate::view;

/// What care the machine needs now, and what next.
///
/// Ends with exit code 3 when something is due.
#[derive(Debug, Args)]
#[command(args_conflicts_with_subcommands = true)]
pub struct Due {
    /// One machine, by its number; all of them otherwise.
    #[arg(long, value_name = "NUMBER")]
    machine: Option<u32>,
    /// Tell of every task at length, not only of those that are due.
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
}

#[derive(Debug, Args)]
struct Set {
    /// The task, for example oiling.
    task: String,
    /// The machine's number, if there are several.
    #[arg(long, value_name = "NUMBER")]
    machine: Option<u32>,
    /// Due after so many hours of running; replaces a limit by sessions too.
    #[arg(long, value_name = "HOURS")]
    every_hours: Option<f64>,
    /// Due after so many days; replaces a limit by days of standing still too.
    #[arg(long, value_name = "DAYS")]
    every_days: Option<u32>,
    /// One JSON object on standard output and nothing else.
    #[arg(long)]
    json: bool,
}

impl Due {
    /// Runs the command.
    pub fn run(self, around: &Surroundings) -> Result<ExitCode, Failure> {
        let mut store = around.open_database()?;
        if let Some(Change::Set(set)) = self.change {
            let said = care::LimitSaid {
                task: set.task,
                machine: set.machine,
                every_hours: set.every_hours,
                every_days: set.every_days,
            };
            let report = care::set_limit(&mut store, around.clock(), &said)?;
            show::report(&report, set.json, view::due::limit)?;
            return Ok(ExitCode::SUCCESS);
        }
        let report = care::due(&store, around.clock(), self.machine)?;
        let zone = around.clock().zone();
        show::report(&report, self.json, |report| view::due::due(report, self.all, &zone))?;
        if self.notify {
            notice::send(&report, &notice::Desktop);
        }
        Ok(exit::code(if report.is_anything_due { exit::CARE_IS_DUE } else { exit::FINE }))
    }
}
