//! What a pull did, what the maker should know after it, and why it could not be done.

use miette::Diagnostic;
use serde::Serialize;
use shared_types::{BootId, MachineTag, RecordSeq, UptimeMillis};
use thiserror::Error;

use crate::app::ports::contradiction::Contradiction;
use crate::app::ports::{Gap, LoggerError, Skipped, StoreError};
use host_core::entries::MachineAdded;

/// What a pull did.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct PullReport {
    /// The port or file.
    pub place: String,
    /// Whether it was a saved log.
    pub from_saved_log: bool,
    /// The logger, as sixteen hexadecimal digits.
    pub logger: String,
    /// Its log, as eight hexadecimal digits.
    pub log: String,
    /// Its firmware.
    pub firmware: String,
    /// The machine on which it sits; none while nobody said so.
    pub machine: Option<MachineTag>,
    /// The machine's name.
    pub machine_name: Option<String>,
    /// Whether the logger was put on that machine by this pull.
    pub fitted_now: bool,
    /// Whether the machine itself was added by this pull.
    pub machine_added: bool,
    /// Records seen for the first time.
    pub new_records: u64,
    /// Records that were there already.
    pub known_records: u64,
    /// Records that were there with other bytes; both are kept.
    pub conflicting_records: u64,
    /// New records that this program cannot read; they are kept.
    pub unreadable_records: u64,
    /// The lowest new number.
    pub new_from: Option<RecordSeq>,
    /// The highest new number.
    pub new_to: Option<RecordSeq>,
    /// Run time in the new records.
    pub new_run_time_ms: u64,
    /// Edges in the new records.
    pub new_edges: u64,
    /// Run time that the logger counted over this log and of which no record is held.
    pub not_recorded_ms: u64,
    /// The same in edges.
    pub not_recorded_edges: u64,
    /// Record numbers that are missing.
    pub gaps: Vec<Gap>,
    /// Bytes that came over the link or out of the file.
    pub link_bytes: u64,
    /// Of these, bytes of record bodies.
    pub payload_bytes: u64,
    /// What came and could not be used.
    pub skipped: Skipped,
    /// The logger was told that everything below this number is safe.
    pub acknowledged_below: Option<RecordSeq>,
    /// Whether the logger's clock was set.
    pub clock_set: bool,
    /// Whether the lamp's limits were changed.
    pub limits_set: bool,
    /// What the maker should know.
    pub warnings: Vec<Warning>,
}

/// What the maker should know after a pull.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum Warning {
    /// The logger is set to another machine than the one known here; what it recorded since waits for the maker.
    Moved {
        /// The machine known here, if it still was.
        known: Option<MachineTag>,
        /// The machine in the logger.
        told: MachineTag,
        /// The first record that counts for no machine.
        from: RecordSeq,
    },
    /// The maker put the logger on another machine; what was not pulled before counts there.
    MovedByWish {
        /// The machine before.
        before: MachineTag,
        /// The first record that counts for the new machine.
        from: RecordSeq,
    },
    /// The logger started a new log; the old one is kept beside it.
    Reformatted {
        /// The logs known before, as eight hexadecimal digits.
        before: Vec<String>,
    },
    /// The logger's lifetime totals are lower than when it was last heard.
    TotalsWentDown {
        /// Run time then.
        run_ms_before: u64,
        /// Run time now.
        run_ms_now: u64,
    },
    /// The records held of a logger hold more than it says that it counted.
    RecordsHoldMore {
        /// Run time in the records held.
        run_ms_held: u64,
        /// Run time that the logger says it counted over this log.
        run_ms_counted: u64,
        /// Edges in the records held.
        edges_held: u64,
        /// Edges that the logger says it counted over this log.
        edges_counted: u64,
    },
    /// Records held were made later than the logger says that it is now.
    RecordsAreLater {
        /// The boot of the latest one.
        boot: BootId,
        /// Uptime in that boot.
        at: UptimeMillis,
        /// The boot that the logger tells.
        greeted: BootId,
    },
    /// A piece of a saved log was not kept, because it cannot be true.
    SetAside {
        /// Records in it.
        records: u64,
        /// Why.
        why: Contradiction,
    },
    /// The logger has fewer records than when it was last heard.
    NumbersWentBack {
        /// The next number then.
        next_before: RecordSeq,
        /// The next number now.
        next_now: RecordSeq,
    },
    /// The logger writes records of a newer version.
    NewerRecords {
        /// Its version.
        version: u8,
    },
    /// Bytes at the end of batches that could not be taken apart.
    UnreadableBytes {
        /// How many.
        bytes: u64,
    },
    /// The records are safe, but the logger could not be told something.
    NotTold {
        /// What.
        order: Order,
        /// Why.
        why: String,
    },
}

/// What a logger is told at the end of a pull.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Order {
    /// That records are safe.
    Acknowledge,
    /// The time.
    Clock,
    /// Its machine.
    Machine,
    /// When the lamp should speak.
    Limits,
}

/// Why a pull could not be done.
#[derive(Debug, Error, Diagnostic)]
pub enum PullError {
    /// The logger.
    #[error(transparent)]
    #[diagnostic(transparent)]
    Logger(#[from] LoggerError),
    /// The database.
    #[error(transparent)]
    #[diagnostic(transparent)]
    Store(#[from] StoreError),
    /// It broke off; what had come is kept.
    #[error("the pull broke off after {} new records; they are kept", report.new_records)]
    #[diagnostic(
        code(pull::broke_off),
        help("Plug the cable in again and pull once more; it goes on where it stopped.")
    )]
    BrokeOff {
        /// How far it came.
        report: Box<PullReport>,
        /// Why.
        #[source]
        source: LoggerError,
    },
    /// The logger cannot read its own log.
    #[error("the logger cannot read its own log; nothing was changed on it")]
    #[diagnostic(
        code(pull::unreadable_log),
        help("Run `needlehours doctor`; a newer firmware may be able to read it.")
    )]
    UnreadableLog,
    /// The logger has not made its log yet.
    #[error("the logger is still making its log; {sectors_left} parts of its memory are left to be emptied")]
    #[diagnostic(
        code(pull::still_making),
        help("Leave it plugged in with the needle at rest for a few minutes, then pull again.")
    )]
    StillFormatting {
        /// Sectors left.
        sectors_left: u32,
    },
    /// There are several machines.
    #[error("it is not known on which machine this logger sits")]
    #[diagnostic(code(pull::machine), help("Add --machine and its name or number: {}.", named(machines)))]
    WhichMachine {
        /// The machines.
        machines: Vec<MachineAdded>,
    },
    /// No machine has this number.
    #[error("there is no machine {}", machine.0)]
    #[diagnostic(code(pull::machine), help("Add --machine and its name or number: {}.", named(machines)))]
    NoSuchMachine {
        /// The number.
        machine: MachineTag,
        /// The machines that there are.
        machines: Vec<MachineAdded>,
    },
}

fn named(machines: &[MachineAdded]) -> String {
    let named: Vec<String> =
        machines.iter().map(|known| format!("{} ({})", known.machine.0, known.name)).collect();
    named.join(", ")
}
