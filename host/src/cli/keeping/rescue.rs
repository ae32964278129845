//! `rescue`.

use std::path::PathBuf;
use std::process::ExitCode;

use clap::Args;

use crate::app::ports::Clock as _;
use crate::cli::shell::command_env::CommandEnv;
use crate::cli::shell::failure::Failure;
use crate::cli::shell::{exit, show};
use crate::{store, view};

/// Put everything of a damaged database that reads as it was written into a new one; the damaged file stays as it is.
#[derive(Debug, Args)]
pub struct Rescue {
    /// The new database; a file that is not there yet. The damaged one is named with --db, or is the usual one.
    #[arg(value_name = "FILE")]
    into: PathBuf,
    /// One JSON object on standard output and nothing else.
    #[arg(long)]
    json: bool,
}

impl Rescue {
    /// Runs the command.
    pub fn run(self, around: &CommandEnv) -> Result<ExitCode, Failure> {
        let report = store::rescue(&around.database_path()?, &self.into, around.clock().now())?;
        show::report(&report, self.json, view::keeping::rescue::text)?;
        Ok(exit::code(if report.is_whole { exit::FINE } else { exit::RECORD_CHANGED }))
    }
}
