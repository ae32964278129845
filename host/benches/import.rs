//! How long it takes to import bursts, against the `sqlite3` shell reading the same rows from a CSV file into the same
//! indexed table. Prints times and their ratio; there is no pass mark.
//!
//! `cargo bench -p host --bench import -- [bursts]`; one million when no number is given.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::cast_possible_truncation,
    reason = "a benchmark may stop at the first surprise"
)]

use std::fmt::Write as _;
use std::fs;
use std::path::Path;
use std::process::{Command, ExitCode};
use std::time::{Duration, Instant};

use host::app::care::limits;
use host::app::hours::report;
use host::app::ports::book::Chained;
use host::app::ports::{Clock, RawRecord, Store};
use host::store::Database;
use host_core::entries::{
    Drive, EntryBody, Fitting, MachineAdded, Pile, RugName, RugOrdered, RugWork, WorkChange,
};
use host_core::records::log_records::LogKey;
use jiff::tz::TimeZone;
use shared_types::limits::MAX_RECORD_BODY;
use shared_types::log::{Anchor, ClockSource, Event, Record, Segment, encode_body};
use shared_types::{
    BootId, LogId, LoggerId, MachineTag, RawAngle, RecordSeq, RunMillis, UptimeMillis, UtcMillis,
};

const KEY: LogKey = LogKey { logger: LoggerId(1), log: LogId(1) };
const AT: UtcMillis = UtcMillis(1_790_000_000_000);
const PER_BOOT: u32 = 500;

fn main() -> ExitCode {
    // Cargo itself hands over `--bench`.
    let bursts = std::env::args().skip(1).find_map(|argument| argument.parse().ok()).unwrap_or(1_000_000);
    if Command::new("sqlite3").arg("--version").output().is_err() {
        eprintln!("This benchmark compares with the sqlite3 shell, which is not installed.");
        return ExitCode::FAILURE;
    }
    let dir = tempfile::tempdir().unwrap();
    let records: Vec<RawRecord> = (0..bursts).flat_map(records_of).collect();
    let mut store = Database::open(&dir.path().join("ours.db")).unwrap();
    let ours = import(&mut store, &records);
    enter_a_studio(&mut store, bursts);
    let mut steps = 0;
    let chained = timed(|| {
        store.walk_chain(&mut |_| steps += 1).unwrap();
        steps
    });
    let logs = timed(|| store.logs().unwrap().len());
    let hours = timed(|| report::report(&store, &Studio, None, None).unwrap().hours.machines.len());
    let due = timed(|| limits::due(&store, &Studio, None).unwrap().tasks.len());
    let shell = shell_import(dir.path(), bursts);
    println!("bursts                        {bursts}");
    println!("import, raw and derived       {:.2} s", ours.as_secs_f64());
    println!("sqlite3 .import, derived only {:.2} s", shell.as_secs_f64());
    println!("ratio                         {:.2}", ours.as_secs_f64() / shell.as_secs_f64());
    // Checking makes the same bytes and the same digest as chaining did when the records were kept.
    let without = ours.saturating_sub(chained).as_secs_f64();
    println!(
        "making the chain anew         {:.2} s, {:.3} s for 100,000 bursts",
        chained.as_secs_f64(),
        chained.as_secs_f64() * 1e5 / f64::from(bursts)
    );
    println!("import with / without chain   {:.2}", ours.as_secs_f64() / without);
    println!("reading all records back      {:.2} s", logs.as_secs_f64());
    for (what, took) in [("`hours`", hours), ("`due`", due)] {
        let ratio = took.as_secs_f64() / logs.as_secs_f64();
        println!("{what:<29} {:.2} s, {ratio:.2} times the reading alone", took.as_secs_f64());
    }
    ExitCode::SUCCESS
}

fn segment(index: u32) -> (u64, Segment) {
    let run = 1_000 + u64::from(index.wrapping_mul(2_654_435_761) >> 19);
    let angle = (!index.is_multiple_of(7)).then(|| RawAngle::new((index.wrapping_mul(40_503) >> 8) as u16));
    let edges = (run / 33) as u32;
    (u64::from(index) * 15_000, Segment { run: RunMillis(run), edges, angle, continues: false })
}

/// A burst, and before every five-hundredth the clock reading of a new boot.
fn records_of(index: u32) -> Vec<RawRecord> {
    let boot = BootId(index / PER_BOOT);
    let (at, segment) = segment(index);
    let mut records = Vec::new();
    if index.is_multiple_of(PER_BOOT) {
        let utc = UtcMillis(AT.0 + i64::try_from(at).unwrap());
        let anchor = Event::Anchor(Anchor { utc, source: ClockSource::ClockChip });
        records.push(raw(seq(index) - 1, &Record { boot, at: UptimeMillis(at), event: anchor }));
    }
    records.push(raw(seq(index), &Record { boot, at: UptimeMillis(at), event: Event::Segment(segment) }));
    records
}

fn seq(index: u32) -> u32 {
    index + index / PER_BOOT + 1
}

fn raw(seq: u32, record: &Record) -> RawRecord {
    let mut out = [0; MAX_RECORD_BODY];
    RawRecord { seq: RecordSeq(seq), body: encode_body(record, &mut out).unwrap().to_vec() }
}

/// Everything in one call, as from a saved log: raw bytes kept, derived rows made, committed to the disk.
fn import(store: &mut Database, records: &[RawRecord]) -> Duration {
    let start = Instant::now();
    let kept = store.keep_records(AT, KEY, records).unwrap();
    let took = start.elapsed();
    assert_eq!(kept.new, records.len() as u64);
    took
}

/// One machine with the logger on it, and fifty commissions one after the other.
fn enter_a_studio(store: &mut Database, bursts: u32) {
    let machine = MachineTag(1);
    let LogKey { logger, log } = KEY;
    let added = MachineAdded {
        machine,
        name: "Bench".into(),
        pile: Pile::Cut,
        before_logger: None,
        since: AT,
        drive: Drive::Electric,
        has_logger: None,
        is_second_hand: None,
    };
    let fitting = Fitting { machine, logger, log, from: RecordSeq(0) };
    let mut entries = vec![EntryBody::MachineAdded(added), EntryBody::LoggerFitted(fitting)];
    let length = i64::try_from(segment(bursts).0).unwrap() / 50;
    for number in 0..50 {
        let (rug, at) = (RugName(format!("Rug {number}")), UtcMillis(AT.0 + number * length));
        let (width_mm, height_mm, cloth_lot) = (Some(900), Some(1_200), None);
        entries.push(EntryBody::RugOrdered(RugOrdered {
            rug: rug.clone(),
            width_mm,
            height_mm,
            cloth_lot,
            at,
        }));
        for (change, at) in [(WorkChange::Started, at), (WorkChange::Finished, UtcMillis(at.0 + length - 1))]
        {
            entries.push(EntryBody::RugWork(RugWork {
                rug: rug.clone(),
                machine: Some(machine),
                change,
                at,
            }));
        }
    }
    for body in &entries {
        store.add_entry(AT, body).unwrap();
    }
}

/// The clock on the bench's wall: long after the last burst.
struct Studio;

impl Clock for Studio {
    fn now(&self) -> UtcMillis {
        UtcMillis(AT.0 * 2)
    }

    fn zone(&self) -> TimeZone {
        TimeZone::UTC
    }
}

fn timed(work: impl FnOnce() -> usize) -> Duration {
    let start = Instant::now();
    assert!(work() > 0, "there is something to answer");
    start.elapsed()
}

/// The shell reads the rows of the derived table only: the same table, index and journal, without the raw bytes.
fn shell_import(dir: &Path, bursts: u32) -> Duration {
    let path = dir.join("shell.db");
    drop(Database::open(&path).unwrap());
    let csv = dir.join("rows.csv");
    let mut rows = String::new();
    for index in 0..bursts {
        let (at, Segment { run, edges, angle, continues }) = segment(index);
        let (seq, boot) = (seq(index), index / PER_BOOT);
        let angle = angle.map_or(String::new(), |angle| angle.steps().to_string());
        let continues = u8::from(continues);
        writeln!(rows, "1,{seq},{boot},{at},{},{edges},{angle},{continues}", run.0).unwrap();
    }
    // The shell's import knows no null, and the column takes integers only.
    let rows = rows.replace(",,", ",0,");
    fs::write(&csv, rows).unwrap();
    let start = Instant::now();
    let status = Command::new("sqlite3")
        .arg(&path)
        .arg(".mode csv")
        .arg(format!(".import {} segment", csv.display()))
        .status()
        .unwrap();
    let took = start.elapsed();
    assert!(status.success());
    let held: u32 = rusqlite::Connection::open(&path)
        .unwrap()
        .query_row("SELECT count(*) FROM segment", (), |row| row.get(0))
        .unwrap();
    assert_eq!(held, bursts, "the shell took every row");
    took
}
