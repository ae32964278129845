//! `rug`.

use std::process::ExitCode;

use clap::Args;

use super::{Failure, Surroundings};

/// Commissions: order, start, pause, finish.
#[derive(Debug, Args)]
pub struct Rug {
    /// One JSON object on standard output and nothing else.
    #[arg(long)]
    json: bool,
}

impl Rug {
    /// Runs the command.
    pub fn run(self, _around: &Surroundings) -> Result<ExitCode, Failure> {
        Err(Failure::other("unbuilt", "this command is not built yet", "Wait for it."))
    }
}
