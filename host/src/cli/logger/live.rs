//! `live`.

use std::cell::Cell;
use std::io::{IsTerminal, Write};
use std::process::ExitCode;
use std::time::{Duration, Instant};

use clap::Args;

use super::pull::the_only_logger;
use crate::app::care::ClothWatched;
use crate::app::logger::live::{LiveReport, LiveSample, Scale, watch};
use crate::app::ports::Logger;
use crate::cli::shell::command_env::CommandEnv;
use crate::cli::shell::failure::Failure;
use crate::cli::shell::{exit, show};
use crate::logger_link::port_lock::{self, Holder};
use crate::store::Database;
use crate::view;
use host_core::care::ClothTension;
use shared_types::link::LoggerStatus;

/// From one look to the next.
const PAUSE: Duration = Duration::from_millis(250);

/// Shows strokes, how many a second, and the knob as they happen, until Ctrl-C.
#[derive(Debug, Args)]
pub struct Live {
    /// The port on which the logger is; needed only when it is not found by itself.
    #[arg(long, value_name = "PORT")]
    port: Option<String>,
    /// Ends by itself after so many seconds; 0 for one look.
    #[arg(long, value_name = "SECONDS", value_parser = clap::value_parser!(u32).range(0..=86_400))]
    seconds: Option<u32>,
    /// One JSON object on standard output and nothing else, when the seconds are over.
    #[arg(long, requires = "seconds")]
    json: bool,
}

impl Live {
    /// Runs the command.
    pub fn run(self, around: &CommandEnv) -> Result<ExitCode, Failure> {
        let port = match &self.port {
            Some(port) => port.clone(),
            None => the_only_logger()?,
        };
        let path = around.database_path()?;
        let mut logger = port_lock::open(&path, &port, Holder::Live)?;
        let status = logger.status()?;
        // Looking must not make a database.
        let (scale, cloth) = if path.exists() {
            let store = Database::open(&path)?;
            let cloth = ClothWatched::of(&store, around.clock(), &status)?;
            (Scale::of(&store, status.settings.machine)?, cloth)
        } else {
            (Scale::UNKNOWN, None)
        };
        let end = self.seconds.map(|seconds| Instant::now() + Duration::from_secs(u64::from(seconds)));
        let is_read = Cell::new(true);
        let mut screen = Screen::new(!self.json);
        let mut tell = |sample: &LiveSample| is_read.set(screen.show(sample));
        let told = cloth.map(|cloth| move |status: &LoggerStatus| cloth.now(status));
        let told = told.as_ref().map(|told| told as &dyn Fn(&LoggerStatus) -> ClothTension);
        let samples = watch(&mut logger, scale, told, &mut tell, &mut || {
            let goes_on = is_read.get() && end.is_none_or(|end| Instant::now() + PAUSE < end);
            if goes_on {
                std::thread::sleep(PAUSE);
            }
            goes_on
        });
        screen.close();
        let report = LiveReport { logger: format!("{:016x}", status.logger.0), samples: samples? };
        if self.json {
            show::json(&report)?;
            return Ok(exit::code(exit::FINE));
        }
        Ok(exit::code(exit::FINE))
    }
}

/// One line that is written over on a terminal, one line after the other elsewhere; beneath it the cloth on the frame, elsewhere
/// only when something new is told of it.
struct Screen {
    is_wanted: bool,
    is_terminal: bool,
    cloth: String,
}

impl Screen {
    fn new(is_wanted: bool) -> Self {
        Self { is_wanted, is_terminal: std::io::stdout().is_terminal(), cloth: String::new() }
    }

    /// False when nobody reads any more.
    fn show(&mut self, sample: &LiveSample) -> bool {
        if !self.is_wanted {
            return true;
        }
        let line = view::logger::live::line(sample);
        let cloth = sample.cloth.as_ref().map(view::logger::live::cloth).unwrap_or_default();
        let mut out = std::io::stdout().lock();
        // Back to the start of the line, and away with the rest of it; from the cloth's line up again.
        let written = match (self.is_terminal, cloth.is_empty()) {
            (true, true) => write!(out, "\r{line}\x1b[K"),
            (true, false) => write!(out, "\r{line}\x1b[K\r\n{cloth}\x1b[K\r\x1b[A"),
            (false, _) if cloth.is_empty() || cloth == self.cloth => writeln!(out, "{line}"),
            (false, _) => writeln!(out, "{line}\n{cloth}"),
        };
        self.cloth = cloth;
        written.and_then(|()| out.flush()).is_ok()
    }

    fn close(&self) {
        if self.is_wanted && self.is_terminal {
            anstream::print!("{}", if self.cloth.is_empty() { "\n" } else { "\n\n" });
        }
    }
}
