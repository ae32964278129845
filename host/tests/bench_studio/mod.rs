//! A studio in a temporary database, with a logger whose records are written by hand, and the program run on it.
#![allow(
    dead_code,
    unused_imports,
    clippy::unwrap_used,
    clippy::expect_used,
    reason = "each test file uses its part; a test may stop at the first surprise"
)]

#[path = "../program/mod.rs"]
pub mod program;

use std::path::PathBuf;

use host::app::ports::{RawRecord, Store};
use host::store::Database;
use host_core::entries::{
    Drive, Entry, EntryBody, EntryId, Fitting, KnobMarks, MachineAdded, Pile, RugName, RugOrdered, RugWork,
    WorkChange,
};
use host_core::records::log_records::LogKey;
pub use program::Still;
use program::{Told, place, run_at_terminal, run_in};
use shared_types::limits::{MAX_RECORD_BODY, SEGMENT_CLOSE_MS};
use shared_types::link::{LogState, LoggerStatus};
use shared_types::log::{
    Anchor, ClockSource, Event, FirmwareVersion, Press, PressKind, RECORD_VERSION, Record, Segment, Settings,
    StartReason, Started, Trace, TraceStep, encode_body,
};
use shared_types::{
    BootId, Edges, LogId, LoggerId, MachineTag, RawAngle, RecordSeq, RunMillis, Totals, UptimeMillis,
    UtcMillis,
};

pub const LOG: LogKey = LogKey { logger: LoggerId(0xA1), log: LogId(0xB2) };
pub const ONE: MachineTag = MachineTag(1);
/// 2026-03-02T08:00:00Z, a Monday: 20,514 days after 1970-01-01 and eight hours.
pub const MONDAY_8: i64 = 20_514 * 86_400_000 + 8 * 3_600_000;
pub const MINUTE: u64 = 60_000;
pub const FIRMWARE: FirmwareVersion = FirmwareVersion { major: 0, minor: 1, patch: 0 };

/// Records of one boot whose clock says Monday at eight at uptime 0.
#[derive(Debug, Default)]
pub struct Log {
    records: Vec<Record>,
    totals: Totals,
}

impl Log {
    pub fn new() -> Self {
        let mut log = Self::default();
        let started = Started { reason: StartReason::PowerOn, firmware: FIRMWARE, totals: Totals::default() };
        log.add(0, Event::Started(started));
        log.add(0, Event::Anchor(Anchor { utc: UtcMillis(MONDAY_8), source: ClockSource::ClockChip }));
        log
    }

    fn add(&mut self, at: u64, event: Event) -> RecordSeq {
        let seq = RecordSeq(u32::try_from(self.records.len()).unwrap());
        self.records.push(Record { boot: BootId(1), at: UptimeMillis(at), event });
        seq
    }

    /// A burst from a minute on, so many minutes long, ten strokes a second, at a knob place in per mille.
    pub fn run(&mut self, minute: u64, minutes: u64, knob: u16) -> &mut Self {
        self.run_at(minute, minutes, knob, 10)
    }

    /// The same at another rate, in strokes a second.
    pub fn run_at(&mut self, minute: u64, minutes: u64, knob: u16, rate: u64) -> &mut Self {
        self.run_seconds(minute, minutes * 60, knob, rate)
    }

    /// The same for so many seconds; up to nine of them are one record.
    pub fn run_seconds(&mut self, minute: u64, seconds: u64, knob: u16, rate: u64) -> &mut Self {
        let edges = u32::try_from(seconds * rate).unwrap();
        for record in segments(&running(1, minute, seconds * 1_000, edges, knob)) {
            if let Event::Segment(segment) = &record.event {
                self.totals = self.totals.plus(segment.run, Edges(u64::from(segment.edges)));
            }
            self.records.push(record);
        }
        self
    }

    /// A press at a minute; the knob stood at a place before it and was turned to zero in the last second.
    pub fn press(&mut self, minute: u64, kind: PressKind, knob_before: u16) -> RecordSeq {
        let step = |angle| TraceStep { edges: 5, angle: Some(RawAngle::new(angle)) };
        let steps = (0..18).map(|_| step(knob_before)).chain([step(0), step(0)]).collect();
        let press = Press { kind, still_ms: 1000, trace: Trace { newest_ms: 500, steps } };
        self.add(minute * MINUTE, Event::Press(press))
    }

    pub fn status(&self) -> LoggerStatus {
        status(self.records.len(), self.totals)
    }
}

fn status(records: usize, totals: Totals) -> LoggerStatus {
    LoggerStatus {
        record_version: RECORD_VERSION,
        firmware: FIRMWARE,
        build: "hand".try_into().unwrap(),
        logger: LOG.logger,
        log: LogState::Ready {
            log: LOG.log,
            oldest: RecordSeq(0),
            next: RecordSeq(u32::try_from(records).unwrap()),
            acknowledged: RecordSeq(0),
            formatted_with: Totals::default(),
        },
        boot: BootId(1),
        uptime: UptimeMillis(0),
        totals,
        settings: Settings::default(),
        faults: 0,
    }
}

/// The computer's clock said `utc` at the start of a boot.
pub fn reading(boot: u32, utc: i64) -> Record {
    let event = Event::Anchor(Anchor { utc: UtcMillis(utc), source: ClockSource::Host });
    Record { boot: BootId(boot), at: UptimeMillis(0), event }
}

/// Running in a boot, at an uptime in minutes, with the knob's angle.
pub fn running(boot: u32, minute: u64, run_ms: u64, edges: u32, angle: u16) -> Record {
    let angle = Some(RawAngle::new(angle));
    let event = Event::Segment(Segment { run: RunMillis(run_ms), edges, angle, continues: false });
    Record { boot: BootId(boot), at: UptimeMillis(minute * MINUTE), event }
}

/// A long run as a logger writes it: in segments of less than ten seconds, the later ones of which go on from the one before; of
/// the same run time and edges each where a number of them that is not much larger allows it. Run time and edges stay what they
/// are.
pub fn segments(record: &Record) -> Vec<Record> {
    let Event::Segment(whole) = &record.event else { return vec![record.clone()] };
    let (run, edges) = (whole.run.0, u64::from(whole.edges));
    let least = run.div_ceil(u64::from(SEGMENT_CLOSE_MS)).max(1);
    let even = (least..least + least / 2)
        .find(|pieces| run.is_multiple_of(*pieces) && edges.is_multiple_of(*pieces));
    let pieces = even.unwrap_or(least);
    (0..pieces)
        .map(|piece| {
            let part = |of: u64| of * (piece + 1) / pieces - of * piece / pieces;
            let segment = Segment {
                run: RunMillis(part(run)),
                edges: u32::try_from(part(edges)).unwrap(),
                angle: whole.angle,
                continues: whole.continues || piece > 0,
            };
            let at = UptimeMillis(record.at.0 + run * piece / pieces);
            Record { boot: record.boot, at, event: Event::Segment(segment) }
        })
        .collect()
}

/// A studio with machine 1, called Rosie; its knob's angles 0 to 1000 are its per mille.
#[derive(Debug)]
pub struct Studio {
    _folder: tempfile::TempDir,
    path: PathBuf,
    zone: &'static str,
}

impl Studio {
    pub fn new() -> Self {
        let studio = Self::empty();
        studio.tell(EntryBody::MachineAdded(MachineAdded {
            machine: ONE,
            name: "Rosie".to_owned(),
            pile: Pile::Cut,
            before_logger: None,
            since: UtcMillis(MONDAY_8),
            drive: Drive::Electric,
            has_logger: None,
            is_second_hand: None,
        }));
        studio.tell(EntryBody::KnobMarked(KnobMarks {
            machine: ONE,
            slow: RawAngle::new(0),
            fast: RawAngle::new(1000),
            rising: true,
        }));
        studio.tell(EntryBody::LoggerFitted(Fitting {
            machine: ONE,
            logger: LOG.logger,
            log: LOG.log,
            from: RecordSeq(0),
        }));
        studio
    }

    /// Without anything in it, and without a database yet.
    pub fn empty() -> Self {
        Self::empty_in("UTC")
    }

    /// The same in another zone.
    pub fn empty_in(zone: &'static str) -> Self {
        let (folder, path) = place();
        Self { _folder: folder, path, zone }
    }

    pub fn path(&self) -> PathBuf {
        self.path.clone()
    }

    pub fn database(&self) -> Database {
        Database::open(&self.path).unwrap()
    }

    pub fn tell(&self, body: EntryBody) -> EntryId {
        self.database().add_entry(UtcMillis(MONDAY_8), &body).unwrap()
    }

    pub fn entries(&self) -> Vec<Entry> {
        self.database().entries().unwrap().with_withdrawn().to_vec()
    }

    /// A commission that is on the frame from Monday at eight.
    pub fn rug(&self, name: &str, lot: &str) {
        self.tell(EntryBody::RugOrdered(RugOrdered {
            rug: RugName(name.to_owned()),
            width_mm: None,
            height_mm: None,
            cloth_lot: Some(lot.to_owned()),
            at: UtcMillis(MONDAY_8),
        }));
        self.tell(EntryBody::RugWork(RugWork {
            rug: RugName(name.to_owned()),
            machine: None,
            change: WorkChange::Started,
            at: UtcMillis(MONDAY_8),
        }));
    }

    pub fn pulled(&self, log: &Log) {
        self.keep(UtcMillis(MONDAY_8), &log.status(), &log.records);
    }

    /// Keeps records as a pull at a moment would, with totals that are `lost` more than they hold.
    pub fn pulled_with_loss(&self, at: UtcMillis, records: &[Record], lost: Totals) {
        let records: Vec<Record> = records.iter().flat_map(segments).collect();
        let totals = records.iter().fold(lost, |sum, record| match &record.event {
            Event::Segment(segment) => sum.plus(segment.run, Edges(u64::from(segment.edges))),
            _ => sum,
        });
        self.keep(at, &status(records.len(), totals), &records);
    }

    fn keep(&self, at: UtcMillis, status: &LoggerStatus, records: &[Record]) {
        let raw: Vec<RawRecord> = (0..)
            .zip(records)
            .map(|(seq, record)| {
                let mut body = [0; MAX_RECORD_BODY];
                RawRecord { seq: RecordSeq(seq), body: encode_body(record, &mut body).unwrap().to_vec() }
            })
            .collect();
        let mut database = self.database();
        database.note_status(at, status, "hand").unwrap();
        database.keep_records(at, LOG, &raw).unwrap();
    }

    /// Runs the program on this studio.
    pub fn ask(&self, words: &[&str]) -> Told {
        run_in(self.zone, &self.path, words)
    }

    /// Runs the program at a terminal; see [`run_at_terminal`].
    pub fn at_terminal(&self, words: &[&str], steps: &[(&str, &str)]) -> String {
        run_at_terminal(self.zone, &self.path, words, steps)
    }

    /// Runs the program, which must succeed in silence; returns what it said.
    #[track_caller]
    pub fn ok(&self, words: &[&str]) -> String {
        self.ask(words).ok()
    }

    /// Runs the program, which must succeed with one JSON object.
    #[track_caller]
    /// What was said, without the numbers of what was entered.
    pub fn said(&self, words: &[&str]) -> String {
        let said = self.ok(words);
        let is_number = |line: &&str| !line.starts_with("Entry ") && !line.starts_with("Entries ");
        said.lines().filter(is_number).map(|line| format!("{line}\n")).collect()
    }

    pub fn json(&self, words: &[&str]) -> serde_json::Value {
        let told = self.ask(words);
        told.ok();
        told.json()
    }
}
