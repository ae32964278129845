//! What the loggers reported, sorted by kind, as the store hands it to the core.

use shared_types::log::{Anchor, FaultChange, Press, Settings, Started, Trace};
use shared_types::{
    BootId, LogId, LoggerId, MachineTag, RawAngle, RecordSeq, RunMillis, Totals, UptimeMillis,
};

/// Names one log: a logger, and which of its logs in turn.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct LogKey {
    /// The logger.
    pub logger: LoggerId,
    /// The log made when its flash was last formatted.
    pub log: LogId,
}

/// Everything that is known of one log.
#[derive(Clone, Debug, PartialEq)]
pub struct LogRecords {
    /// Which log.
    pub key: LogKey,
    /// The logger's lifetime totals when this log was formatted.
    pub formatted_with: Totals,
    /// The logger's lifetime totals when it was last heard.
    pub last_totals: Totals,
    /// The number that the logger's next record would have got when it was last heard.
    pub last_next: RecordSeq,
    /// Segments in the order of their numbers.
    pub segments: Vec<SegmentRecord>,
    /// All other records in the order of their numbers.
    pub events: Vec<EventFact>,
    /// Numbers of which two records with different bytes were received; the first received is used.
    pub conflicting: Vec<RecordSeq>,
    /// Number of records that are kept and that this program cannot read.
    pub unreadable: u64,
}

/// One segment of running.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SegmentRecord {
    /// Its record number.
    pub seq: RecordSeq,
    /// The boot.
    pub boot: BootId,
    /// Uptime at its start.
    pub at: UptimeMillis,
    /// From its start to its last edge.
    pub run: RunMillis,
    /// Edges in it; see `shared_types::log::Segment`.
    pub edges: u32,
    /// The knob's angle.
    pub angle: Option<RawAngle>,
    /// Whether the needle was already moving when it started.
    pub continues: bool,
}

/// One record that is not a segment.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct EventFact {
    /// Its record number.
    pub seq: RecordSeq,
    /// The boot.
    pub boot: BootId,
    /// Uptime at which it happened.
    pub at: UptimeMillis,
    /// What happened.
    pub what: LoggedEvent,
}

/// Events besides running.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum LoggedEvent {
    /// The logger started.
    Started(Started),
    /// A button was pressed.
    Press(Press),
    /// A trace at a moment drawn beforehand.
    Control(Trace),
    /// A clock was read or set.
    Anchor(Anchor),
    /// The settings in force from here on.
    Settings(Settings),
    /// A fault appeared or went away.
    Fault(FaultChange),
    /// The host said on which machine the logger sits.
    Fitted(MachineTag),
}
