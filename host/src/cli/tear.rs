//! `tear`.

use std::process::ExitCode;

use clap::Args;

use super::{Failure, Surroundings};

/// Notes a torn cloth or a near-miss.
#[derive(Debug, Args)]
pub struct Tear {
    /// One JSON object on standard output and nothing else.
    #[arg(long)]
    json: bool,
}

impl Tear {
    /// Runs the command.
    pub fn run(self, _around: &Surroundings) -> Result<ExitCode, Failure> {
        Err(Failure::other("unbuilt", "this command is not built yet", "Wait for it."))
    }
}
