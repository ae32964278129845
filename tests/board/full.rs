//! A log of full size that is full: the start, and reading while the needle runs.

use std::time::Duration;

use serde_json::json;
use shared_types::link::{LogState, Reply, Request, link_records};
use shared_types::log::{Event, decode_body};
use shared_types::{LogId, RecordSeq};
use tests::board_image::board_image;
use tests::board_torture::UsedFlash;
use tests::emulator::Emulator;

use super::upgrade::crc32;
use super::{ms, sum};

/// Machine time that a start on a full log may take until the firmware answers its interrupts again.
const START_NS: u64 = 100_000_000;
const LOG_START: usize = 0x2_A000;

/// A log that has wrapped: every sector but the one that waits erased holds records.
fn full_flash() -> UsedFlash {
    let mut used = UsedFlash::make(board_image(), 9);
    while used.span().0 == 0 {
        used = used.with_more(used.records.len() as u64, 900);
    }
    used
}

fn full() -> (Emulator, UsedFlash) {
    let used = full_flash();
    (start_on(&used.content()), used)
}

fn start_on(content: &[u8]) -> Emulator {
    let folder = tempfile::tempdir().unwrap();
    let chip = folder.path().join("chip.bin");
    std::fs::write(&chip, content).unwrap();
    let mut board = Emulator::start();
    board.perform(&json!({ "op": "power_off" }));
    board.perform(&json!({ "op": "load_flash", "path": chip }));
    board.perform(&json!({ "op": "reboot" }));
    board
}

fn log_of(board: &mut Emulator) -> (LogId, RecordSeq, RecordSeq) {
    match board.status().log {
        LogState::Ready { log, oldest, next, .. } => (log, oldest, next),
        other => panic!("there is no log: {other:?}"),
    }
}

#[test]
fn a_start_on_a_full_log_takes_less_than_a_tenth_of_a_second() {
    let (mut board, used) = full();
    let began_ns = board.seen.time_ns;
    let flash_before = board.perform(&json!({ "op": "flash_ops" }))["busy_ns"].as_f64().unwrap();
    let answer = board.perform(&json!({ "op": "run_until_usb", "ns": 1_000_000_000 }));
    let took_ns = board.seen.time_ns - began_ns;
    let flash_ns = board.perform(&json!({ "op": "flash_ops" }))["busy_ns"].as_f64().unwrap() - flash_before;
    println!(
        "start on {} records: {:.1} ms until the port is open, {:.1} ms of it busy with flash, {} instructions",
        used.records.len(),
        took_ns as f64 / 1e6,
        flash_ns / 1e6,
        board.seen.instructions
    );
    assert_eq!(answer["connected"], true);
    assert!(took_ns < START_NS, "{took_ns} ns");
    board.run(ms(5));
    let (oldest, found) = (used.span().0, log_of(&mut board).1.0);
    // The next sector may have been erased meanwhile, which gives up the oldest records.
    assert!((oldest..=oldest + used.most_in_a_sector).contains(&found), "{found}, {oldest} when it was made");
}

/// Gives a sector's header another number that belongs to its place: behind magic, logger and log, 16 bytes; the check of the first
/// 80 bytes stands in the last four of 84, and all of it again at byte 4,012 (`firmware/src/flash_log/sector.rs`).
fn forge(content: &mut [u8], sector: usize, ahead: u32) {
    for copy in [0, 4_012] {
        let at = LOG_START + sector * 4_096 + copy;
        let header = &mut content[at..at + 84];
        let number = u32::from_le_bytes(header[16..20].try_into().unwrap()) + ahead;
        header[16..20].copy_from_slice(&number.to_le_bytes());
        let check = crc32(&header[..80]);
        header[80..].copy_from_slice(&check.to_le_bytes());
    }
}

#[test]
fn a_forged_number_makes_no_start_and_no_read_of_the_board_long() {
    let used = full_flash();
    let honest = used.content();
    for ahead in [2 * 470, 470_000, 940_000_000] {
        let mut content = honest.clone();
        forge(&mut content, 200, ahead);
        let mut board = start_on(&content);
        let began_ns = board.seen.time_ns;
        let answer = board.perform(&json!({ "op": "run_until_usb", "ns": 1_000_000_000 }));
        let start_ns = board.seen.time_ns - began_ns;
        assert_eq!(answer["connected"], true);
        assert!(start_ns < START_NS, "{start_ns} ns, {ahead} ahead");
        board.run(ms(200));
        let (log, oldest, next) = log_of(&mut board);
        assert!((next.0 as usize).abs_diff(used.records.len()) < 20, "{next:?}, {ahead} ahead");
        for from in [oldest, RecordSeq(oldest.0.midpoint(next.0)), next] {
            let began_ns = board.seen.time_ns;
            let count = board.ask(&Request::ReadFrom { log, from }, |reply| match reply {
                Reply::Records(batch) => link_records(batch.records).count(),
                other => panic!("not records: {other:?}"),
            });
            let read_ns = board.seen.time_ns - began_ns;
            println!("{ahead} ahead: start {start_ns} ns, read of {count} records {read_ns} ns");
            assert!(read_ns < START_NS, "{read_ns} ns for {count} records from {from:?}, {ahead} ahead");
        }
    }
}

#[test]
fn a_full_log_is_read_while_new_bursts_are_written() {
    let (mut board, used) = full();
    board.run_until_connected();
    let (log, _, next) = log_of(&mut board);
    let edges_before = board.status().totals;
    // Bursts of 40 strokes with a pause that closes them, one after the other, for as long as the reading takes.
    let (mut given, mut from) = (0, RecordSeq(next.0 - 6_000));
    let mut read = Vec::new();
    let end = loop {
        if board.perform(&json!({ "op": "state" }))["pulses_left"] == 0 {
            board.run(ms(700));
            board.stroke(40, 40.0);
            given += 40;
        }
        let (to, is_end) = board.ask(&Request::ReadFrom { log, from }, |reply| {
            let Reply::Records(batch) = reply else { panic!("not records: {reply:?}") };
            for record in link_records(batch.records) {
                let record = record.unwrap();
                read.push((record.seq.0, decode_body(record.body).unwrap()));
            }
            (batch.next, batch.end)
        });
        from = to;
        board.run(ms(20));
        if is_end && given >= 400 {
            break to;
        }
    };
    board.run(Duration::from_secs(2));
    let old: Vec<_> = read.iter().filter(|(seq, _)| (*seq as usize) < used.records.len()).collect();
    assert!(old.len() >= 5_900, "{} old records", old.len());
    assert!(old.iter().all(|(seq, record)| used.records[*seq as usize] == *record), "as they were written");
    let numbers: Vec<u32> = read.iter().map(|(seq, _)| *seq).collect();
    assert_eq!(numbers, (next.0 - 6_000..end.0).collect::<Vec<u32>>(), "each once, none left out");
    let new = read.iter().filter(|(seq, _)| *seq >= next.0);
    let new: Vec<_> = new
        .filter_map(
            |(_, record)| if let Event::Segment(segment) = record.event { Some(segment) } else { None },
        )
        .collect();
    let (new, totals) = (sum(&new), board.status().totals);
    assert!(new.edges.0 >= 320, "{} strokes were on record before the reading ended", new.edges.0);
    assert_eq!(totals.edges.0 - edges_before.edges.0, given, "every stroke counts");
}
