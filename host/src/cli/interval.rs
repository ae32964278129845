//! `interval`.

use std::path::PathBuf;
use std::process::ExitCode;

use clap::Args;

use super::{Failure, show, table_file};
use crate::app::interval;
use crate::view;

const HOLDS: &str = "One row is one look: hours,dirty - hours since it was last done, 1 dirty or 0 clean.";

/// Whether the interval of a care task is right, from what was found.
#[derive(Debug, Args)]
pub struct Interval {
    /// Findings: hours,dirty - hours since it was last done, 1 dirty or 0 clean.
    #[arg(long, value_name = "FILE")]
    table: PathBuf,
    /// Show the figures behind the words.
    #[arg(long)]
    explain: bool,
    /// One JSON object on standard output and nothing else.
    #[arg(long)]
    json: bool,
}

impl Interval {
    /// Runs the command.
    pub fn run(self) -> Result<ExitCode, Failure> {
        let report = interval::of_table(&table_file::read(&self.table)?)
            .map_err(|error| table_file::failure(&error, HOLDS))?;
        show::report(&report, self.json, |report| view::interval::findings(report, self.explain))?;
        Ok(ExitCode::SUCCESS)
    }
}
