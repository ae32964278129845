//! `due`.

use std::process::ExitCode;

use clap::Args;

use super::{Failure, Surroundings};

/// What care the machine needs now, and what next.
#[derive(Debug, Args)]
pub struct Due {
    /// One JSON object on standard output and nothing else.
    #[arg(long)]
    json: bool,
}

impl Due {
    /// Runs the command.
    pub fn run(self, _around: &Surroundings) -> Result<ExitCode, Failure> {
        Err(Failure::other("unbuilt", "this command is not built yet", "Wait for it."))
    }
}
