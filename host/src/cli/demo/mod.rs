//! `demo`.

mod papers;
mod words;

use std::path::PathBuf;
use std::process::ExitCode;

use clap::Args;
use serde::Serialize;
use shared_types::UtcMillis;

use super::shell::command_env::CommandEnv;
use super::shell::failure::Failure;
use super::shell::{exit, show};
use crate::app::ports::Clock;
use crate::app::rugs::quote::{self, QuoteAnswer, QuoteAsked};
use crate::demo::folder::{self, DemoFolder};
use crate::demo::run::{self, DemoError, DemoReport, StudioClock};
use crate::demo::without_board::{self, NotebookError, Played};
use crate::store::Database;
use crate::{app, view};
use host_core::care::report::TaskReport;
use host_core::cloth::SpeedBy;
use host_core::hours::entered::Entered;
use host_core::stats::Level;

/// Show the whole way without any hardware, in a studio that is made up.
///
/// A made-up maker works for three months on a simulated machine that carries the real logger firmware. Your own database is
/// not touched.
#[derive(Debug, Args)]
pub struct Demo {
    /// The folder for the demo's databases and pictures.
    #[arg(long, value_name = "DIR", default_value = "needlehours-demo")]
    dir: PathBuf,
    /// Another number makes other three months.
    #[arg(long, value_name = "N", default_value_t = 1)]
    seed: u64,
    /// One JSON object on standard output and nothing else.
    #[arg(long)]
    json: bool,
}

/// The maker without a board: what was made up, beside the program's own answers.
#[derive(Debug, Serialize)]
struct WithoutBoard {
    played: Played,
    entered: Entered,
    next_rug: QuoteAnswer,
    care: Vec<TaskReport>,
}

/// The answer of `demo` as one JSON object.
#[derive(Debug, Serialize)]
struct Report<'a> {
    #[serde(flatten)]
    report: &'a DemoReport,
    without_board: &'a WithoutBoard,
}

impl Demo {
    /// Runs the command.
    pub fn run(self, _around: &CommandEnv) -> Result<ExitCode, Failure> {
        let folder = folder::prepare(&self.dir)?;
        let mut with_clock = Database::open(&folder.database)?;
        let mut without_clock = Database::open(&folder.without_clock)?;
        if !self.json {
            anstream::eprintln!("Three months in a made-up studio go by ...");
        }
        let report = run::run(self.seed, &mut with_clock, &mut without_clock)?;
        let without_board = self.without_board(&folder)?;
        let clock = StudioClock::at(UtcMillis(report.ended_at_utc_ms));
        papers::write_all(&mut with_clock, &clock, &folder)?;
        if self.json {
            show::json(&Report { report: &report, without_board: &without_board })?;
        } else {
            self.print_words(&report, &without_board, &folder, &with_clock, &clock)?;
        }
        Ok(exit::code(exit::FINE))
    }

    /// Plays the maker without a board, and leaves her papers.
    fn without_board(&self, folder: &DemoFolder) -> Result<WithoutBoard, Failure> {
        let mut store = Database::open(&folder.without_board)?;
        let played = without_board::play(self.seed, &mut store)?;
        let clock = StudioClock::at(UtcMillis(played.ended_at_utc_ms));
        let asked = QuoteAsked {
            size_mm: without_board::NEXT_RUG_MM,
            style: None,
            colours: None,
            level: quote::level("0.8")?,
            machine: None,
            wage: None,
        };
        let next_rug = quote::ask(&store, &clock, &asked)?;
        papers::write_without_board(&store, &clock, folder, &next_rug)?;
        let hours = app::hours::report::report(&store, &clock, None, None)?.hours;
        let entered = hours.all().fold(Entered::default(), |sum, machine| sum.plus(machine.entered));
        let care = app::care::limits::due(&store, &clock, None)?.tasks;
        Ok(WithoutBoard { played, entered, next_rug, care })
    }

    fn print_words(
        &self,
        report: &DemoReport,
        without_board: &WithoutBoard,
        folder: &DemoFolder,
        store: &Database,
        clock: &StudioClock,
    ) -> Result<(), Failure> {
        let zone = clock.zone();
        let hours = app::hours::report::report(store, clock, None, None)?;
        let due = app::care::limits::due(store, clock, None)?;
        let speed = app::cloth::tears::speed(store, None, SpeedBy::Knob, Level::USUAL)?;
        let answers = words::Answers {
            hours: view::hours::report::text(&hours, &zone),
            due: view::care::due::due(&due, &zone),
            speed: view::cloth::speed::speed(&speed, &zone, false),
            without_board: words::without_board(without_board, folder),
        };
        show::words(&words::text(report, &answers, folder))
    }
}

impl From<DemoError> for Failure {
    fn from(error: DemoError) -> Self {
        match error {
            DemoError::Store(error) => error.into(),
            other => broke().because(other),
        }
    }
}

impl From<NotebookError> for Failure {
    fn from(error: NotebookError) -> Self {
        broke().because(error)
    }
}

fn broke() -> Failure {
    Failure::other(
        "demo::broke",
        "the demo did not come to its end",
        "This should not happen; report it together with the seed.",
    )
}
