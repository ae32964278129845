//! `trend`.

use std::path::PathBuf;
use std::process::ExitCode;

use clap::{Args, Subcommand, ValueEnum};

use crate::app::parts::fault_trend::{self, FaultSaid};
use crate::app::ports::Clock as _;
use crate::app::typed::choose_machine::{self, MachineSaid};
use crate::app::typed::dates;
use crate::cli::shell::command_env::CommandEnv;
use crate::cli::shell::failure::Failure;
use crate::cli::shell::numbers::level;
use crate::cli::shell::{show, table_file};
use crate::view;
use host_core::entries::EntryId;
use host_core::stats::{Ending, Level};

const HOLDS: &str = "The column hours holds the machine's run hours at each fault, in order; the last row is the end of observation, \
                     or the last fault with --ends failure.";

/// Whether faults come more often the longer the machine has run.
///
/// Without a table the faults are those noted with `trend add`: what failed at work and was mended. A part changed in time is none.
#[derive(Debug, Args)]
#[command(args_conflicts_with_subcommands = true)]
pub struct Trend {
    #[command(subcommand)]
    change: Option<Change>,
    /// Faults from a notebook instead of the log: the machine's run hours at each, in one column, hours.
    #[arg(long, value_name = "FILE", conflicts_with = "machine")]
    table: Option<PathBuf>,
    /// Which machine, by name or number, if there are several.
    #[arg(long, value_name = "MACHINE")]
    machine: Option<MachineSaid>,
    /// What the last row is: the moment until which you looked, or the last fault itself.
    #[arg(long, value_enum, default_value = "time", requires = "table")]
    ends: Ends,
    /// How sure the limits are to hold the truth.
    #[arg(long, value_name = "SHARE", default_value = "0.9", value_parser = level)]
    level: Level,
    /// Show the figures behind the words.
    #[arg(long)]
    explain: bool,
    /// One JSON object on standard output and nothing else.
    #[arg(long)]
    json: bool,
}

#[derive(Debug, Subcommand)]
enum Change {
    /// Note that something on the machine failed at work and was mended.
    Add {
        /// What failed, for example "belt slipped".
        what: String,
        /// What was done about it.
        #[arg(long, value_name = "WORDS")]
        mended: Option<String>,
        /// Which machine, by name or number, if there are several.
        #[arg(long, value_name = "MACHINE")]
        machine: Option<MachineSaid>,
        /// When: today, "yesterday 18:30", friday, "26 Nov", 28.9.2026, "2 days ago". Left out: now.
        #[arg(long, value_name = "DATE")]
        when: Option<String>,
        /// One JSON object on standard output and nothing else.
        #[arg(long)]
        json: bool,
    },
    /// Take a fault back, by its number; it stays visible.
    #[command(hide = true)]
    Withdraw {
        /// Its number.
        entry: i64,
        /// Why.
        #[arg(long)]
        reason: String,
        /// One JSON object on standard output and nothing else.
        #[arg(long)]
        json: bool,
    },
}

#[derive(Clone, Copy, Debug, ValueEnum)]
enum Ends {
    /// The moment until which you looked.
    Time,
    /// The last fault.
    Failure,
}

impl Trend {
    /// Runs the command.
    pub fn run(self, around: &CommandEnv) -> Result<ExitCode, Failure> {
        if let Some(change) = self.change {
            return change.run(around);
        }
        let Some(table) = &self.table else {
            let (store, clock) = (around.open_database()?, around.clock());
            let own = fault_trend::of_log(
                &store,
                clock,
                choose_machine::number(&store, self.machine.as_ref())?,
                self.level,
            )?;
            show::report(&own, self.json, |own| {
                view::parts::fault_trend::own(own, self.explain, &clock.zone())
            })?;
            return Ok(ExitCode::SUCCESS);
        };
        let ending = match self.ends {
            Ends::Time => Ending::Time,
            Ends::Failure => Ending::Failure,
        };
        let report = fault_trend::of_table(&table_file::read(table)?, ending, self.level)
            .map_err(|error| table_file::failure(error, HOLDS))?;
        show::report(&report, self.json, |report| view::parts::fault_trend::faults(report, self.explain))?;
        Ok(ExitCode::SUCCESS)
    }
}

impl Change {
    fn run(self, around: &CommandEnv) -> Result<ExitCode, Failure> {
        let (mut store, clock) = (around.open_database()?, around.clock());
        match self {
            Self::Add { what, mended, machine, when, json } => {
                let at = dates::moment(when.as_deref(), clock)?;
                let machine = choose_machine::number(&store, machine.as_ref())?;
                let noted = fault_trend::add(&mut store, clock, &FaultSaid { what, mended, machine, at })?;
                show::report(&noted, json, |noted| view::parts::fault_trend::noted(noted, &clock.zone()))?;
            }
            Self::Withdraw { entry, reason, json } => {
                let report = fault_trend::withdraw(&mut store, clock, EntryId(entry), &reason)?;
                show::report(&report, json, view::care::done::withdrawn)?;
            }
        }
        Ok(ExitCode::SUCCESS)
    }
}
