//! Looks for what is wrong with ports, rights, logger and database, and changes nothing.

use std::path::PathBuf;

use serde::Serialize;
use shared_types::link::{LogState, LoggerStatus};
use shared_types::log::Fault;
use shared_types::{MachineTag, RawAngle, RecordSeq, RunMillis, UtcMillis};

use super::diagnostics::{self, LoggerDiagnostics};
use super::fit;
use crate::app::keeping::BackupSeen;
use crate::app::ports::logger_name::{log_name, logger_name};
use crate::app::ports::{Logger, LoggerError, PortSeen, Store, StoreError};
use host_core::studio::Studio;

/// What was found.
#[derive(Debug, Serialize)]
pub struct DoctorReport {
    /// The ports of this computer.
    pub ports: Vec<PortSeen>,
    /// Why the ports could not be listed.
    pub ports_unknown_because: Option<String>,
    /// The logger.
    pub logger: LoggerSeen,
    /// The database.
    pub database: DatabaseSeen,
}

/// What was found of a logger.
#[derive(Debug, Serialize)]
#[serde(tag = "state", rename_all = "snake_case")]
pub enum LoggerSeen {
    /// None is connected, or none that says so.
    NotFound,
    /// More than one is connected.
    Several {
        /// Their ports.
        ports: Vec<String>,
    },
    /// It is there, but this user may not open its port.
    NoRight {
        /// The port.
        port: String,
        /// The group that may.
        group: Option<String>,
    },
    /// Another command of this program is at its port.
    InUse {
        /// The port.
        port: String,
        /// Who, and what ends that, in words.
        by: &'static str,
    },
    /// It could not be spoken with.
    Failed {
        /// The port.
        port: String,
        /// Why.
        why: String,
    },
    /// It answers.
    Answers(Box<LoggerAnswer>),
}

/// How a logger stands.
#[derive(Debug, Serialize)]
pub struct LoggerAnswer {
    /// The port.
    pub port: String,
    /// The logger, as sixteen hexadecimal digits.
    pub logger: String,
    /// Its firmware.
    pub firmware: String,
    /// The name of the build.
    pub build: String,
    /// Its log; none when the logger itself cannot read it, or is still making it.
    pub log: Option<LogAnswer>,
    /// Parts of its memory that are left to be emptied, while it is making its log.
    pub making_sectors_left: Option<u32>,
    /// The machine it was told it sits on; none when it was never told.
    pub machine: Option<MachineTag>,
    /// The faults present.
    pub faults: Vec<Fault>,
    /// Faults that only a newer program knows by name, by their number.
    pub unknown_faults: Vec<u32>,
    /// Lifetime run time.
    pub run_time_ms: RunMillis,
    /// The knob sensor's gain, 0 to 255, where it tells one.
    pub knob_gain: Option<u8>,
    /// Whether the knob gives an angle.
    pub knob_is_read: bool,
    /// The knob's angle now, in steps of 4096 to a turn; what `machine calibrate` wants at both ends.
    pub knob_steps: Option<u16>,
    /// What it had to put up with since it started; none when its firmware does not tell.
    pub diagnostics: Option<LoggerDiagnostics>,
}

/// How a logger's log stands.
#[derive(Debug, Serialize)]
pub struct LogAnswer {
    /// The log, as eight hexadecimal digits.
    pub log: String,
    /// The oldest number there.
    pub oldest: RecordSeq,
    /// The next number.
    pub next: RecordSeq,
    /// Everything below was pulled by somebody.
    pub acknowledged: RecordSeq,
}

/// What was found of the database.
#[derive(Debug, Serialize)]
#[serde(tag = "state", rename_all = "snake_case")]
pub enum DatabaseSeen {
    /// There is none yet.
    Missing {
        /// Where it would be.
        path: PathBuf,
    },
    /// It cannot be used.
    Failed {
        /// Where it is.
        path: PathBuf,
        /// What is wrong.
        why: String,
        /// What to try.
        remedy: String,
    },
    /// It opens.
    Opens(Box<DatabaseState>),
}

/// How the database stands.
#[derive(Debug, Serialize)]
pub struct DatabaseState {
    /// Where it is.
    pub path: PathBuf,
    /// What SQLite found wrong in the file.
    pub damage: Vec<String>,
    /// Entries of the maker.
    pub entries: u64,
    /// Machines.
    pub machines: u64,
    /// Whether there are machines, and none of them has a logger board.
    pub is_without_logger: bool,
    /// What is held of each log.
    pub logs: Vec<LogHeld>,
    /// How its backups stand.
    pub backup: BackupSeen,
}

/// What is held of one log.
#[derive(Debug, Serialize)]
pub struct LogHeld {
    /// The logger, as sixteen hexadecimal digits.
    pub logger: String,
    /// Its log, as eight hexadecimal digits.
    pub log: String,
    /// Records held.
    pub records: u64,
    /// Numbers with two different records.
    pub conflicting: u64,
    /// Records that this program cannot read.
    pub unreadable: u64,
    /// Numbers missing.
    pub missing: u64,
    /// Run time that the logger counted and of which no record is held.
    pub not_recorded_ms: RunMillis,
    /// When it was last heard.
    pub last_heard_utc_ms: UtcMillis,
    /// The machine it counts for; none when nobody said so.
    pub machine: Option<MachineTag>,
}

impl DoctorReport {
    /// Whether no logger is there, and none should be: no machine has one.
    #[must_use]
    pub fn needs_no_logger(&self) -> bool {
        let is_without = matches!(&self.database, DatabaseSeen::Opens(state) if state.is_without_logger);
        is_without && matches!(self.logger, LoggerSeen::NotFound)
    }

    /// Whether the logger needs looking after.
    #[must_use]
    pub fn has_logger_trouble(&self) -> bool {
        match &self.logger {
            // Of a logger that was not looked at nobody can say that it is well.
            LoggerSeen::NotFound => !self.needs_no_logger(),
            LoggerSeen::Several { .. }
            | LoggerSeen::NoRight { .. }
            | LoggerSeen::InUse { .. }
            | LoggerSeen::Failed { .. } => true,
            LoggerSeen::Answers(answer) => {
                let has_a_log = answer.log.is_some() || answer.making_sectors_left.is_some();
                !has_a_log
                    || !answer.faults.is_empty()
                    || !answer.unknown_faults.is_empty()
                    || answer.diagnostics.as_ref().is_some_and(LoggerDiagnostics::is_trouble)
            }
        }
    }

    /// Whether the database needs looking after.
    #[must_use]
    pub fn has_database_trouble(&self) -> bool {
        match &self.database {
            DatabaseSeen::Missing { .. } => false,
            DatabaseSeen::Failed { .. } => true,
            DatabaseSeen::Opens(state) => !state.damage.is_empty(),
        }
    }
}

/// Asks a logger how it is, and nothing else.
///
/// # Errors
/// When it does not answer.
pub fn ask(logger: &mut dyn Logger) -> Result<LoggerAnswer, LoggerError> {
    let status: LoggerStatus = logger.status()?;
    let live = logger.live()?;
    let diagnostics = diagnostics::ask(logger)?;
    let is_present = |bit: u32| (status.faults >> bit) & 1 == 1;
    let (log, making_sectors_left) = match status.log {
        LogState::Ready { log, oldest, next, acknowledged, .. } => {
            (Some(LogAnswer { log: log_name(log), oldest, next, acknowledged }), None)
        }
        LogState::Formatting { sectors_left } => (None, Some(sectors_left)),
        LogState::Unreadable => (None, None),
    };
    Ok(LoggerAnswer {
        port: logger.place(),
        logger: logger_name(status.logger),
        firmware: format!("{}.{}.{}", status.firmware.major, status.firmware.minor, status.firmware.patch),
        build: status.build.as_str().to_owned(),
        log,
        making_sectors_left,
        machine: Some(status.settings.machine).filter(|&machine| machine != fit::NOWHERE),
        faults: Fault::of_bits(status.faults).collect(),
        unknown_faults: (0..u16::BITS).skip(Fault::ALL.len()).filter(|&bit| is_present(bit)).collect(),
        run_time_ms: status.totals.run,
        knob_gain: live.gain,
        knob_is_read: live.angle.is_some(),
        knob_steps: live.angle.map(RawAngle::steps),
        diagnostics,
    })
}

/// Counts what an open database holds.
///
/// # Errors
/// When it cannot be read.
pub fn examine(
    store: &dyn Store,
    path: PathBuf,
    damage: Vec<String>,
    backup: BackupSeen,
) -> Result<DatabaseState, StoreError> {
    let entries = store.entries()?;
    let (known, studio) = (fit::known(&entries), Studio::of(&entries));
    let heard = store.status_reports()?;
    let mut keys: Vec<_> = heard.iter().map(|heard| heard.key).collect();
    keys.sort_unstable();
    keys.dedup();
    let mut logs = Vec::new();
    for key in keys {
        let holding = store.holding(key)?;
        let of_log = || heard.iter().filter(|heard| heard.key == key);
        let counted = of_log().map(|heard| heard.totals.run.0).max().unwrap_or_default();
        let before = of_log().next().map_or(0, |first| first.formatted_with.run.0);
        logs.push(LogHeld {
            logger: logger_name(key.logger),
            log: log_name(key.log),
            records: holding.records,
            conflicting: holding.conflicting,
            unreadable: holding.unreadable,
            missing: holding.gaps.iter().map(|gap| u64::from(gap.to.0 - gap.from.0) + 1).sum(),
            not_recorded_ms: RunMillis(counted.saturating_sub(before).saturating_sub(holding.counted.run.0)),
            last_heard_utc_ms: of_log().map(|heard| heard.at).max().unwrap_or_default(),
            machine: known
                .of_log(key)
                .map(|fitting| fitting.machine)
                .filter(|&machine| machine != fit::NOWHERE),
        });
    }
    Ok(DatabaseState {
        path,
        damage,
        entries: entries.with_withdrawn().len() as u64,
        machines: known.machines.len() as u64,
        is_without_logger: studio.are_without_logger(&studio.machines),
        logs,
        backup,
    })
}
