//! `speed`.

use std::process::ExitCode;

use clap::Args;

use super::{Failure, Surroundings};

/// Tears by speed, with how sure that is.
#[derive(Debug, Args)]
pub struct Speed {
    /// One JSON object on standard output and nothing else.
    #[arg(long)]
    json: bool,
}

impl Speed {
    /// Runs the command.
    pub fn run(self, _around: &Surroundings) -> Result<ExitCode, Failure> {
        Err(Failure::other("unbuilt", "this command is not built yet", "Wait for it."))
    }
}
