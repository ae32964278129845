//! `autoread`: reads the logger by itself.

use std::collections::BTreeMap;
use std::fs;
use std::process::ExitCode;
use std::thread;
use std::time::{Duration, Instant};

use clap::{Args, ValueEnum};
use etcetera::BaseStrategy as _;

use super::at_login::{System, at_login};
use super::port_reader::PortReader;
use crate::cli::care::Desktop;
use crate::cli::logger::plugged_in;
use crate::cli::shell::command_env::CommandEnv;
use crate::cli::shell::failure::Failure;
use crate::cli::shell::{exit, show};
use crate::view;

/// From one look at the ports to the next.
const BETWEEN_LOOKS: Duration = Duration::from_secs(5);

/// Read each logger by itself: when it is plugged in, and after ten quiet minutes while it stays plugged.
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
        let (begun, mut reader) = (Instant::now(), PortReader::new(around, &Desktop));
        show::words("Waiting for a logger; Ctrl-C ends it.")?;
        // What stays wrong is tried each minute and told once.
        let mut told: BTreeMap<String, String> = BTreeMap::new();
        loop {
            let ports = match &self.port {
                Some(port) => {
                    Some(port.clone()).filter(|port| fs::exists(port).unwrap_or(false)).into_iter().collect()
                }
                None => plugged_in(),
            };
            told.retain(|port, _| ports.contains(port));
            for (port, read) in
                reader.turn(u64::try_from(begun.elapsed().as_millis()).unwrap_or(u64::MAX), &ports)
            {
                match read {
                    Ok(report) => {
                        told.remove(&port);
                        show::words(&view::logger::pull::in_short(&report))?;
                    }
                    Err(failure) => {
                        let words = format!(
                            "The logger at {port} was not read: {failure}. It is tried again each minute."
                        );
                        if told.get(&port) != Some(&words) {
                            anstream::eprintln!("{words}");
                        }
                        told.insert(port, words);
                    }
                }
            }
            thread::sleep(BETWEEN_LOOKS);
        }
    }
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
