//! `slowing`.

use std::process::ExitCode;

use clap::Args;

use super::shell::command_env::CommandEnv;
use super::shell::failure::Failure;
use super::shell::show;
use crate::app::ports::Clock as _;
use crate::app::slowing;
use crate::app::typed::choose_machine::{self, MachineSaid};
use crate::app::typed::dates;
use crate::view;

/// Whether the machine is slowing down at the same place of the knob.
///
/// Dry runs after oiling are compared with the machine's own freshly oiled value; sessions with its own knob curve, within each
/// rug, so that cloth and yarn are not called a fault.
#[derive(Debug, Args)]
pub struct Slowing {
    /// Which machine, by name or number, if there are several.
    #[arg(long, value_name = "MACHINE")]
    machine: Option<MachineSaid>,
    /// Only from this day on, for example after a repair: the machine is taken as well from then.
    #[arg(long, value_name = "DATE")]
    since: Option<String>,
    /// Show the figures behind the words.
    #[arg(long)]
    explain: bool,
    /// One JSON object on standard output and nothing else.
    #[arg(long)]
    json: bool,
}

impl Slowing {
    /// Runs the command.
    pub fn run(self, around: &CommandEnv) -> Result<ExitCode, Failure> {
        let (store, clock) = (around.open_database()?, around.clock());
        let since = dates::given(self.since.as_deref(), clock)?;
        let machine = choose_machine::number(&store, self.machine.as_ref())?;
        let report = slowing::slowing(&store, clock, machine, since)?;
        let zone = clock.zone();
        show::report(&report, self.json, |report| view::slowing::slowing(report, self.explain, &zone))?;
        Ok(ExitCode::SUCCESS)
    }
}
