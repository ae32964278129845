//! `demo`.

mod papers;
mod words;

use std::path::PathBuf;
use std::process::ExitCode;

use clap::Args;
use shared_types::UtcMillis;

use super::shell::command_env::CommandEnv;
use super::shell::failure::Failure;
use super::shell::{exit, show};
use crate::app::ports::Clock;
use crate::demo::folder::{self, DemoFolder};
use crate::demo::run::{self, DemoError, DemoReport, StudioClock};
use crate::store::Database;
use crate::{app, view};
use host_core::cloth::SpeedBy;
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
        let clock = StudioClock::at(UtcMillis(report.ended_at_utc_ms));
        papers::write_all(&mut with_clock, &clock, &folder)?;
        if self.json {
            show::json(&report)?;
        } else {
            self.print_words(&report, &folder, &with_clock, &clock)?;
        }
        Ok(exit::code(exit::FINE))
    }

    fn print_words(
        &self,
        report: &DemoReport,
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
            due: view::care::due::due(&due, false, &zone),
            speed: view::cloth::speed::speed(&speed),
        };
        show::words(&words::text(report, &answers, folder))
    }
}

impl From<DemoError> for Failure {
    fn from(error: DemoError) -> Self {
        match error {
            DemoError::Store(error) => error.into(),
            other => Self::other(
                "demo::broke",
                "the demo did not come to its end",
                "This should not happen; report it together with the seed.",
            )
            .because(other),
        }
    }
}
