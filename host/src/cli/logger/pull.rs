//! `pull`.

use std::io::ErrorKind;
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::time::Duration;

use clap::Args;
use indicatif::{ProgressBar, ProgressStyle};
use shared_types::MachineTag;
use shared_types::link::LoggerStatus;

use super::{confirm, confirm_care};
use crate::app::care::limits;
use crate::app::cloth::tears;
use crate::app::logger::pull::{Progress, PullWish, pull};
use crate::app::logger::pull_report::{PullError, PullReport};
use crate::app::ports::{Clock, Logger, LoggerError, PortSeen, Store};
use crate::app::typed::choose_machine::{self, MachineSaid};
use crate::cli::shell::command_env::CommandEnv;
use crate::cli::shell::failure::Failure;
use crate::cli::shell::{exit, show};
use crate::logger_link::discovery::{self, Choice};
use crate::logger_link::port_lock::{self, Holder};
use crate::logger_link::recorder::Recording;
use crate::logger_link::saved::SavedLog;
use crate::store::Database;
use crate::view;

/// From one look to the next at a logger that is still making its log.
const BETWEEN_LOOKS: Duration = Duration::from_secs(1);

/// Read a logger, or a log saved earlier, and keep every record.
#[derive(Debug, Args)]
pub struct Pull {
    /// The port on which the logger is; needed only when it is not found by itself.
    #[arg(long, value_name = "PORT", conflicts_with = "file")]
    port: Option<String>,
    /// A log saved earlier, instead of a logger.
    #[arg(long, value_name = "FILE")]
    file: Option<PathBuf>,
    /// Also save what the logger sends into a new file.
    #[arg(long, value_name = "FILE", conflicts_with = "file")]
    save: Option<PathBuf>,
    /// The machine, by name or number, on which the logger sits; needed when there are several or when it was moved.
    #[arg(long, value_name = "MACHINE")]
    machine: Option<MachineSaid>,
    /// No progress and no words, unless something is wrong.
    #[arg(long)]
    quiet: bool,
    /// One JSON object on standard output and nothing else.
    #[arg(long)]
    json: bool,
}

impl Pull {
    /// Runs the command.
    pub fn run(self, around: &CommandEnv) -> Result<ExitCode, Failure> {
        if let Some(file) = &self.file {
            let mut saved = SavedLog::open(file).map_err(|error| unread(file, error))?;
            return self.keep(around, &mut saved, |_| Ok(()));
        }
        let port = match &self.port {
            Some(port) => port.clone(),
            None => the_only_logger()?,
        };
        let mut logger = port_lock::open(&around.database_path()?, &port, Holder::Pull)?;
        if let Some(path) = &self.save {
            logger.record_to(Recording::begin(path).map_err(|error| unsaved(path, error))?);
        }
        let save = self.save.clone();
        self.keep(around, &mut logger, |logger| match &save {
            Some(path) => logger.finish_recording().map_err(|error| unsaved(path, error)),
            None => Ok(()),
        })
    }

    fn keep<L: Logger>(
        &self,
        around: &CommandEnv,
        logger: &mut L,
        finish: impl FnOnce(&mut L) -> Result<(), Failure>,
    ) -> Result<ExitCode, Failure> {
        let mut database = around.open_database()?;
        let (report, saved) = self.read(&mut database, around.clock(), logger, finish)?;
        self.say(&report)?;
        if !self.json && !self.quiet {
            // Before any question: a tear is mended with hands in the machine's way.
            if let Some(words) = view::cloth::tears::of_pull(&tears::of_pull(&database, &report)?) {
                show::words(&words)?;
            }
            confirm::sessions_of(&report, &mut database, around.clock())?;
            confirm_care::presses_of(&report, &mut database, around.clock())?;
        }
        saved?;
        Ok(exit::code(exit::FINE))
    }

    /// Reads the logger into the database; beside the report whether the copy was written.
    fn read<L: Logger>(
        &self,
        database: &mut Database,
        clock: &impl Clock,
        logger: &mut L,
        finish: impl FnOnce(&mut L) -> Result<(), Failure>,
    ) -> Result<(PullReport, Result<(), Failure>), Failure> {
        let lock = database.lock_for_pull()?;
        let bar = self.bar();
        let lamp_limits =
            |store: &dyn Store, status: &LoggerStatus, machine| limits::lamp(store, clock, status, machine);
        let pause = |sectors_left| self.wait_for_a_log(&bar, sectors_left);
        let wish = PullWish {
            machine: choose_machine::number(database, self.machine.as_ref())?.map(MachineTag),
            lamp_limits: Some(&lamp_limits),
            pause: Some(&pause),
        };
        let outcome = pull(logger, database, clock, &wish, &mut |progress| advance(&bar, progress));
        bar.finish_and_clear();
        drop(lock);
        // The copy is closed before anything is said, so that a broken pull leaves a whole file of what came.
        let saved = finish(logger);
        // The copy is written, so the same pull cannot be done again under its name.
        let told = |error| if self.save.is_some() { failure(error).not_again() } else { failure(error) };
        Ok((outcome.map_err(told)?, saved))
    }

    fn wait_for_a_log(&self, bar: &ProgressBar, sectors_left: u32) {
        if !self.quiet && bar.message().is_empty() {
            bar.suspend(|| {
                anstream::eprintln!(
                    "The logger is still making its log; waiting for it, a few minutes at most."
                );
            });
        }
        bar.set_message(format!("{sectors_left} parts of its memory to go"));
        std::thread::sleep(BETWEEN_LOOKS);
    }

    fn bar(&self) -> ProgressBar {
        if self.json || self.quiet {
            return ProgressBar::hidden();
        }
        // Drawn on standard error, and by itself only on a terminal.
        let bar = ProgressBar::new(0);
        if let Ok(style) = ProgressStyle::with_template("{bar:30} {pos} of {len} records, {msg} ({eta})") {
            bar.set_style(style);
        }
        bar.enable_steady_tick(Duration::from_millis(200));
        bar
    }

    fn say(&self, report: &PullReport) -> Result<(), Failure> {
        if self.quiet && !self.json && report.warnings.is_empty() {
            return Ok(());
        }
        show::report(report, self.json, view::logger::pull::text)
    }
}

/// The ports of the loggers that are plugged in.
#[must_use]
pub fn plugged_in() -> Vec<String> {
    let ports = discovery::ports().unwrap_or_default();
    ports.into_iter().filter(|port| port.is_logger).map(|port| port.port).collect()
}

/// Reads the logger at a port, without a word.
///
/// # Errors
/// When it cannot be read, or it is not clear on which machine it sits.
pub fn read_quietly(around: &CommandEnv, port: &str, holder: Holder) -> Result<PullReport, Failure> {
    let quiet = Pull { port: None, file: None, save: None, machine: None, quiet: true, json: false };
    let mut logger = port_lock::open(&around.database_path()?, port, holder)?;
    let mut database = around.open_database()?;
    let (report, saved) = quiet.read(&mut database, around.clock(), &mut logger, |_| Ok(()))?;
    saved.map(|()| report)
}

fn several(ports: &[String]) -> Failure {
    Failure::bad_input(
        "port::several",
        format!("several loggers are connected: {}", ports.join(", ")),
        "Name one of them with --port.",
    )
}

fn advance(bar: &ProgressBar, progress: Progress) {
    bar.set_length(progress.of);
    bar.set_position(progress.records);
    bar.set_message(format!("{} kB", progress.bytes / 1_000));
}

/// The port of the one logger that is connected.
///
/// # Errors
/// When there is none, or several.
pub fn the_only_logger() -> Result<String, Failure> {
    let ports = discovery::ports().map_err(|error| {
        Failure::other("port::list", "the ports cannot be listed", "Name the port with --port.")
            .because(error)
    })?;
    match discovery::choose(ports) {
        Choice::One(port) => Ok(port),
        Choice::Several(ports) => Err(several(&ports)),
        Choice::None(ports) => Err(Failure::logger(
            "port::none",
            format!("no logger was found{}", listed(&ports)),
            "Plug it in with a cable that carries data; if it is there, name its port with --port. `needlehours doctor` tells more.",
        )),
    }
}

fn listed(ports: &[PortSeen]) -> String {
    if ports.is_empty() {
        return "; this computer has no port in use".to_owned();
    }
    let names: Vec<&str> = ports.iter().map(|port| port.port.as_str()).collect();
    format!("; the ports that are there are {}", names.join(", "))
}

fn unread(path: &Path, error: LoggerError) -> Failure {
    match error {
        LoggerError::NewerLink { .. } => error.into(),
        error => Failure::bad_input(
            "pull::file",
            format!("{} cannot be read as a saved log", path.display()),
            "Name a file that `needlehours pull --save` made; if it is one, it is damaged at its beginning.",
        )
        .because(error),
    }
}

fn unsaved(path: &Path, error: std::io::Error) -> Failure {
    let what = format!("cannot save the log to {}", path.display());
    let remedy = if error.kind() == ErrorKind::AlreadyExists {
        "A saved log is never written over: name a file that is not there yet."
    } else {
        "Check that the folder exists and has room. What was pulled is in the database all the same."
    };
    Failure::bad_input("pull::save", what, remedy).because(error)
}

fn failure(error: PullError) -> Failure {
    let what = error.to_string();
    match error {
        // What a logger contradicts is told in the same way whenever it shows.
        PullError::BrokeOff { source: source @ LoggerError::Contradicts { .. }, .. } => {
            Failure::from(source).told_as(what)
        }
        error => error.into(),
    }
}
