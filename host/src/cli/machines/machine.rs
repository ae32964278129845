//! `machine`.

use std::error::Error;
use std::process::ExitCode;

use clap::{Args, Subcommand};
use shared_types::{LoggerId, RecordSeq};

use super::add::{self, Drive, Pile, Said};
use super::{lend, rest};
use crate::app::care::plan;
use crate::app::logger::live::KnobEnds;
use crate::app::logger::refit::{self, Refit};
use crate::app::machines::change::{self, MachineChange};
use crate::app::machines::machine;
use crate::app::ports::{Clock, Store};
use crate::app::typed::choose_machine::{self, MachineSaid};
use crate::app::typed::dates;
use crate::cli::logger;
use crate::cli::shell::command_env::CommandEnv;
use crate::cli::shell::failure::Failure;
use crate::cli::shell::{ask, show};
use crate::store::Database;
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
    Add(add::Add),
    Change(Change),
    Remove(rest::Remove),
    Rest(rest::Rest),
    List(List),
    Calibrate(Calibrate),
    Ratio(Ratio),
    Fit(Fit),
    PileHeight(PileHeight),
    Lend(lend::Lend),
    Back(lend::Back),
    Loans(lend::Loans),
    Spread(lend::Spread),
}

/// Note that the pile height was changed; the scissors want a look then.
#[derive(Debug, Args)]
struct PileHeight {
    /// The new height, for example 12mm or 12.5.
    #[arg(value_parser = millimetres)]
    height: u32,
    /// When: today, "yesterday 18:30", friday, "26 Nov", 28.9.2026, "2 days ago". Left out: now.
    #[arg(long, value_name = "DATE")]
    when: Option<String>,
    /// Which machine; can be left out when there is only one.
    #[arg(long, value_name = "MACHINE")]
    machine: Option<MachineSaid>,
    /// One JSON object on standard output and nothing else.
    #[arg(long)]
    json: bool,
}

/// Tenths of a millimetre from "12mm", "12 mm" or "12.5".
fn millimetres(text: &str) -> Result<u32, String> {
    let unclear = || format!("{text} is no height; write it as 12mm or 12.5mm");
    let number = text.trim().trim_end_matches("mm").trim_end();
    let (whole, tenth) = number.split_once(['.', ',']).unwrap_or((number, "0"));
    let digits = |part: &str| part.len() <= 4 && part.chars().all(|digit| digit.is_ascii_digit());
    if !digits(whole) || tenth.len() != 1 || !digits(tenth) {
        return Err(unclear());
    }
    let part = |part: &str| part.parse::<u32>().map_err(|_| unclear());
    Ok(part(whole)? * 10 + part(tenth)?)
}

/// Put right what was said of a machine. What is left out stays as it was; the old entry stays visible in its record book.
#[derive(Debug, Args)]
struct Change {
    /// Which machine; can be left out when there is only one.
    #[arg(value_name = "MACHINE")]
    number: Option<MachineSaid>,
    /// Its name.
    #[arg(long)]
    name: Option<String>,
    /// What kind of pile it makes.
    #[arg(long, value_enum)]
    pile: Option<Pile>,
    /// What moves its needle.
    #[arg(long, value_enum)]
    drive: Option<Drive>,
    /// Your own estimate of the hours it had run before; kept apart in every sum.
    #[arg(long, value_name = "HOURS")]
    hours_before: Option<u32>,
    /// Since when it is in the studio.
    #[arg(long, value_name = "DATE")]
    since: Option<String>,
    #[command(flatten)]
    said: Said,
    /// It did not come second-hand, or the age of its parts is known.
    #[arg(long, conflicts_with = "second_hand")]
    not_second_hand: bool,
    /// One JSON object on standard output and nothing else.
    #[arg(long)]
    json: bool,
}

impl Change {
    fn run(self, store: &mut Database, clock: &impl Clock) -> Result<(), Failure> {
        let changed = MachineChange {
            machine: choose_machine::number(store, self.number.as_ref())?,
            name: self.name,
            pile: self.pile.map(Into::into),
            drive: self.drive.map(Into::into),
            hours_before: self.hours_before,
            since: dates::given(self.since.as_deref(), clock)?,
            has_logger: self.said.has_logger(),
            is_second_hand: self.said.is_second_hand().or(self.not_second_hand.then_some(false)),
        };
        let holds = change::change(store, clock, changed)?;
        show::report(&holds, self.json, |holds| view::machines::machine::changed(holds, &clock.zone()))
    }
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
    #[arg(long, value_name = "MACHINE")]
    machine: Option<MachineSaid>,
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
    #[arg(long, value_name = "MACHINE")]
    machine: Option<MachineSaid>,
}

/// Say on which machine a logger sits.
#[derive(Debug, Args)]
struct Fit {
    /// Which machine; can be left out when there is only one. 0: on none, until you say on which.
    #[arg(long, value_name = "MACHINE", value_parser = machine_or_none)]
    machine: Option<MachineSaid>,
    /// Which logger, by the letters and digits that `needlehours machine list` shows; can be left out when there is
    /// only one.
    #[arg(long, value_name = "LOGGER", value_parser = logger)]
    logger: Option<LoggerId>,
    /// From which record number on. Left out: from its first record when it never sat anywhere, else from the next.
    #[arg(long, value_name = "NUMBER")]
    from_record: Option<u32>,
    /// Also when it takes running from a machine to which it is counted; without it, that is asked or refused.
    #[arg(long)]
    yes: bool,
    /// One JSON object on standard output and nothing else.
    #[arg(long)]
    json: bool,
}

/// A machine, or 0 for none.
fn machine_or_none(text: &str) -> Result<MachineSaid, Box<dyn Error + Send + Sync>> {
    if text.trim() == "0" { Ok(MachineSaid::Number(0)) } else { text.parse() }
}

impl Fit {
    fn run(self, store: &mut Database, clock: &impl Clock) -> Result<(), Failure> {
        let from = self.from_record.map(RecordSeq);
        let asked = Refit {
            machine: choose_machine::number(store, self.machine.as_ref())?,
            logger: self.logger,
            from,
        };
        let plan = refit::plan(store, clock, asked)?;
        if plan.takes_hours() && !self.json {
            show::words(&view::machines::machine::moves(&plan))?;
        }
        let is_agreed = self.yes || (plan.takes_hours() && !self.json && agrees());
        refit::carry_out(store, clock, &plan, is_agreed)?;
        show::report(&plan, self.json, view::machines::machine::fitted)
    }
}

/// Asks whether hours shall move; nobody there means no.
fn agrees() -> bool {
    if !ask::somebody_is_there() {
        return false;
    }
    let question = "Move them? Everything stays on record, and it can be moved back. [y yes, Enter no] ";
    ask::is_yes(&mut std::io::stdin().lock(), &mut std::io::stdout(), question, false)
}

fn logger(text: &str) -> Result<LoggerId, String> {
    let no_logger = |_| {
        format!(
            "\"{text}\" is no logger; copy its digits and letters from a to f from `needlehours machine list`"
        )
    };
    u64::from_str_radix(text.trim(), 16).map(LoggerId).map_err(no_logger)
}

impl Machine {
    /// Runs the command.
    pub fn run(self, around: &CommandEnv) -> Result<ExitCode, Failure> {
        let mut store = around.open_database()?;
        let clock = around.clock();
        let told = match self.command {
            None => list(&store, self.json, clock),
            Some(MachineCommand::List(List { json })) => list(&store, json || self.json, clock),
            Some(MachineCommand::Add(add)) => add.run(&mut store, clock),
            Some(MachineCommand::Change(change)) => change.run(&mut store, clock),
            Some(MachineCommand::Remove(remove)) => remove.run(&mut store, clock),
            Some(MachineCommand::Rest(rest)) => rest.run(&mut store, clock),
            Some(MachineCommand::Calibrate(Calibrate { slow, fast, falling, port, machine })) => {
                let ends = match slow.zip(fast) {
                    Some((slow, fast)) => KnobEnds { slow, fast, falling },
                    None => logger::guided(around, port.as_deref())?,
                };
                let machine = choose_machine::number(&store, machine.as_ref())?;
                let marks = machine::calibrate(&mut store, clock, machine, ends)?;
                show::words(&view::machines::machine::calibrated(&marks))
            }
            Some(MachineCommand::Ratio(Ratio { edges, strokes, machine })) => {
                let machine = choose_machine::number(&store, machine.as_ref())?;
                let set = machine::set_ratio(&mut store, clock, machine, edges, strokes)?;
                show::words(&view::machines::machine::ratio_set(&set))
            }
            Some(MachineCommand::Lend(lend)) => lend.run(&mut store, around),
            Some(MachineCommand::Back(back)) => back.run(&mut store, around),
            Some(MachineCommand::Loans(loans)) => loans.run(&store, around),
            Some(MachineCommand::Spread(spread)) => spread.run(&store, around),
            Some(MachineCommand::Fit(fit)) => fit.run(&mut store, clock),
            Some(MachineCommand::PileHeight(of)) => {
                let at = dates::moment(of.when.as_deref(), clock)?;
                let machine = choose_machine::number(&store, of.machine.as_ref())?;
                let report = plan::set_pile_height(&mut store, clock, machine, of.height, at)?;
                show::report(&report, of.json || self.json, view::care::record::pile_height)
            }
        };
        told.map(|()| ExitCode::SUCCESS)
    }
}

fn list(store: &impl Store, json: bool, clock: &impl Clock) -> Result<(), Failure> {
    let list = machine::list(store)?;
    show::report(&list, json, |list| view::machines::machine::list(list, &clock.zone()))
}
