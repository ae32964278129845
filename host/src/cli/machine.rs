//! `machine`.

use std::process::ExitCode;

use clap::{Args, Subcommand, ValueEnum};
use shared_types::{LoggerId, RecordSeq};

use super::{Failure, Surroundings, calibrate, lend, show};
use crate::app::dates;
use crate::app::machine::{self, KnobEnds, NewMachine};
use crate::app::ports::Store;
use crate::core::entries;
use crate::view;

/// Machines, the loggers on them, and their knobs.
#[derive(Debug, Args)]
#[command(args_conflicts_with_subcommands = true)]
pub struct Machine {
    #[command(subcommand)]
    command: Option<MachineCommand>,
    /// One JSON object on standard output and nothing else.
    #[arg(long)]
    json: bool,
}

#[derive(Debug, Subcommand)]
enum MachineCommand {
    Add(Add),
    List(List),
    Calibrate(Calibrate),
    Ratio(Ratio),
    Fit(Fit),
    Lend(lend::Lend),
    Back(lend::Back),
    Loans(lend::Loans),
    Spread(lend::Spread),
}

/// Enter a machine.
#[derive(Debug, Args)]
struct Add {
    /// Its name.
    name: String,
    /// What kind of pile it makes.
    #[arg(long, value_enum, default_value_t = Pile::Cut)]
    pile: Pile,
    /// Your own estimate of the hours it has run so far; kept apart in every sum.
    #[arg(long, value_name = "HOURS")]
    hours_before: Option<u32>,
    /// Since when it is in the studio. Left out: today.
    #[arg(long, value_name = "DATE")]
    since: Option<String>,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
enum Pile {
    /// Scissors cut every tuft.
    Cut,
    /// Loops stay whole.
    Loop,
    /// Either, by taking the scissors out.
    Both,
}

/// List the machines.
#[derive(Debug, Args)]
struct List {
    /// One JSON object on standard output and nothing else.
    #[arg(long)]
    json: bool,
}

/// Enter the angles at the two ends of the speed knob. Without angles, the logger reads them while you turn the knob.
#[derive(Debug, Args)]
struct Calibrate {
    /// The angle at the slow end, 0 to 4095.
    #[arg(long, value_name = "ANGLE", requires = "fast")]
    slow: Option<u32>,
    /// The angle at the fast end, 0 to 4095.
    #[arg(long, value_name = "ANGLE", requires = "slow")]
    fast: Option<u32>,
    /// The angle falls from the slow end to the fast end.
    #[arg(long, requires = "slow")]
    falling: bool,
    /// The port on which the logger is, where it reads the angles; needed only when it is not found by itself.
    #[arg(long, value_name = "PORT", conflicts_with = "slow")]
    port: Option<String>,
    /// Which machine; can be left out when there is only one.
    #[arg(long, value_name = "NUMBER")]
    machine: Option<u32>,
}

/// Enter how many passes of a magnet make how many strokes.
#[derive(Debug, Args)]
struct Ratio {
    /// Passes of a magnet.
    #[arg(long)]
    edges: u32,
    /// Strokes that they make.
    #[arg(long, default_value_t = 1)]
    strokes: u32,
    /// Which machine; can be left out when there is only one.
    #[arg(long, value_name = "NUMBER")]
    machine: Option<u32>,
}

/// Say on which machine a logger sits.
#[derive(Debug, Args)]
struct Fit {
    /// Which machine; can be left out when there is only one.
    #[arg(long, value_name = "NUMBER")]
    machine: Option<u32>,
    /// Which logger, by the letters and digits that `needlehours machine list` shows; can be left out when there is
    /// only one.
    #[arg(long, value_name = "LOGGER", value_parser = logger)]
    logger: Option<LoggerId>,
    /// From which record number on. Left out: from its first record when it never sat anywhere, else from the next.
    #[arg(long, value_name = "NUMBER")]
    from_record: Option<u32>,
}

fn logger(text: &str) -> Result<LoggerId, std::num::ParseIntError> {
    u64::from_str_radix(text.trim(), 16).map(LoggerId)
}

impl Machine {
    /// Runs the command.
    pub fn run(self, around: &Surroundings) -> Result<ExitCode, Failure> {
        let mut store = around.open_database()?;
        let clock = around.clock();
        let told = match self.command {
            None => list(&store, self.json),
            Some(MachineCommand::List(List { json })) => list(&store, json || self.json),
            Some(MachineCommand::Add(add)) => {
                let pile = match add.pile {
                    Pile::Cut => entries::Pile::Cut,
                    Pile::Loop => entries::Pile::Loop,
                    Pile::Both => entries::Pile::CutAndLoop,
                };
                let since = dates::given(add.since.as_deref(), clock)?;
                let name = add.name.clone();
                let new = NewMachine { name: add.name, pile, hours_before: add.hours_before, since };
                let number = machine::add(&mut store, clock, new)?;
                show::words(&view::machine::added(number.0, name.trim()))
            }
            Some(MachineCommand::Calibrate(Calibrate { slow, fast, falling, port, machine })) => {
                let ends = match slow.zip(fast) {
                    Some((slow, fast)) => KnobEnds { slow, fast, falling },
                    None => calibrate::guided(port.as_deref())?,
                };
                let marks = machine::calibrate(&mut store, clock, machine, ends)?;
                show::words(&view::machine::calibrated(&marks))
            }
            Some(MachineCommand::Ratio(Ratio { edges, strokes, machine })) => {
                let set = machine::set_ratio(&mut store, clock, machine, edges, strokes)?;
                show::words(&view::machine::ratio_set(&set))
            }
            Some(MachineCommand::Lend(lend)) => lend.run(&mut store, around),
            Some(MachineCommand::Back(back)) => back.run(&mut store, around),
            Some(MachineCommand::Loans(loans)) => loans.run(&store, around),
            Some(MachineCommand::Spread(spread)) => spread.run(&store, around),
            Some(MachineCommand::Fit(fit)) => {
                let from = fit.from_record.map(RecordSeq);
                let (fitting, claimed) = machine::fit(&mut store, clock, fit.machine, fit.logger, from)?;
                show::words(&view::machine::fitted(&fitting, claimed.as_ref()))
            }
        };
        told.map(|()| ExitCode::SUCCESS)
    }
}

fn list(store: &impl Store, json: bool) -> Result<(), Failure> {
    let list = machine::list(store)?;
    show::report(&list, json, view::machine::list)
}
