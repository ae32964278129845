//! `wear`.

use std::path::PathBuf;
use std::process::ExitCode;

use clap::Args;

use crate::app::parts::PartError;
use crate::app::parts::wear::{self, GivenCosts, GivenCurve};
use crate::app::typed::choose_machine::{self, MachineSaid};
use crate::cli::shell::command_env::CommandEnv;
use crate::cli::shell::failure::Failure;
use crate::cli::shell::numbers::{decimal, hours};
use crate::cli::shell::{show, table_file};
use crate::view;

const HOLDS: &str =
    "One row is one part: hours,replaced - 1 worn out, 0 still running or taken out for another reason.";

/// How long a part lasts, and whether to replace it before it fails.
#[derive(Debug, Args)]
pub struct Wear {
    /// Lives of parts: hours,replaced - 1 worn out, 0 still running or taken out for another reason.
    #[arg(long, value_name = "FILE", conflicts_with_all = ["shape", "scale_hours", "part"])]
    table: Option<PathBuf>,
    /// Parts of the log instead of a table: needle, scissors, belt, carbon-brushes, or a name of your own; see `part`.
    #[arg(long, value_name = "KIND", conflicts_with_all = ["shape", "scale_hours"])]
    part: Option<String>,
    /// With --part: only this machine's.
    #[arg(long, value_name = "MACHINE", requires = "part")]
    machine: Option<MachineSaid>,
    /// A known wear curve instead of lives: its shape (above 1, old parts fail sooner than new ones).
    #[arg(long, value_name = "NUMBER", value_parser = decimal, allow_negative_numbers = true, requires_all = ["scale_hours", "planned_cost", "failure_cost"])]
    shape: Option<f64>,
    /// ... and the hours by which 63 of 100 have worn out.
    #[arg(long, value_name = "HOURS", value_parser = hours, allow_negative_numbers = true, requires = "shape")]
    scale_hours: Option<f64>,
    /// What a replacement costs at a moment of your choice: part and time.
    #[arg(long, value_name = "MONEY", value_parser = decimal, allow_negative_numbers = true, requires = "failure_cost")]
    planned_cost: Option<f64>,
    /// What it costs when the part fails at work: part, time, and what it spoils.
    #[arg(long, value_name = "MONEY", value_parser = decimal, allow_negative_numbers = true, requires = "planned_cost")]
    failure_cost: Option<f64>,
    /// Show the figures behind the words.
    #[arg(long)]
    explain: bool,
    /// One JSON object on standard output and nothing else.
    #[arg(long)]
    json: bool,
}

impl Wear {
    /// Runs the command.
    pub fn run(self, around: &CommandEnv) -> Result<ExitCode, Failure> {
        let costs = self.planned_cost.zip(self.failure_cost);
        let costs = costs.map(|(planned, failure)| GivenCosts { planned, failure });
        if let Some(part) = &self.part {
            let (store, clock) = (around.open_database()?, around.clock());
            let machine = choose_machine::number(&store, self.machine.as_ref())?;
            let own = wear::of_log(&store, clock, part, machine, costs).map_err(|error| match error {
                PartError::Table(error) => table_file::failure(error, HOLDS),
                error => error.into(),
            })?;
            show::report(&own, self.json, |own| view::parts::wear::own(own, self.explain))?;
            return Ok(ExitCode::SUCCESS);
        }
        let curve = self.shape.zip(self.scale_hours);
        let curve = curve.map(|(shape, scale_hours)| GivenCurve { shape, scale_hours });
        let report = match (self.table, curve, costs) {
            (Some(path), _, _) => wear::of_table(&table_file::read(&path)?, costs),
            (None, Some(curve), Some(costs)) => wear::of_curve(curve, costs),
            _ => {
                return Err(Failure::not_understood(
                    "wear::what",
                    "it was not said which parts are meant",
                    "Parts that you noted: needlehours wear --part needle (or scissors, belt, carbon-brushes; see `needlehours part`). \
                     Lives from a notebook: needlehours wear --table lives.csv. \
                     A known curve: --shape, --scale-hours, --planned-cost and --failure-cost.",
                ));
            }
        };
        let report = report.map_err(|error| table_file::failure(error, HOLDS))?;
        show::report(&report, self.json, |report| view::parts::wear::lives(report, self.explain))?;
        Ok(ExitCode::SUCCESS)
    }
}
