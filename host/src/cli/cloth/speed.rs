//! `speed`.

use std::path::PathBuf;
use std::process::ExitCode;

use clap::{Args, Subcommand, ValueEnum};

use super::speed_cost::{Ceiling, Cost};
use crate::app::cloth::{ClothError, tears};
use crate::app::ports::Clock as _;
use crate::app::typed::choose_machine::{self, MachineSaid};
use crate::cli::shell::command_env::CommandEnv;
use crate::cli::shell::failure::Failure;
use crate::cli::shell::numbers::level;
use crate::cli::shell::{show, table_file};
use crate::view;
use host_core::cloth::speed_by::SpeedBy;
use host_core::stats::Level;

const HOLDS: &str = "One row is one session: knob,hours,tears; strokes and stratum if you have them.";

/// At which speeds cloth tears, with the running behind it.
#[derive(Debug, Args)]
#[command(args_conflicts_with_subcommands = true)]
pub struct Speed {
    #[command(subcommand)]
    what: Option<What>,
    /// Which machine, by name or number, if there are several.
    #[arg(long, value_name = "MACHINE")]
    machine: Option<MachineSaid>,
    /// Sort by the knob's place or by the measured stroke rate.
    #[arg(long, value_enum, default_value = "knob")]
    by: By,
    /// Work from a table instead of the log: knob,hours,tears and, if you have them, strokes and stratum; one row is one session.
    #[arg(long, value_name = "FILE", conflicts_with_all = ["machine", "by"])]
    table: Option<PathBuf>,
    /// How sure the limits are to hold the truth.
    #[arg(long, value_name = "SHARE", default_value = "0.95", value_parser = level)]
    level: Level,
    /// Say all that is known: ranges, how long it takes to know, the ceiling, hints.
    #[arg(long)]
    more: bool,
    /// Say it in the words of statistics, too.
    #[arg(long)]
    explain: bool,
    /// One JSON object on standard output and nothing else.
    #[arg(long)]
    json: bool,
}

#[derive(Debug, Subcommand)]
enum What {
    Cost(Cost),
    Ceiling(Ceiling),
}

#[derive(Clone, Copy, Debug, ValueEnum)]
enum By {
    /// The knob's place.
    Knob,
    /// The measured stroke rate.
    Rate,
}

impl Speed {
    /// Runs the command.
    pub fn run(self, around: &CommandEnv) -> Result<ExitCode, Failure> {
        match self.what {
            Some(What::Cost(cost)) => return cost.run(around).map(|()| ExitCode::SUCCESS),
            Some(What::Ceiling(ceiling)) => return ceiling.run(around).map(|()| ExitCode::SUCCESS),
            None => {}
        }
        if let Some(path) = &self.table {
            let report =
                tears::speed_of_table(&table_file::read(path)?, self.level).map_err(|error| match error {
                    ClothError::Table(error) => table_file::failure(error, HOLDS),
                    error => error.into(),
                })?;
            let explained = |report: &_| view::cloth::speed_explain::table(report, self.level.share());
            let words = |report: &_| {
                view::cloth::speed_table::table(report, self.level.share()) + &self.also(report, explained)
            };
            show::report(&report, self.json, words)?;
            return Ok(ExitCode::SUCCESS);
        }
        let by = match self.by {
            By::Knob => SpeedBy::Knob,
            By::Rate => SpeedBy::Rate,
        };
        let store = around.open_database()?;
        let machine = choose_machine::number(&store, self.machine.as_ref())?;
        let report = tears::speed(&store, machine, by, self.level)?;
        let zone = around.clock().zone();
        let words = |report: &_| {
            view::cloth::speed::speed(report, &zone, self.more)
                + &self.also(report, view::cloth::speed_explain::speed)
        };
        show::report(&report, self.json, words)?;
        Ok(ExitCode::SUCCESS)
    }

    /// The words of statistics, where they were asked for.
    fn also<R>(&self, report: &R, explained: impl FnOnce(&R) -> String) -> String {
        if self.explain { explained(report) } else { String::new() }
    }
}
