//! `autoread`: reads the logger by itself.

use std::process::ExitCode;
use std::thread;
use std::time::{Duration, Instant};

use clap::{Args, ValueEnum};
use etcetera::BaseStrategy as _;

use super::at_login::{System, at_login};
use crate::app::care::due;
use crate::app::ports::Logger as _;
use crate::app::today::{Wanted, Watch};
use crate::cli::care::tell_desktop;
use crate::cli::logger::{plugged_in, read_what_is_plugged_in};
use crate::cli::shell::command_env::CommandEnv;
use crate::cli::shell::failure::Failure;
use crate::cli::shell::{exit, show};
use crate::logger_link::serial;
use crate::view;

/// From one look at the ports to the next.
const BETWEEN_LOOKS: Duration = Duration::from_secs(5);

/// Read the logger by itself: when it is plugged in, and after ten quiet minutes while it stays plugged.
///
/// Runs until it is stopped (Ctrl-C). Between two readings the port is free for every other command. What is due is told on the
/// desktop, once.
#[derive(Debug, Args)]
pub struct Autoread {
    /// Have it started by the system when you log in, or no more.
    #[arg(long, value_enum, value_name = "ON|OFF")]
    at_login: Option<OnOff>,
    /// The port on which the logger is, where it is not found by itself.
    #[arg(long, value_name = "PORT", hide = true)]
    port: Option<String>,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
enum OnOff {
    On,
    Off,
}

impl Autoread {
    /// Runs the command.
    pub fn run(self, around: &CommandEnv) -> Result<ExitCode, Failure> {
        match self.at_login {
            Some(switch) => set_at_login(switch, around),
            None => self.watch(around),
        }
    }

    fn watch(&self, around: &CommandEnv) -> Result<ExitCode, Failure> {
        let (begun, mut watch, mut told) = (Instant::now(), Watch::default(), Vec::new());
        show::words("Waiting for a logger; Ctrl-C ends it.")?;
        loop {
            let now_ms = || u64::try_from(begun.elapsed().as_millis()).unwrap_or(u64::MAX);
            let port =
                self.port.clone().filter(|port| std::fs::exists(port).unwrap_or(false)).or_else(plugged_in);
            let mut wanted = watch.look(now_ms(), port.as_deref());
            if let (Wanted::Ask, Some(port)) = (wanted, &port) {
                // Another command may just hold the port; it is asked again in a minute.
                wanted = edges(port).map_or(Wanted::Nothing, |edges| watch.told(now_ms(), edges));
            }
            if let (Wanted::Read, Some(port)) = (wanted, &port) {
                match read(port, around, &mut told) {
                    Ok(edges) => watch.was_read(now_ms(), edges),
                    Err(failure) => {
                        anstream::eprintln!("The logger was not read: {failure}. It is tried again.")
                    }
                }
            }
            thread::sleep(BETWEEN_LOOKS);
        }
    }
}

/// Edges that the logger ever counted, where it answers.
fn edges(port: &str) -> Option<u64> {
    let mut logger = serial::open(port).ok()?;
    logger.status().ok().map(|status| status.totals.edges.0)
}

/// Reads the logger, tells what was new, and on the desktop what is due unless that was told before.
fn read(port: &str, around: &CommandEnv, told: &mut Vec<String>) -> Result<u64, Failure> {
    let before = edges(port).unwrap_or(0);
    let Some(report) = read_what_is_plugged_in(around, Some(port))? else { return Ok(before) };
    show::words(&view::logger::pull::in_short(&report))?;
    let store = around.open_database()?;
    let due = due(&store, around.clock(), None)?;
    let names: Vec<String> = due
        .tasks
        .iter()
        .filter(|task| task.is_asked_for())
        .map(|task| format!("{} {}", task.machine.0, task.task))
        .collect();
    if names.iter().any(|name| !told.contains(name)) {
        tell_desktop(&due);
    }
    *told = names;
    Ok(before)
}

fn set_at_login(switch: OnOff, around: &CommandEnv) -> Result<ExitCode, Failure> {
    let unknown = |what: &'static str, error: Box<dyn std::error::Error + Send + Sync>| {
        Failure::other("autoread::place", what, "Start `needlehours autoread` by hand.").because(error)
    };
    let program = std::env::current_exe()
        .map_err(|error| unknown("the system does not tell where this program is", error.into()))?;
    let folders = etcetera::choose_base_strategy()
        .map_err(|error| unknown("this system names no folder for settings", error.into()))?;
    let system = System::here();
    let config = if system == System::MacOs { folders.home_dir().to_owned() } else { folders.config_dir() };
    let database = around.database_path()?;
    let database = std::path::absolute(&database).unwrap_or(database);
    let at_login = at_login(system, &config, &program, &database);
    let (paths, words, after) = match switch {
        OnOff::On => (
            at_login.on()?,
            "Written",
            "It begins when you log in the next time; until then: needlehours autoread",
        ),
        OnOff::Off => {
            (at_login.off()?, "Taken away", "It is started no more; one that runs goes on until you log out.")
        }
    };
    let lines: String = paths.iter().map(|path| format!("{words}: {}\n", path.display())).collect();
    let none = if paths.is_empty() { "Nothing was there.\n" } else { "" };
    show::words(&format!("{lines}{none}{after}"))?;
    Ok(exit::code(exit::FINE))
}
