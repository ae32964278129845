//! `machine rest` and `machine remove`.

use clap::Args;

use crate::app::machines::{remove, rest};
use crate::app::ports::Clock;
use crate::cli::shell::failure::Failure;
use crate::cli::shell::show;
use crate::store::Database;
use crate::view;

/// Take a machine out of use, or back into use. Its care is not asked for meanwhile; everything noted of it stays.
#[derive(Debug, Args)]
pub struct Rest {
    /// Which machine.
    number: u32,
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
        let report = match &self.reason {
            Some(reason) => rest::rest(store, clock, self.number, reason)?,
            None => rest::back(store, clock, self.number)?,
        };
        show::report(&report, self.json, view::machines::machine::rested)
    }
}

/// Remove a machine of which nothing is noted, such as one entered by mistake; its entry stays visible as taken back.
#[derive(Debug, Args)]
pub struct Remove {
    /// Which machine.
    number: u32,
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
        let removed = remove::remove(store, clock, self.number)?;
        show::report(&removed, self.json, view::machines::machine::removed)
    }
}
