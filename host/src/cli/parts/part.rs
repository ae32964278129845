//! `part`.

use std::process::ExitCode;

use clap::{Args, Subcommand, ValueEnum};

use crate::app::parts::part::{self, PartSaid};
use crate::app::ports::{Clock, Store};
use crate::app::typed::choose_machine::{self, MachineSaid};
use crate::app::typed::dates;
use crate::cli::shell::command_env::CommandEnv;
use crate::cli::shell::failure::Failure;
use crate::cli::shell::show;
use crate::view;
use host_core::entries::{EntryId, TakenOff};

/// Parts that wear: what is on the machine and how long it ran; note a change.
///
/// Switch off, unplug (or shut the air off and take the hose off), and wait until everything stands still before you change a
/// part.
#[derive(Debug, Args)]
#[command(args_conflicts_with_subcommands = true)]
pub struct Part {
    #[command(subcommand)]
    change: Option<Change>,
    /// Only this machine.
    #[arg(long, value_name = "MACHINE")]
    machine: Option<MachineSaid>,
    /// Parts that were taken off, too.
    #[arg(long)]
    all: bool,
    /// One JSON object on standard output and nothing else.
    #[arg(long)]
    json: bool,
}

#[derive(Debug, Subcommand)]
enum Change {
    /// Note that a part was fitted. A new one does the care that looks after it, and comes out of the stock if it is kept there.
    Fit {
        #[command(flatten)]
        said: Said,
        /// Why the one before it was taken off at the same moment.
        #[arg(long, value_enum, value_name = "WHY")]
        replaces: Option<Why>,
        /// It did not come out of the drawer: leave the stock as it is.
        #[arg(long)]
        not_from_stock: bool,
    },
    /// Note that a part was taken off.
    Off {
        #[command(flatten)]
        said: Said,
        /// Why. Only wear ends its life; everything else says that it would have lasted longer.
        #[arg(long, value_enum, value_name = "WHY")]
        because: Why,
    },
    /// Take an entry of a part back, by its number; it stays visible.
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

#[derive(Debug, Args)]
struct Said {
    /// Which: needle, scissors, belt, carbon-brushes, or a name of your own.
    part: String,
    /// Your mark on it; the same mark fitted again is the same part.
    #[arg(long, value_name = "MARK")]
    serial: Option<String>,
    /// Which machine, by name or number, if there are several.
    #[arg(long, value_name = "MACHINE")]
    machine: Option<MachineSaid>,
    /// When: today, "yesterday 18:30", friday, "26 Nov", 28.9.2026, "2 days ago". Left out: now.
    #[arg(long, value_name = "DATE")]
    when: Option<String>,
    /// Anything else.
    #[arg(long)]
    note: Option<String>,
    /// One JSON object on standard output and nothing else.
    #[arg(long)]
    json: bool,
}

/// Why a part went.
#[derive(Clone, Copy, Debug, ValueEnum)]
pub enum Why {
    /// It was worn out.
    WornOut,
    /// It struck something hard: a staple, the frame, a gripper strip.
    Strike,
    /// Another accident: dropped, bent, broken by hand.
    Accident,
    /// It is lost.
    Lost,
    /// It still worked, but its time seemed to have come.
    Precaution,
    /// It is still good and may be fitted again.
    StillGood,
}

impl From<Why> for TakenOff {
    fn from(why: Why) -> Self {
        match why {
            Why::WornOut => Self::WornOut,
            Why::Strike => Self::Strike,
            Why::Accident => Self::Accident,
            Why::Lost => Self::Lost,
            Why::Precaution => Self::Precaution,
            Why::StillGood => Self::StillGood,
        }
    }
}

impl Part {
    /// Runs the command.
    pub fn run(self, around: &CommandEnv) -> Result<ExitCode, Failure> {
        let (mut store, clock) = (around.open_database()?, around.clock());
        let zone = clock.zone();
        let (changed, json) = match self.change {
            None => {
                let list = part::list(&store, clock, choose_machine::number(&store, self.machine.as_ref())?)?;
                show::report(&list, self.json, |list| view::parts::part::list(list, self.all, &zone))?;
                return Ok(ExitCode::SUCCESS);
            }
            Some(Change::Withdraw { entry, reason, json }) => {
                let report = part::withdraw(&mut store, clock, EntryId(entry), &reason)?;
                show::report(&report, json, view::care::done::withdrawn)?;
                return Ok(ExitCode::SUCCESS);
            }
            Some(Change::Fit { said, replaces, not_from_stock }) => {
                let (json, said) = (said.json, said.parsed(&store, clock)?);
                let said = PartSaid { not_from_stock, ..said };
                (part::fit(&mut store, clock, &said, replaces.map(TakenOff::from))?, json)
            }
            Some(Change::Off { said, because }) => {
                let (json, said) = (said.json, said.parsed(&store, clock)?);
                (part::off(&mut store, clock, &said, because.into())?, json)
            }
        };
        show::report(&changed, json, |changed| view::parts::part::changed(changed, &zone))?;
        Ok(ExitCode::SUCCESS)
    }
}

impl Said {
    fn parsed(self, store: &impl Store, clock: &impl Clock) -> Result<PartSaid, Failure> {
        let at = dates::moment(self.when.as_deref(), clock)?;
        Ok(PartSaid {
            part: self.part,
            serial: self.serial,
            machine: choose_machine::number(store, self.machine.as_ref())?,
            at,
            note: self.note,
            not_from_stock: false,
        })
    }
}
