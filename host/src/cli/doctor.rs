//! `doctor`.

use std::process::ExitCode;

use clap::Args;

use super::{Failure, Surroundings};

/// Looks for what is wrong with ports, rights, logger and database.
#[derive(Debug, Args)]
pub struct Doctor {
    /// One JSON object on standard output and nothing else.
    #[arg(long)]
    json: bool,
}

impl Doctor {
    /// Runs the command.
    pub fn run(self, _around: &Surroundings) -> Result<ExitCode, Failure> {
        Err(Failure::other("unbuilt", "this command is not built yet", "Wait for it."))
    }
}
