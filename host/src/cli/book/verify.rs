//! `verify`.

use std::process::ExitCode;

use clap::Args;

use crate::app::book::verify;
use crate::app::ports::book::Chained as _;
use crate::cli::shell::command_env::CommandEnv;
use crate::cli::shell::failure::Failure;
use crate::cli::shell::{exit, show};
use crate::view;

/// Check that nothing that was kept was changed afterwards; with a head from a printed record book, nothing before it.
#[derive(Debug, Args)]
pub struct Verify {
    /// A head as a record book or an earlier check printed it; blanks do not matter.
    #[arg(long, value_name = "HEAD", num_args = 1..)]
    against: Vec<String>,
    /// First make the sums anew from the loggers' records.
    #[arg(long)]
    renew: bool,
    /// One JSON object on standard output and nothing else.
    #[arg(long)]
    json: bool,
}

impl Verify {
    /// Runs the command.
    pub fn run(self, around: &CommandEnv) -> Result<ExitCode, Failure> {
        let mut store = around.open_database()?;
        if self.renew {
            store.renew_summaries()?;
            if !self.json {
                show::words(view::book::verify::renewed())?;
            }
        }
        let against = (!self.against.is_empty()).then(|| self.against.join(" "));
        let report = verify::verify(&store, against.as_deref())?;
        show::report(&report, self.json, view::book::verify::text)?;
        Ok(exit::code(if report.is_fine { exit::FINE } else { exit::RECORD_CHANGED }))
    }
}
