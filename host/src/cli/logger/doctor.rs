//! `doctor`.

use std::fs;
use std::io::ErrorKind;
use std::path::Path;
use std::process::ExitCode;

use clap::Args;

use crate::app::keeping::backup::BackupSeen;
use crate::app::logger::doctor::{DatabaseSeen, DoctorReport, LoggerSeen, ask, examine};
use crate::app::ports::{Clock as _, LoggerError, PortSeen, StoreError};
use crate::cli::keeping::read_note;
use crate::cli::shell::command_env::CommandEnv;
use crate::cli::shell::failure::Failure;
use crate::cli::shell::{exit, show};
use crate::logger_link::discovery::{self, Choice};
use crate::logger_link::port_lock::{self, Holder};
use crate::store::Database;
use crate::view;
use miette::Diagnostic as _;

/// Look for what is wrong with ports, rights, logger and database.
#[derive(Debug, Args)]
pub struct Doctor {
    /// The port on which the logger is; needed only when it is not found by itself.
    #[arg(long, value_name = "PORT")]
    port: Option<String>,
    /// One JSON object on standard output and nothing else.
    #[arg(long)]
    json: bool,
}

impl Doctor {
    /// Runs the command.
    pub fn run(self, around: &CommandEnv) -> Result<ExitCode, Failure> {
        let (ports, ports_unknown_because) = match discovery::ports() {
            Ok(ports) => (ports, None),
            Err(error) => (Vec::new(), Some(error.to_string())),
        };
        let report = DoctorReport {
            logger: self.logger(ports.clone(), &around.database_path()?),
            ports,
            ports_unknown_because,
            database: database(around)?,
        };
        show::report(&report, self.json, view::logger::doctor::text)?;
        Ok(exit::code(if report.has_database_trouble() {
            exit::DATABASE
        } else if report.has_logger_trouble() {
            exit::LOGGER
        } else {
            exit::FINE
        }))
    }

    fn logger(&self, ports: Vec<PortSeen>, database: &Path) -> LoggerSeen {
        let port = match (&self.port, discovery::choose(ports)) {
            (Some(port), _) => port.clone(),
            (None, Choice::One(port)) => port,
            (None, Choice::Several(ports)) => return LoggerSeen::Several { ports },
            (None, Choice::None(_)) => return LoggerSeen::NotFound,
        };
        let answer = port_lock::open(database, &port, Holder::Doctor).and_then(|mut logger| ask(&mut logger));
        match answer {
            Ok(answer) => LoggerSeen::Answers(Box::new(answer)),
            Err(LoggerError::Open { source, .. }) if source.kind() == ErrorKind::PermissionDenied => {
                let group = group_of(Path::new(&port));
                LoggerSeen::NoRight { port, group }
            }
            Err(LoggerError::Held { by, .. }) => LoggerSeen::InUse { port, by },
            Err(error) => LoggerSeen::Failed { port, why: chain(&error) },
        }
    }
}

/// The name of the group that a device file belongs to.
#[cfg(unix)]
fn group_of(port: &Path) -> Option<String> {
    use std::os::unix::fs::MetadataExt;
    let wanted = fs::metadata(port).ok()?.gid().to_string();
    let groups = fs::read_to_string("/etc/group").ok()?;
    groups.lines().find_map(|line| {
        let mut fields = line.split(':');
        let name = fields.next()?;
        (fields.nth(1)? == wanted).then(|| name.to_owned())
    })
}

#[cfg(not(unix))]
fn group_of(_port: &Path) -> Option<String> {
    None
}

fn database(around: &CommandEnv) -> Result<DatabaseSeen, Failure> {
    let path = around.database_path()?;
    if around.would_make(&path) {
        return Ok(DatabaseSeen::Missing { path });
    }
    let state = Database::open(&path).and_then(|database| {
        let damage = database.look_for_damage()?;
        let backup = BackupSeen::of(&read_note(&path), around.clock().now());
        examine(&database, path.clone(), damage, backup)
    });
    Ok(match state {
        Ok(state) => DatabaseSeen::Opens(Box::new(state)),
        Err(error) => DatabaseSeen::Failed { path, why: chain(&error), remedy: remedy(&error) },
    })
}

fn remedy(error: &StoreError) -> String {
    error.help().map(|help| help.to_string()).unwrap_or_default()
}

/// An error and what caused it, in one line.
fn chain(error: &dyn std::error::Error) -> String {
    let mut out = error.to_string();
    let mut source = error.source();
    while let Some(cause) = source {
        out.push_str(": ");
        out.push_str(&cause.to_string());
        source = cause.source();
    }
    out
}
