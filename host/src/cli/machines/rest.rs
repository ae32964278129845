//! `machine rest` and `machine remove`.

use clap::Args;

use crate::app::machines::{remove, rest};
use crate::app::ports::Clock;
use crate::app::typed::choose_machine::MachineSaid;
use crate::cli::shell::failure::Failure;
use crate::cli::shell::show;
use crate::store::Database;
use crate::view;

/// Take a machine out of use, or back into use. Its care is not asked for meanwhile; everything noted of it stays.
#[derive(Debug, Args)]
pub struct Rest {
    /// Which machine.
    #[arg(value_name = "MACHINE")]
    number: MachineSaid,
    /// Why, for example "gear broken".
    #[arg(required_unless_present = "back", conflicts_with = "back")]
    reason: Option<String>,
    /// It is in use again.
    #[arg(long)]
    back: bool,
    /// One JSON object on standard output and nothing else.
    #[arg(long)]
    json: bool,
}

impl Rest {
    /// Runs the command.
    ///
    /// # Errors
    /// When it is so already, or the database does not take it.
    pub fn run(self, store: &mut Database, clock: &impl Clock) -> Result<(), Failure> {
        let number = self.number.number(store)?;
        let report = match &self.reason {
            Some(reason) => rest::rest(store, clock, number, reason)?,
            None => rest::back(store, clock, number)?,
        };
        show::report(&report, self.json, view::machines::machine::rested)
    }
}

/// Remove a machine of which nothing is noted, such as one entered by mistake; its entry stays visible as taken back.
#[derive(Debug, Args)]
pub struct Remove {
    /// Which machine.
    #[arg(value_name = "MACHINE")]
    number: MachineSaid,
    /// One JSON object on standard output and nothing else.
    #[arg(long)]
    json: bool,
}

impl Remove {
    /// Runs the command.
    ///
    /// # Errors
    /// When anything is noted of it, or the database does not take it.
    pub fn run(self, store: &mut Database, clock: &impl Clock) -> Result<(), Failure> {
        let number = self.number.number(store)?;
        let removed = remove::remove(store, clock, number)?;
        show::report(&removed, self.json, view::machines::machine::removed)
    }
}
