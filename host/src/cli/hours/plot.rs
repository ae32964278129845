//! `plot`.

use std::path::{Path, PathBuf};
use std::process::ExitCode;

use clap::{Args, Subcommand};
use serde::Serialize;

use crate::app::cloth::{cost, tears};
use crate::app::hours::plot;
use crate::app::ports::{Clock as _, Store};
use crate::app::slowing;
use crate::app::typed::choose_machine::{self, MachineSaid};
use crate::app::typed::counting::how_to_count;
use crate::cli::shell::command_env::CommandEnv;
use crate::cli::shell::failure::Failure;
use crate::cli::shell::show;
use crate::view;
use crate::view::plot::PlotError;
use host_core::cloth::speed_by::SpeedBy;
use host_core::stats::Level;
use host_core::studio::Studio;

/// Pictures, as SVG files.
#[derive(Debug, Args)]
pub struct Plot {
    #[command(subcommand)]
    command: PlotCommand,
}

#[derive(Debug, Subcommand)]
enum PlotCommand {
    Usage(Usage),
    Knob(Knob),
    Hours(Hours),
    Year(Year),
    Density(Density),
    Tears(Tears),
    Traces(Traces),
    Slowing(Slowing),
    Cost(Cost),
}

/// Of which machine a picture is, and whether its numbers are wanted instead.
#[derive(Debug, Args)]
struct OfOneMachine {
    /// Which machine, by name or number, if there are several.
    #[arg(long, value_name = "MACHINE")]
    machine: Option<MachineSaid>,
    /// Instead of the picture its numbers: one JSON object on standard output and nothing else.
    #[arg(long)]
    json: bool,
}

/// What a rug costs at each speed, with its range.
#[derive(Debug, Args)]
struct Cost {
    /// The file to write.
    #[arg(long, value_name = "FILE", default_value = "cost.svg")]
    out: PathBuf,
    #[command(flatten)]
    asked: OfOneMachine,
}

/// Tears for each 100,000 strokes, by where the speed knob stood, with the strokes behind them.
#[derive(Debug, Args)]
struct Tears {
    /// The file to write.
    #[arg(long, value_name = "FILE", default_value = "tears.svg")]
    out: PathBuf,
    #[command(flatten)]
    asked: OfOneMachine,
}

/// Where the knob stood in the seconds before tears, over moments drawn at random.
#[derive(Debug, Args)]
struct Traces {
    /// The file to write.
    #[arg(long, value_name = "FILE", default_value = "traces.svg")]
    out: PathBuf,
    #[command(flatten)]
    asked: OfOneMachine,
}

/// Stroke rates at the same place of the knob over time: dry runs and sessions.
#[derive(Debug, Args)]
struct Slowing {
    /// The file to write.
    #[arg(long, value_name = "FILE", default_value = "slowing.svg")]
    out: PathBuf,
    #[command(flatten)]
    asked: OfOneMachine,
}

/// Of each rug the time at the frame, the motor time in it, and the minutes of its tears.
#[derive(Debug, Args)]
struct Usage {
    /// The file to write.
    #[arg(long, value_name = "FILE", default_value = "usage.svg")]
    out: PathBuf,
    /// Only this machine.
    #[arg(long, value_name = "MACHINE")]
    machine: Option<MachineSaid>,
    /// Instead of the picture its numbers: one JSON object on standard output and nothing else.
    #[arg(long)]
    json: bool,
}

/// Motor time of each rug, by where the speed knob stood.
#[derive(Debug, Args)]
struct Knob {
    /// The file to write.
    #[arg(long, value_name = "FILE", default_value = "knob.svg")]
    out: PathBuf,
    /// Only this machine.
    #[arg(long, value_name = "MACHINE")]
    machine: Option<MachineSaid>,
    /// Instead of the picture its numbers: one JSON object on standard output and nothing else.
    #[arg(long)]
    json: bool,
}

/// A machine's running hours as they grew, with the care that was given.
#[derive(Debug, Args)]
struct Hours {
    /// The file to write.
    #[arg(long, value_name = "FILE", default_value = "hours.svg")]
    out: PathBuf,
    #[command(flatten)]
    asked: OfOneMachine,
}

/// A year by day.
#[derive(Debug, Args)]
struct Year {
    /// The file to write.
    #[arg(long, value_name = "FILE", default_value = "year.svg")]
    out: PathBuf,
    /// The year. Left out: the last one in which something ran.
    #[arg(long, value_name = "YEAR", value_parser = clap::value_parser!(i16).range(1950..=9999))]
    year: Option<i16>,
    /// Only this machine.
    #[arg(long, value_name = "MACHINE")]
    machine: Option<MachineSaid>,
    /// Instead of the picture its numbers: one JSON object on standard output and nothing else.
    #[arg(long)]
    json: bool,
}

/// Strokes per square metre, rug by rug.
#[derive(Debug, Args)]
struct Density {
    /// The file to write.
    #[arg(long, value_name = "FILE", default_value = "density.svg")]
    out: PathBuf,
    /// Instead of the picture its numbers: one JSON object on standard output and nothing else.
    #[arg(long)]
    json: bool,
}

impl Usage {
    fn run(self, around: &CommandEnv) -> Result<ExitCode, Failure> {
        let store = around.open_database()?;
        let machine = choose_machine::number(&store, self.machine.as_ref())?;
        let usage = plot::usage(&store, around.clock(), machine)?;
        let drawn = (!usage.rows.is_empty()).then(|| view::plot::usage::svg(&usage));
        shown_or_drawn(&usage, self.json, drawn, &self.out, &nothing_ran(&store)?)
    }
}

impl Knob {
    fn run(self, around: &CommandEnv) -> Result<ExitCode, Failure> {
        let store = around.open_database()?;
        let machine = choose_machine::number(&store, self.machine.as_ref())?;
        let usage = plot::usage(&store, around.clock(), machine)?.by_knob;
        let drawn = (!usage.bars.is_empty()).then(|| view::plot::knob::svg(&usage));
        shown_or_drawn(&usage, self.json, drawn, &self.out, &nothing_ran(&store)?)
    }
}

impl Plot {
    /// Runs the command.
    pub fn run(self, around: &CommandEnv) -> Result<ExitCode, Failure> {
        match self.command {
            PlotCommand::Usage(usage) => usage.run(around),
            PlotCommand::Knob(knob) => knob.run(around),
            PlotCommand::Hours(Hours { out, asked: OfOneMachine { machine, json } }) => {
                let store = around.open_database()?;
                let course =
                    plot::hours(&store, around.clock(), choose_machine::number(&store, machine.as_ref())?)?;
                let zone = around.clock().zone();
                let drawn = (!course.points.is_empty()).then(|| view::plot::hours::svg(&course, &zone));
                shown_or_drawn(&course, json, drawn, &out, &nothing_ran(&store)?)
            }
            PlotCommand::Year(Year { out, year, machine, json }) => {
                let store = around.open_database()?;
                let machine = choose_machine::number(&store, machine.as_ref())?;
                let year = plot::year(&store, around.clock(), machine, year)?;
                let drawn = (!year.report.days.is_empty()).then(|| view::plot::year::svg(&year));
                let nothing = format!("Nothing ran in {}, as far as days are known.", year.report.year);
                shown_or_drawn(&year, json, drawn, &out, &nothing)
            }
            PlotCommand::Density(Density { out, json }) => {
                let density = plot::density(&around.open_database()?, around.clock())?;
                let drawn = (!density.rugs.is_empty()).then(|| view::plot::density::svg(&density));
                let nothing = "It takes a rug with a size and recorded strokes: needlehours rug change NAME --size 80x120cm";
                shown_or_drawn(&density, json, drawn, &out, nothing)
            }
            PlotCommand::Tears(Tears { out, asked: OfOneMachine { machine, json } }) => {
                let store = around.open_database()?;
                let speed = tears::speed(
                    &store,
                    choose_machine::number(&store, machine.as_ref())?,
                    SpeedBy::Knob,
                    Level::USUAL,
                )?;
                let drawn = (!speed.bands.is_empty()).then(|| view::plot::tears::svg(&speed));
                shown_or_drawn(&speed, json, drawn, &out, &nothing_read(&store)?)
            }
            PlotCommand::Cost(Cost { out, asked: OfOneMachine { machine, json } }) => {
                let store = around.open_database()?;
                let cost =
                    cost::report(&store, choose_machine::number(&store, machine.as_ref())?, Level::USUAL)?;
                let drawn = (!cost.speeds.is_empty()).then(|| view::plot::cost::svg(&cost));
                let nothing = match cost.costs {
                    Some(_) => nothing_read(&store)?,
                    None => {
                        format!("Enter what tears and time cost: {}", view::cloth::speed_cost::ENTER_COSTS)
                    }
                };
                shown_or_drawn(&cost, json, drawn, &out, &nothing)
            }
            PlotCommand::Traces(Traces { out, asked: OfOneMachine { machine, json } }) => {
                let store = around.open_database()?;
                let traces = tears::traces(&store, choose_machine::number(&store, machine.as_ref())?)?;
                let drawn = (!traces.tears.is_empty()).then(|| view::plot::traces::svg(&traces));
                shown_or_drawn(&traces, json, drawn, &out, &if_read(&store, TRACES_TAKE)?)
            }
            PlotCommand::Slowing(Slowing { out, asked: OfOneMachine { machine, json } }) => {
                let store = around.open_database()?;
                let machine = choose_machine::number(&store, machine.as_ref())?;
                let report = slowing::slowing(&store, around.clock(), machine, None)?;
                let has_any = !report.dry.runs.is_empty() || !report.sessions.lines.is_empty();
                let drawn = has_any.then(|| view::plot::slowing::svg(&report, &around.clock().zone()));
                shown_or_drawn(&report, json, drawn, &out, &if_read(&store, SLOWING_TAKES)?)
            }
        }
    }
}

const TRACES_TAKE: &str = "No tear was pressed at the machine so far.";
const SLOWING_TAKES: &str = "Dry runs after oiling, or twenty sessions on rugs, make a picture.";

/// What to do first for a picture of running.
fn nothing_ran(store: &impl Store) -> Result<String, Failure> {
    let is_without = is_without_logger(store)?;
    let typed_in = format!("ay first how long you worked: {}", how_to_count(true));
    Ok(if is_without {
        format!("S{typed_in}")
    } else {
        format!("Read a logger first: {}, or s{typed_in}", how_to_count(false))
    })
}

/// The same for a picture of what only a logger tells.
fn nothing_read(store: &impl Store) -> Result<String, Failure> {
    Ok(match is_without_logger(store)? {
        true => "It takes a logger board, which reads the knob.".to_owned(),
        false => format!("Read a logger first: {}", how_to_count(false)),
    })
}

/// What is still missing where a logger is read; that there is none, where no machine has one.
fn if_read(store: &impl Store, missing: &str) -> Result<String, Failure> {
    if is_without_logger(store)? { nothing_read(store) } else { Ok(missing.to_owned()) }
}

fn is_without_logger(store: &impl Store) -> Result<bool, Failure> {
    let studio = Studio::of(&store.entries()?);
    Ok(studio.are_without_logger(&studio.machines))
}

fn shown_or_drawn<R: Serialize>(
    report: &R,
    json: bool,
    drawn: Option<Result<String, PlotError>>,
    out: &Path,
    nothing: &str,
) -> Result<ExitCode, Failure> {
    if json {
        show::json(report)?;
        return Ok(ExitCode::SUCCESS);
    }
    let Some(drawn) = drawn else {
        show::words(&format!("There is nothing to draw yet. {nothing}"))?;
        return Ok(ExitCode::SUCCESS);
    };
    let picture = drawn?;
    show::file(out, picture.as_bytes(), "plot::write", "Name a file in a folder that exists with --out.")?;
    show::words(&format!("Drawn: {}", out.display()))?;
    Ok(ExitCode::SUCCESS)
}

impl From<PlotError> for Failure {
    fn from(error: PlotError) -> Self {
        Self::other("plot::draw", "the picture could not be drawn", "Please report this.").because(error)
    }
}
