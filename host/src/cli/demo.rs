//! `demo`.

use std::process::ExitCode;

use clap::Args;

use super::{Failure, Surroundings};

/// Shows the whole way without any hardware, in a studio that is made up.
#[derive(Debug, Args)]
pub struct Demo {
    /// One JSON object on standard output and nothing else.
    #[arg(long)]
    json: bool,
}

impl Demo {
    /// Runs the command.
    pub fn run(self, _around: &Surroundings) -> Result<ExitCode, Failure> {
        Err(Failure::other("unbuilt", "this command is not built yet", "Wait for it."))
    }
}
