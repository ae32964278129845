//! Reads loggers by themselves, one turn of looking at their ports after the other.

use std::fmt;

use crate::app::care::due;
use crate::app::care::notify::Notifier;
use crate::app::logger::PullReport;
use crate::app::ports::Logger as _;
use crate::app::today::{Wanted, Watches};
use crate::cli::care::tell;
use crate::cli::logger::read_quietly;
use crate::cli::shell::command_env::CommandEnv;
use crate::cli::shell::failure::Failure;
use crate::logger_link::port_lock::{self, Holder};

/// Reads each logger when it is plugged in and after ten quiet minutes while it stays plugged, and tells once what is due.
pub struct PortReader<'a> {
    around: &'a CommandEnv,
    notifier: &'a dyn Notifier,
    watches: Watches,
    due_told: Vec<String>,
}

impl fmt::Debug for PortReader<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("PortReader").field("watches", &self.watches).finish_non_exhaustive()
    }
}

impl<'a> PortReader<'a> {
    /// One that has read nothing yet.
    #[must_use]
    pub fn new(around: &'a CommandEnv, notifier: &'a dyn Notifier) -> Self {
        Self { around, notifier, watches: Watches::default(), due_told: Vec::new() }
    }

    /// Looks at the ports where loggers are now, in milliseconds of any clock that does not go back. Returns what was read and
    /// what could not be; of a port that another command of this program holds nothing, it is asked again in a minute.
    pub fn turn(&mut self, now_ms: u64, ports: &[String]) -> Vec<(String, Result<PullReport, Failure>)> {
        let mut read = Vec::new();
        let wanted = self.watches.look(now_ms, ports);
        for (port, mut wanted) in ports.iter().zip(wanted) {
            if wanted == Wanted::Ask {
                // Another program may just hold the port.
                let edges = self.edges(port).ok();
                wanted = edges.map_or(Wanted::Nothing, |edges| self.watches.at(port).told(now_ms, edges));
            }
            if wanted == Wanted::Read {
                match self.read(now_ms, port) {
                    Err(failure) if failure.is_port_held() => {}
                    outcome => read.push((port.clone(), outcome)),
                }
            }
        }
        read
    }

    /// Edges that the logger ever counted.
    fn edges(&self, port: &str) -> Result<u64, Failure> {
        let database = self.around.database_path()?;
        let mut logger = port_lock::open(&database, port, Holder::Autoread)?;
        Ok(logger.status()?.totals.edges.0)
    }

    /// Reads the logger, and notifies of what is due unless that was told before.
    fn read(&mut self, now_ms: u64, port: &str) -> Result<PullReport, Failure> {
        let edges = self.edges(port)?;
        let report = read_quietly(self.around, port, Holder::Autoread)?;
        self.watches.at(port).was_read(now_ms, edges);
        let due = due(&self.around.open_database()?, self.around.clock(), None)?;
        let asked = due.tasks.iter().filter(|task| task.is_asked_for());
        let names: Vec<String> = asked.map(|task| format!("{} {}", task.machine.0, task.task)).collect();
        if names.iter().any(|name| !self.due_told.contains(name)) {
            tell(&due, self.notifier);
        }
        self.due_told = names;
        Ok(report)
    }
}
