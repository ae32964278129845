//! Saved logs, whole and damaged in every way that a file can be.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a test may stop at the first surprise"
)]

use crate::scripted;
use std::cell::Cell;
use std::fs;
use std::path::Path;

use crate::scripted::program::place;
use crate::scripted::{CLOCK, Scripted, framed};
use host::app::logger::pull::{PullWish, pull};
use host::app::logger::pull_report::{PullError, PullReport};
use host::app::ports::{Logger, LoggerError, Store};
use host::logger_link::recorder::Recording;
use host::logger_link::saved::{MAX_SAVED_BYTES, SavedLog};
use host::logger_link::simulated::{Loss, simulated};
use host::store::Database;
use shared_types::RecordSeq;
use shared_types::link::{Refusal, Reply};
use tempfile::TempDir;

fn read_file(file: &Path, database: &Path) -> Result<PullReport, LoggerError> {
    let mut saved = SavedLog::open(file)?;
    let mut store = Database::open(database).unwrap();
    Ok(pull(&mut saved, &mut store, &CLOCK, &PullWish::default(), &mut |_| {}).unwrap())
}

fn read_bytes(dir: &TempDir, name: &str, bytes: &[u8]) -> Result<PullReport, LoggerError> {
    let file = dir.path().join(format!("{name}.log"));
    fs::write(&file, bytes).unwrap();
    read_file(&file, &dir.path().join(format!("{name}.db")))
}

#[test]
fn a_saved_pull_reads_back_as_the_same_records() {
    let dir = tempfile::tempdir().unwrap();
    let (file, database) = (dir.path().join("studio.log"), dir.path().join("studio.db"));
    let mut script = Scripted::with_segments(100);
    let mut logger = simulated("a cable", |bytes: &[u8]| script.answer(bytes), Loss::default());
    logger.record_to(Recording::begin(&file).unwrap());
    let mut store = Database::open(&database).unwrap();
    let live = pull(&mut logger, &mut store, &CLOCK, &PullWish::default(), &mut |_| {}).unwrap();
    logger.finish_recording().unwrap();
    drop(store);
    let other = dir.path().join("other.db");
    let report = read_file(&file, &other).unwrap();
    assert_eq!((report.new_records, report.new_run_time_ms), (100, live.new_run_time_ms));
    assert!(report.from_saved_log && !report.clock_set && report.acknowledged_below.is_none());
    assert_eq!(report.warnings, []);
    let facts = |path: &Path| Database::open(path).unwrap().logs().unwrap()[0].segments.clone();
    assert_eq!(facts(&database), facts(&other));
    let again = read_file(&file, &database).unwrap();
    assert_eq!((again.new_records, again.known_records), (0, 100));
}

#[test]
fn a_saved_log_is_never_written_over() {
    let dir = tempfile::tempdir().unwrap();
    let file = dir.path().join("studio.log");
    fs::write(&file, "keep me").unwrap();
    assert_eq!(Recording::begin(&file).unwrap_err().kind(), std::io::ErrorKind::AlreadyExists);
    assert_eq!(fs::read(&file).unwrap(), b"keep me");
}

#[test]
fn a_file_cut_anywhere_gives_what_stands_before_the_cut() {
    let dir = tempfile::tempdir().unwrap();
    let bytes = Scripted { batch: 8, ..Scripted::with_segments(60) }.saved();
    let status = framed(&Reply::LoggerStatus(Scripted::with_segments(60).status())).len();
    let mut most = 0;
    for length in (0..bytes.len()).step_by(13) {
        let outcome = read_bytes(&dir, &format!("cut{length}"), &bytes[..length]);
        if length < status {
            assert!(matches!(outcome, Err(LoggerError::NotALogger { .. })), "{length}");
            continue;
        }
        let report = outcome.unwrap();
        assert!(report.new_records >= most && report.new_records < 60, "{length}");
        assert_eq!(report.new_records % 8, 0, "whole batches only");
        most = report.new_records;
        let ends_with_a_frame = bytes[length - 1] == 0;
        assert_eq!(report.skipped.cut_short, !ends_with_a_frame, "{length}");
        assert_eq!((report.conflicting_records, report.unreadable_records), (0, 0));
    }
    assert_eq!(most, 56, "the last batch of four was never whole");
}

#[test]
fn a_turned_bit_anywhere_costs_one_batch_at_most_two_and_is_counted() {
    let dir = tempfile::tempdir().unwrap();
    let bytes = Scripted { batch: 8, ..Scripted::with_segments(60) }.saved();
    let status = framed(&Reply::LoggerStatus(Scripted::with_segments(60).status())).len();
    for place in (0..bytes.len()).step_by(17) {
        let mut spoilt = bytes.clone();
        spoilt[place] ^= 1 << (place % 8);
        let outcome = read_bytes(&dir, &format!("flip{place}"), &spoilt);
        if place < status {
            assert!(matches!(outcome, Err(LoggerError::NotALogger { .. })), "{place}");
            continue;
        }
        let report = outcome.unwrap();
        assert!((44..=56).contains(&report.new_records), "{place}: {}", report.new_records);
        assert!(report.skipped.damaged_frames > 0 || report.skipped.cut_short, "{place}");
        assert_eq!((report.conflicting_records, report.unreadable_records), (0, 0), "{place}");
        let spared = 60 - report.new_records;
        assert_eq!(report.gaps.iter().map(|gap| u64::from(gap.to.0 - gap.from.0) + 1).sum::<u64>(), spared);
    }
}

#[test]
fn what_a_damaged_file_lacks_is_still_asked_of_the_logger() {
    let dir = tempfile::tempdir().unwrap();
    let mut script = Scripted { batch: 8, ..Scripted::with_segments(60) };
    let mut bytes = script.saved();
    let middle = bytes.len() / 2;
    bytes[middle] ^= 4;
    let report = read_bytes(&dir, "studio", &bytes).unwrap();
    let lost = 60 - report.new_records;
    assert!(lost > 0);
    let mut store = Database::open(&dir.path().join("studio.db")).unwrap();
    let mut logger = simulated("a cable", |bytes: &[u8]| script.answer(bytes), Loss::default());
    let report = pull(&mut logger, &mut store, &CLOCK, &PullWish::default(), &mut |_| {}).unwrap();
    assert_eq!((report.new_records, report.gaps.len()), (lost, 0));
}

#[test]
fn foreign_empty_and_oversize_files_are_refused_with_the_reason() {
    let dir = tempfile::tempdir().unwrap();
    let reason = |outcome: Result<PullReport, LoggerError>| match outcome {
        Err(LoggerError::NotALogger { what, .. }) => what,
        other => panic!("{other:?}"),
    };
    assert!(reason(read_bytes(&dir, "empty", b"")).contains("empty"));
    let foreign = "date,hours\n2026-01-01,3\n".repeat(500);
    assert!(reason(read_bytes(&dir, "csv", foreign.as_bytes())).contains("foreign"));
    assert!(reason(read_bytes(&dir, "zeros", &[0; 10_000])).contains("foreign"));
    let noise: Vec<u8> = (0..100_000_u32).map(|i| (i.wrapping_mul(2_654_435_761) >> 13) as u8).collect();
    assert!(reason(read_bytes(&dir, "noise", &noise)).contains("foreign"));
    let large = dir.path().join("large.log");
    fs::File::create(&large).unwrap().set_len(MAX_SAVED_BYTES + 1).unwrap();
    assert!(reason(read_file(&large, &dir.path().join("large.db"))).contains("64 MiB"));
    assert!(matches!(SavedLog::open(dir.path()), Err(LoggerError::Open { .. })));
    assert!(matches!(SavedLog::open(&dir.path().join("missing.log")), Err(LoggerError::Open { .. })));
    // Records without the greeting that says whose they are.
    let bytes = Scripted::with_segments(5).saved();
    let status = framed(&Reply::LoggerStatus(Scripted::with_segments(5).status())).len();
    assert!(reason(read_bytes(&dir, "headless", &bytes[status..])).contains("greeting"));
}

#[test]
fn an_oversize_frame_is_passed_over() {
    let dir = tempfile::tempdir().unwrap();
    let script = Scripted { batch: 8, ..Scripted::with_segments(16) };
    let whole = script.saved();
    let status = framed(&Reply::LoggerStatus(script.status())).len();
    let mut bytes = whole[..status].to_vec();
    bytes.extend(vec![7; 100_000]);
    bytes.push(0);
    bytes.extend(&whole[status..]);
    let report = read_bytes(&dir, "oversize", &bytes).unwrap();
    assert_eq!((report.new_records, report.skipped.damaged_frames), (16, 1));
}

#[test]
fn pieces_of_another_logger_in_the_file_are_counted_and_left_out() {
    let dir = tempfile::tempdir().unwrap();
    let ours = Scripted::with_segments(10);
    let theirs = Scripted { logger: 5, ..Scripted::with_segments(20) };
    let mut bytes = ours.saved();
    bytes.extend(theirs.saved());
    bytes.extend(framed(&Reply::Refused(Refusal::NoLog)));
    let mut more = ours.clone();
    more.run(5);
    bytes.extend(more.saved());
    let report = read_bytes(&dir, "mixed", &bytes).unwrap();
    assert_eq!((report.new_records, report.known_records, report.conflicting_records), (15, 10, 0));
    // Their twenty records fit into one frame; the refusal is the other.
    assert_eq!(report.skipped.foreign_frames, 2);
}

#[test]
fn an_old_saved_log_read_after_a_newer_pull_changes_no_fitting_and_no_total() {
    let dir = tempfile::tempdir().unwrap();
    let mut script = Scripted::with_segments(10);
    let old = script.saved();
    let database = dir.path().join("studio.db");
    {
        let mut store = Database::open(&database).unwrap();
        script.run(5);
        let mut logger = simulated("a cable", |bytes: &[u8]| script.answer(bytes), Loss::default());
        pull(&mut logger, &mut store, &CLOCK, &PullWish::default(), &mut |_| {}).unwrap();
    }
    let report = read_bytes(&dir, "studio", &old).unwrap();
    assert_eq!((report.new_records, report.known_records, report.warnings), (0, 10, vec![]));
    assert_eq!(report.gaps, []);
    let facts = &Database::open(&database).unwrap().logs().unwrap()[0];
    assert_eq!(facts.last_next, RecordSeq(15));
    // 15 runs of 1000 ms and 0 + ... + 14 ms more.
    assert_eq!(facts.last_totals.run.0, 15_105);
}

#[test]
fn a_log_saved_while_it_was_still_being_made_is_read_from_the_greeting_that_has_it() {
    let (dir, database) = place();
    let with_log = Scripted::with_segments(3);
    let greeting = |making: u32| {
        // A logger without records saves its greeting alone.
        Scripted { making, ..Scripted::default() }.saved()
    };
    let file = dir.path().join("early.log");
    fs::write(&file, [greeting(2), greeting(1), with_log.saved()].concat()).unwrap();
    assert_eq!(read_file(&file, &database).unwrap().new_records, 3);
    let file = dir.path().join("too-early.log");
    fs::write(&file, greeting(2)).unwrap();
    let mut saved = SavedLog::open(&file).unwrap();
    let mut store = Database::open(&database).unwrap();
    let looks = Cell::new(0);
    let pause = |_| looks.set(looks.get() + 1);
    let wish = PullWish { pause: Some(&pause), ..PullWish::default() };
    let outcome = pull(&mut saved, &mut store, &CLOCK, &wish, &mut |_| {});
    assert!(matches!(outcome, Err(PullError::StillFormatting { sectors_left: 2 })), "{outcome:?}");
    assert_eq!(looks.get(), 0, "what was saved will not change");
}

#[test]
fn a_saved_log_cannot_be_told_anything() {
    let dir = tempfile::tempdir().unwrap();
    let file = dir.path().join("studio.log");
    fs::write(&file, Scripted::with_segments(1).saved()).unwrap();
    let mut saved = SavedLog::open(&file).unwrap();
    assert!(matches!(saved.set_clock(scripted::NOW), Err(LoggerError::ReadOnly { .. })));
    assert!(matches!(saved.live(), Err(LoggerError::ReadOnly { .. })));
}
