//! Small logs and entries for the tests of this folder, each built from the numbers that its test names.

use shared_types::log::{
    Anchor, ClockSource, FirmwareVersion, Press, PressKind, StartReason, Started, Trace,
};
use shared_types::{
    BootId, Edges, LogId, LoggerId, MachineTag, RawAngle, RecordSeq, RunMillis, Totals, UptimeMillis,
    UtcMillis,
};

use crate::entries::{
    BurstsAssigned, Certainty, Drive, Entry, EntryBody, EntryId, Fitting, InForce, MachineAdded, Owner, Pile,
    RugName, RugOrdered, RugRenamed, RugWork, WorkChange,
};
use crate::records::log_records::{EventFact, LogKey, LogRecords, LoggedEvent, SegmentRecord};

pub const LOG: LogKey = LogKey { logger: LoggerId(0xA1), log: LogId(0xB2) };
/// 2026-03-02T08:00:00Z, a Monday: 20,514 days after 1970-01-01 and eight hours.
pub const MONDAY_8: i64 = 20_514 * 86_400_000 + 8 * 3_600_000;
pub const MINUTE: i64 = 60_000;
pub const HOUR: i64 = 3_600_000;

/// A log without anything in it.
pub fn empty_log() -> LogRecords {
    LogRecords {
        key: LOG,
        formatted_with: Totals::default(),
        last_totals: Totals::default(),
        last_next: RecordSeq(0),
        segments: Vec::new(),
        events: Vec::new(),
        conflicting: Vec::new(),
        unreadable: 0,
    }
}

pub fn event(seq: u32, boot: u32, at: u64, what: LoggedEvent) -> EventFact {
    EventFact { seq: RecordSeq(seq), boot: BootId(boot), at: UptimeMillis(at), what }
}

pub fn anchor(seq: u32, boot: u32, at: u64, utc: i64, source: ClockSource) -> EventFact {
    event(seq, boot, at, LoggedEvent::Anchor(Anchor { utc: UtcMillis(utc), source }))
}

pub fn press(seq: u32, boot: u32, at: u64, kind: PressKind) -> EventFact {
    event(seq, boot, at, LoggedEvent::Press(Press { kind, still_ms: 0, trace: Trace::default() }))
}

pub fn started(seq: u32, boot: u32, run: u64, edges: u64) -> EventFact {
    let firmware = FirmwareVersion { major: 0, minor: 1, patch: 0 };
    let totals = Totals { run: RunMillis(run), edges: Edges(edges) };
    event(seq, boot, 0, LoggedEvent::Started(Started { reason: StartReason::PowerOn, firmware, totals }))
}

pub fn segment(seq: u32, boot: u32, at: u64, run: u64, edges: u32) -> SegmentRecord {
    SegmentRecord {
        seq: RecordSeq(seq),
        boot: BootId(boot),
        at: UptimeMillis(at),
        run: RunMillis(run),
        edges,
        angle: Some(RawAngle::new(2000)),
        continues: false,
    }
}

pub fn entries(bodies: impl IntoIterator<Item = EntryBody>) -> InForce<'static> {
    InForce::of(entry_list(bodies))
}

pub fn entry_list(bodies: impl IntoIterator<Item = EntryBody>) -> Vec<Entry> {
    (1..)
        .zip(bodies)
        .map(|(id, body)| Entry { id: EntryId(id), entered_at: UtcMillis(MONDAY_8), body })
        .collect()
}

pub fn machine(tag: u32) -> EntryBody {
    EntryBody::MachineAdded(MachineAdded {
        machine: MachineTag(tag),
        name: format!("machine {tag}"),
        pile: Pile::Cut,
        before_logger: None,
        since: UtcMillis(MONDAY_8),
        drive: Drive::Electric,
        has_logger: None,
        is_second_hand: None,
    })
}

pub fn fitted(tag: u32, from: u32) -> EntryBody {
    EntryBody::LoggerFitted(Fitting {
        machine: MachineTag(tag),
        logger: LOG.logger,
        log: LOG.log,
        from: RecordSeq(from),
    })
}

pub fn rug(name: &str) -> EntryBody {
    EntryBody::RugOrdered(RugOrdered {
        rug: RugName(name.to_owned()),
        width_mm: None,
        height_mm: None,
        cloth_lot: None,
        at: UtcMillis(MONDAY_8),
    })
}

pub fn renamed(name: &str, now: &str) -> EntryBody {
    EntryBody::RugRenamed(RugRenamed { rug: RugName(name.to_owned()), now: RugName(now.to_owned()) })
}

pub fn work(name: &str, machine: Option<u32>, change: WorkChange, at: i64) -> EntryBody {
    EntryBody::RugWork(RugWork {
        rug: RugName(name.to_owned()),
        machine: machine.map(MachineTag),
        change,
        at: UtcMillis(at),
    })
}

pub fn assigned(from: u32, to: u32, owner: Owner, certainty: Certainty) -> EntryBody {
    EntryBody::BurstsAssigned(BurstsAssigned {
        logger: LOG.logger,
        log: LOG.log,
        from: RecordSeq(from),
        to: RecordSeq(to),
        owner,
        certainty,
    })
}
