//! `hours`.

use std::process::ExitCode;

use clap::Args;

use super::{Failure, Surroundings};

/// Machine hours per commission, and hours written by hand.
#[derive(Debug, Args)]
pub struct Hours {
    /// One JSON object on standard output and nothing else.
    #[arg(long)]
    json: bool,
}

impl Hours {
    /// Runs the command.
    pub fn run(self, _around: &Surroundings) -> Result<ExitCode, Failure> {
        Err(Failure::other("unbuilt", "this command is not built yet", "Wait for it."))
    }
}
