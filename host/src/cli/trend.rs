//! `trend`.

use std::path::PathBuf;
use std::process::ExitCode;

use clap::{Args, ValueEnum};

use super::{Failure, show, table_file};
use crate::app::fault_trend::{self, Ending, Level};
use crate::view;

const HOLDS: &str = "The column hours holds the machine's run hours at each fault, in order; the last row is the end of observation, \
                     or the last fault with --ends failure.";

/// Whether faults come more often the longer the machine has run.
#[derive(Debug, Args)]
pub struct Trend {
    /// The machine's run hours at each fault: one column, hours.
    #[arg(long, value_name = "FILE")]
    table: PathBuf,
    /// What the last row is: the moment until which you looked, or the last fault itself.
    #[arg(long, value_enum, default_value = "time")]
    ends: Ends,
    /// How sure the limits are to hold the truth.
    #[arg(long, value_name = "SHARE", default_value = "0.9", value_parser = level)]
    level: Level,
    /// Show the figures behind the words.
    #[arg(long)]
    explain: bool,
    /// One JSON object on standard output and nothing else.
    #[arg(long)]
    json: bool,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
enum Ends {
    /// The moment until which you looked.
    Time,
    /// The last fault.
    Failure,
}

fn level(words: &str) -> Result<Level, String> {
    words
        .parse::<f64>()
        .ok()
        .and_then(Level::new)
        .ok_or_else(|| "it must be a share above 0 and below 1, such as 0.9".to_owned())
}

impl Trend {
    /// Runs the command.
    pub fn run(self) -> Result<ExitCode, Failure> {
        let ending = match self.ends {
            Ends::Time => Ending::Time,
            Ends::Failure => Ending::Failure,
        };
        let report = fault_trend::of_table(&table_file::read(&self.table)?, ending, self.level)
            .map_err(|error| table_file::failure(&error, HOLDS))?;
        show::report(&report, self.json, |report| view::fault_trend::faults(report, self.explain))?;
        Ok(ExitCode::SUCCESS)
    }
}
