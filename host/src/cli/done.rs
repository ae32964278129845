//! `done`.

use std::process::ExitCode;

use clap::Args;

use super::{Failure, Surroundings};

/// Says that care was given.
#[derive(Debug, Args)]
pub struct Done {
    /// One JSON object on standard output and nothing else.
    #[arg(long)]
    json: bool,
}

impl Done {
    /// Runs the command.
    pub fn run(self, _around: &Surroundings) -> Result<ExitCode, Failure> {
        Err(Failure::other("unbuilt", "this command is not built yet", "Wait for it."))
    }
}
