//! `pull`.

use std::process::ExitCode;

use clap::Args;

use super::{Failure, Surroundings};

/// Reads a logger, or a log file saved earlier, and keeps every record.
#[derive(Debug, Args)]
pub struct Pull {
    /// One JSON object on standard output and nothing else.
    #[arg(long)]
    json: bool,
}

impl Pull {
    /// Runs the command.
    pub fn run(self, _around: &Surroundings) -> Result<ExitCode, Failure> {
        Err(Failure::other("unbuilt", "this command is not built yet", "Wait for it."))
    }
}
