//! `page`.

use std::fmt::Write as _;
use std::process::ExitCode;
use std::sync::Arc;

use clap::Args;

use crate::app::ports::{Logger, LoggerError};
use crate::cli::logger::{plugged_in, read_what_is_plugged_in};
use crate::cli::shell::command_env::{CommandEnv, SystemClock};
use crate::cli::shell::failure::Failure;
use crate::cli::shell::{exit, show};
use crate::logger_link::serial;
use crate::page::{Board, Listening, PageClock, Refused, World, serve};

/// Open a page beside the frame: today in large letters, one tap for each answer, on this computer or a phone.
///
/// Runs until it is stopped (Ctrl-C). Its address is the first line that it prints. It is for this computer alone, unless a phone
/// is let in with --phone.
#[derive(Debug, Args)]
pub struct Page {
    /// The port on which it listens; 0 takes a free one.
    #[arg(long, value_name = "NUMBER", default_value = "8017")]
    port: u16,
    /// The port on which the logger is, where it is not found by itself.
    #[arg(long, value_name = "PORT", hide = true)]
    board: Option<String>,
}

impl Page {
    /// Runs the command.
    pub fn run(self, around: &CommandEnv) -> Result<ExitCode, Failure> {
        let (around, again) = (around.elsewhere(), around.elsewhere());
        let world = World {
            open: move || around().open_database(),
            clock: PageClock(Arc::new(SystemClock)),
            board: Box::new(Plugged { around: Box::new(again), port: self.board }),
            port: self.port,
            for_phones: None,
        };
        let mut told = Ok(());
        let listening = |at: &Listening| told = show::words(&words(at));
        let stop = async {
            // Without the signal nothing but the end of the terminal ends it.
            tokio::signal::ctrl_c().await.unwrap_or_default();
        };
        serve(world, listening, stop)??;
        told?;
        Ok(exit::code(exit::FINE))
    }
}

fn words(at: &Listening) -> String {
    let mut words = at.address.clone();
    // A text takes whatever is written to it.
    write!(words, "\nOpen this address in a browser on this computer; Ctrl-C ends it.").unwrap_or_default();
    words
}

/// The board on a cable.
struct Plugged {
    around: Box<dyn Fn() -> CommandEnv + Send>,
    port: Option<String>,
}

impl Board for Plugged {
    fn port(&mut self) -> Option<String> {
        let named = self.port.clone().filter(|port| std::fs::exists(port).unwrap_or(false));
        named.or_else(plugged_in)
    }

    fn open(&mut self, port: &str) -> Result<Box<dyn Logger>, LoggerError> {
        serial::open(port).map(|logger| Box::new(logger) as Box<dyn Logger>)
    }

    fn read(&mut self, port: &str) -> Result<(), Refused> {
        match read_what_is_plugged_in(&(self.around)(), Some(port)) {
            Ok(_) => Ok(()),
            Err(failure) => Err(Refused::new(failure.to_string(), "It is tried again.")),
        }
    }
}
