//! `plot`.

use std::path::PathBuf;
use std::process::ExitCode;

use clap::{Args, Subcommand};

use super::{Failure, Surroundings, show};
use crate::app::plot;
use crate::view;

/// Pictures, as SVG files.
#[derive(Debug, Args)]
pub struct Plot {
    #[command(subcommand)]
    command: PlotCommand,
}

#[derive(Debug, Subcommand)]
enum PlotCommand {
    Usage(Usage),
}

/// Machine time per rug, by where the speed knob stood.
#[derive(Debug, Args)]
struct Usage {
    /// The file to write.
    #[arg(long, value_name = "FILE", default_value = "usage.svg")]
    out: PathBuf,
    /// Only this machine.
    #[arg(long, value_name = "NUMBER")]
    machine: Option<u32>,
    /// Instead of the picture its numbers: one JSON object on standard output and nothing else.
    #[arg(long)]
    json: bool,
}

impl Plot {
    /// Runs the command.
    pub fn run(self, around: &Surroundings) -> Result<ExitCode, Failure> {
        let PlotCommand::Usage(Usage { out, machine, json }) = self.command;
        let store = around.open_database()?;
        let usage = plot::usage(&store, around.clock(), machine)?;
        if json {
            show::report(&usage, true, |_| String::new())?;
            return Ok(ExitCode::SUCCESS);
        }
        if usage.bars.is_empty() {
            show::words("There is nothing to draw yet. Read a logger first: needlehours pull")?;
            return Ok(ExitCode::SUCCESS);
        }
        let picture = view::plot::usage::svg(&usage).map_err(|error| {
            Failure::other("plot::draw", "the picture could not be drawn", "Please report this.")
                .because(error)
        })?;
        std::fs::write(&out, picture).map_err(|error| {
            let what = format!("cannot write {}", out.display());
            Failure::bad_input("plot::write", what, "Name a file in a folder that exists with --out.")
                .because(error)
        })?;
        show::words(&format!("Drawn: {}", out.display()))?;
        Ok(ExitCode::SUCCESS)
    }
}
