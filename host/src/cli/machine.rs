//! `machine`.

use std::process::ExitCode;

use clap::Args;

use super::{Failure, Surroundings};

/// Machines, the loggers on them, and their knobs.
#[derive(Debug, Args)]
pub struct Machine {
    /// One JSON object on standard output and nothing else.
    #[arg(long)]
    json: bool,
}

impl Machine {
    /// Runs the command.
    pub fn run(self, _around: &Surroundings) -> Result<ExitCode, Failure> {
        Err(Failure::other("unbuilt", "this command is not built yet", "Wait for it."))
    }
}
