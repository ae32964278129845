//! `interval`.

use std::path::PathBuf;
use std::process::ExitCode;

use clap::Args;

use crate::app::parts::interval;
use crate::app::typed::choose_machine::{self, MachineSaid};
use crate::cli::shell::command_env::CommandEnv;
use crate::cli::shell::failure::Failure;
use crate::cli::shell::{show, table_file};
use crate::view;

const HOLDS: &str = "One row is one look: hours,dirty - hours since it was last done, 1 dirty or 0 clean.";

/// Whether the interval of a care task is right, from what was found each time.
///
/// Without a table the findings are those noted with `done`. A proposal changes nothing.
#[derive(Debug, Args)]
pub struct Interval {
    /// Findings from a notebook instead of the log: hours,dirty - hours since it was last done, 1 dirty or 0 clean.
    #[arg(long, value_name = "FILE", conflicts_with_all = ["task", "machine"])]
    table: Option<PathBuf>,
    /// Only this task, for example oiling.
    #[arg(long)]
    task: Option<String>,
    /// Only this machine.
    #[arg(long, value_name = "MACHINE")]
    machine: Option<MachineSaid>,
    /// Show the figures behind the words.
    #[arg(long)]
    explain: bool,
    /// One JSON object on standard output and nothing else.
    #[arg(long)]
    json: bool,
}

impl Interval {
    /// Runs the command.
    pub fn run(self, around: &CommandEnv) -> Result<ExitCode, Failure> {
        let Some(table) = &self.table else {
            let (store, clock) = (around.open_database()?, around.clock());
            let report = interval::of_log(
                &store,
                clock,
                choose_machine::number(&store, self.machine.as_ref())?,
                self.task.as_deref(),
            )?;
            show::report(&report, self.json, |report| view::parts::interval::own(report, self.explain))?;
            return Ok(ExitCode::SUCCESS);
        };
        let report = interval::of_table(&table_file::read(table)?)
            .map_err(|error| table_file::failure(error, HOLDS))?;
        show::report(&report, self.json, |report| view::parts::interval::findings(report, self.explain))?;
        Ok(ExitCode::SUCCESS)
    }
}
