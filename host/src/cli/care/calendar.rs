//! `calendar`.

use std::io::IsTerminal as _;
use std::path::PathBuf;
use std::process::ExitCode;

use clap::{Args, ValueEnum};

use crate::app::care::calendar;
use crate::app::typed::choose_machine::{self, MachineSaid};
use crate::cli::shell::command_env::CommandEnv;
use crate::cli::shell::failure::Failure;
use crate::cli::shell::out_file::OutFile;
use crate::cli::shell::{exit, show};
use crate::view;
use crate::view::care::calendar::Shown;

/// Due dates for your calendar, as a file that every calendar program reads.
///
/// A later file corrects an earlier one: import it again, and a date that has changed moves. Tasks without a date are left out.
#[derive(Debug, Args)]
pub struct Calendar {
    /// The file to write, for example care.ics; standard output otherwise.
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
    /// One machine, by its number; all of them otherwise.
    #[arg(long, value_name = "MACHINE")]
    machine: Option<MachineSaid>,
    /// Events, which every calendar shows, or tasks to be ticked off.
    #[arg(long = "as", value_name = "KIND", value_enum, default_value_t = Kind::Events)]
    kind: Kind,
    /// Instead of the file its dates: one JSON object on standard output and nothing else.
    #[arg(long, conflicts_with = "out")]
    json: bool,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
enum Kind {
    /// Whole-day events that leave the day free.
    Events,
    /// Tasks with a due day.
    Tasks,
}

impl Calendar {
    /// Runs the command.
    pub fn run(self, around: &CommandEnv) -> Result<ExitCode, Failure> {
        let mut store = around.open_database()?;
        let machine = choose_machine::number(&store, self.machine.as_ref())?;
        let plan = calendar::plan(&store, around.clock(), machine)?;
        if self.json {
            show::json(&plan.note(&mut store)?)?;
            return Ok(exit::code(exit::FINE));
        }
        anstream::eprint!("{}", view::care::calendar::left_out(&plan.report));
        let shown = match self.kind {
            Kind::Events => Shown::Event,
            Kind::Tasks => Shown::ToDo,
        };
        let Some(text) = view::care::calendar::file(&plan.report, shown) else {
            anstream::eprintln!("No task has a date yet, so no calendar was written.");
            return Ok(exit::code(exit::FINE));
        };
        let Some(out) = self.out else {
            plan.note(&mut store)?;
            show::bytes(text.as_bytes())?;
            if std::io::stdout().is_terminal() {
                anstream::eprintln!("To write it into a file: needlehours calendar --out care.ics");
            }
            return Ok(exit::code(exit::FINE));
        };
        let unwritten = |error| {
            let what = format!("cannot write {}", out.display());
            Failure::bad_input("calendar::write", what, "Name a file in a folder that exists with --out.")
                .because(error)
        };
        let file = OutFile::prepare(&out, text.as_bytes()).map_err(unwritten)?;
        let report = plan.note(&mut store)?;
        file.put_in_place().map_err(unwritten)?;
        show::words(&view::care::calendar::written(&report, &out.display().to_string()))?;
        Ok(exit::code(exit::FINE))
    }
}
