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

use host::app::ports::{RawRecord, Store};
use host::core::facts::LogKey;
use host::store::Database;
use shared_types::limits::MAX_RECORD_BODY;
use shared_types::log::{Event, Record, Segment, encode_body};
use shared_types::{BootId, LogId, LoggerId, RawAngle, RecordSeq, RunMillis, UptimeMillis, UtcMillis};

const KEY: LogKey = LogKey { logger: LoggerId(1), log: LogId(1) };
const AT: UtcMillis = UtcMillis(1_790_000_000_000);

fn main() -> ExitCode {
    // Cargo itself hands over `--bench`.
    let bursts = std::env::args().skip(1).find_map(|argument| argument.parse().ok()).unwrap_or(1_000_000);
    if Command::new("sqlite3").arg("--version").output().is_err() {
        eprintln!("This benchmark compares with the sqlite3 shell, which is not installed.");
        return ExitCode::FAILURE;
    }
    let dir = tempfile::tempdir().unwrap();
    let records: Vec<RawRecord> = (0..bursts).map(burst).collect();
    let (ours, logs) = import(&dir.path().join("ours.db"), &records);
    let shell = shell_import(dir.path(), bursts);
    println!("bursts                        {bursts}");
    println!("import, raw and derived       {:.2} s", ours.as_secs_f64());
    println!("sqlite3 .import, derived only {:.2} s", shell.as_secs_f64());
    println!("ratio                         {:.2}", ours.as_secs_f64() / shell.as_secs_f64());
    println!("logs()                        {:.2} s", logs.as_secs_f64());
    ExitCode::SUCCESS
}

fn segment(seq: u32) -> (u64, Segment) {
    let run = 1_000 + u64::from(seq.wrapping_mul(2_654_435_761) >> 19);
    let angle = (!seq.is_multiple_of(7)).then(|| RawAngle::new((seq.wrapping_mul(40_503) >> 8) as u16));
    let edges = (run / 33) as u32;
    (u64::from(seq) * 15_000, Segment { run: RunMillis(run), edges, angle, continues: false })
}

fn burst(seq: u32) -> RawRecord {
    let (at, segment) = segment(seq);
    let record = Record { boot: BootId(seq / 500), at: UptimeMillis(at), event: Event::Segment(segment) };
    let mut out = [0; MAX_RECORD_BODY];
    RawRecord { seq: RecordSeq(seq), body: encode_body(&record, &mut out).unwrap().to_vec() }
}

/// Everything in one call, as from a saved log: raw bytes kept, derived rows made, committed to the disk.
fn import(path: &Path, records: &[RawRecord]) -> (Duration, Duration) {
    let mut store = Database::open(path).unwrap();
    let start = Instant::now();
    let kept = store.keep_records(AT, KEY, records).unwrap();
    let took = start.elapsed();
    assert_eq!(kept.new, records.len() as u64);
    let start = Instant::now();
    let logs = store.logs().unwrap();
    let read = start.elapsed();
    assert_eq!(logs[0].segments.len(), records.len());
    (took, read)
}

/// The shell reads the rows of the derived table only: the same table, index and journal, without the raw bytes.
fn shell_import(dir: &Path, bursts: u32) -> Duration {
    let path = dir.join("shell.db");
    drop(Database::open(&path).unwrap());
    let csv = dir.join("rows.csv");
    let mut rows = String::new();
    for seq in 0..bursts {
        let (at, Segment { run, edges, angle, continues }) = segment(seq);
        let angle = angle.map_or(String::new(), |angle| angle.steps().to_string());
        let continues = u8::from(continues);
        writeln!(rows, "1,{seq},{},{at},{},{edges},{angle},{continues}", seq / 500, run.0).unwrap();
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
