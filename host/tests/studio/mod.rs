//! A database of one test, the program run on it, and records put into it as a pull would.

use std::path::PathBuf;
use std::process::{Command, Output};

use host::app::ports::{RawRecord, Store};
use host::core::facts::LogKey;
use host::store::Database;
use shared_types::link::{Hello, LogState};
use shared_types::log::{
    Anchor, ClockSource, Event, FirmwareVersion, RECORD_VERSION, Record, Segment, Settings, encode_body,
};
use shared_types::{
    BootId, Edges, LogId, LoggerId, RawAngle, RecordSeq, RunMillis, Totals, UptimeMillis, UtcMillis,
};

/// 2025-03-03T08:00:00Z, a Monday: 20,150 days after 1970-01-01, and eight hours.
pub const MONDAY_8: i64 = 20_150 * 86_400_000 + 8 * 3_600_000;
pub const LOG: LogKey = LogKey { logger: LoggerId(0xA1), log: LogId(0xB2) };

/// A folder that goes away with the test, and the database in it.
pub struct Studio {
    pub folder: tempfile::TempDir,
}

/// What the program said and how it ended.
#[derive(Debug)]
pub struct Said {
    pub out: String,
    pub err: String,
    pub code: i32,
}

impl Studio {
    pub fn new() -> Self {
        Self { folder: tempfile::tempdir().unwrap() }
    }

    pub fn db(&self) -> PathBuf {
        self.folder.path().join("studio.db")
    }

    /// Runs the program two hours east of Greenwich.
    pub fn run(&self, arguments: &[&str]) -> Said {
        let output: Output = Command::new(env!("CARGO_BIN_EXE_needlehours"))
            .args(arguments)
            .current_dir(self.folder.path())
            .env_clear()
            .env("HOME", self.folder.path())
            .env("NEEDLEHOURS_DB", self.db())
            .env("NO_COLOR", "1")
            .env("TZ", "<+02>-2")
            .output()
            .unwrap();
        Said {
            out: String::from_utf8(output.stdout).unwrap(),
            err: String::from_utf8(output.stderr).unwrap(),
            code: output.status.code().unwrap(),
        }
    }

    /// Runs the program, which must succeed; returns what it said.
    pub fn ok(&self, arguments: &[&str]) -> String {
        let said = self.run(arguments);
        assert_eq!(said.code, 0, "{arguments:?}: {said:?}");
        assert_eq!(said.err, "", "{arguments:?}");
        said.out
    }

    /// Runs the program, which must answer with one JSON object.
    pub fn json(&self, arguments: &[&str]) -> serde_json::Value {
        serde_json::from_str(&self.ok(arguments)).unwrap()
    }

    /// How many entries the maker has made.
    pub fn entries(&self) -> usize {
        Database::open(&self.db()).unwrap().entries().unwrap().len()
    }

    /// Keeps records as a pull would, with totals that are `lost` more than they hold.
    pub fn pulled(&self, records: &[Record], lost: Totals) {
        let mut database = Database::open(&self.db()).unwrap();
        let held = records.iter().fold(lost, |sum, record| match &record.event {
            Event::Segment(segment) => sum.plus(segment.run, Edges(u64::from(segment.edges))),
            _ => sum,
        });
        let next = RecordSeq(records.len() as u32);
        let hello = Hello {
            record_version: RECORD_VERSION,
            firmware: FirmwareVersion { major: 0, minor: 1, patch: 0 },
            build: "test".try_into().unwrap(),
            logger: LOG.logger,
            log: LogState::Ready {
                log: LOG.log,
                oldest: RecordSeq(0),
                next,
                acknowledged: RecordSeq(0),
                formatted_with: Totals::default(),
            },
            boot: BootId(1),
            uptime: UptimeMillis(0),
            totals: held,
            settings: Settings::default(),
            faults: 0,
        };
        let at = UtcMillis(MONDAY_8 + 86_400_000);
        database.note_hello(at, &hello, "test").unwrap();
        let raw: Vec<RawRecord> = (0..)
            .zip(records)
            .map(|(seq, record)| {
                let mut out = [0; 256];
                RawRecord { seq: RecordSeq(seq), body: encode_body(record, &mut out).unwrap().to_vec() }
            })
            .collect();
        database.keep_records(at, LOG, &raw).unwrap();
    }
}

/// The computer's clock said `utc` at the start of a boot.
pub fn reading(boot: u32, utc: i64) -> Record {
    let event = Event::Anchor(Anchor { utc: UtcMillis(utc), source: ClockSource::Host });
    Record { boot: BootId(boot), at: UptimeMillis(0), event }
}

/// Running in a boot, at an uptime in minutes, with the knob's angle.
pub fn running(boot: u32, minute: u64, run_ms: u64, edges: u32, angle: u16) -> Record {
    let event = Event::Segment(Segment {
        run: RunMillis(run_ms),
        edges,
        angle: Some(RawAngle::new(angle)),
        continues: false,
    });
    Record { boot: BootId(boot), at: UptimeMillis(minute * 60_000), event }
}
