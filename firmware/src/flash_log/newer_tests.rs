//! Records of a newer firmware among those of this one. The bytes of unknown events are written by hand after FORMAT.md.

use std::vec::Vec;

use shared_types::log::{Event, Fault, FaultChange, Record, Segment};
use shared_types::{BootId, LogId, LoggerId, RecordSeq, RunMillis, Totals, UptimeMillis};

use super::entry::{BLANK, MAX_ENTRY, code_of, head_of};
use super::guard_tests::segment;
use super::sector::{ENTRIES_AT, SECTOR_SIZE};
use super::*;
use crate::sim::nor::Nor;

const SECTORS: u32 = 3;
const WHOLE: u8 = 48;
const WHOLE_NEWER: u8 = 55;
/// A fault that no contract has yet: boot 1, uptime 70,000 = 0x70 + 0x22 * 128 + 4 * 16,384, event 6, number 200, present.
const LATER_FAULT: [u8; 8] = [1, 0xF0, 0xA2, 4, 6, 0xC8, 1, 1];
/// An event that no contract has yet, of boot 9 at uptime 5: event 30, then whatever it holds.
const LATER_EVENT: [u8; 7] = [9, 5, 30, 1, 2, 3, 4];

fn ring() -> Ring {
    Ring { start: 0, sectors: SECTORS }
}

fn begun() -> (Nor, FlashLog) {
    let mut nor = Nor::new(SECTORS as usize, 1);
    let params =
        FormatParams { logger: LoggerId(3), log: LogId(5), boot: BootId(1), totals: Totals::default() };
    let log = FormatProgress::of_blank(&ring()).step(&mut nor, ring(), params).unwrap().unwrap();
    (nor, log)
}

fn mounted(nor: &mut Nor) -> FlashLog {
    match mount(nor, ring(), None).unwrap() {
        Mounted::Log(log) => log,
        other => panic!("{other:?}"),
    }
}

fn all(nor: &mut Nor, log: &mut FlashLog) -> Vec<(u32, Record)> {
    let mut records = Vec::new();
    log.read_from(nor, RecordSeq(0), &mut |seq, record| {
        records.push((seq.0, record.clone()));
        true
    })
    .unwrap();
    records
}

/// Writes an entry as a newer firmware would.
fn put_newer(nor: &mut Nor, log: &mut FlashLog, code: u8, body: &[u8]) {
    let mut entry = [0; MAX_ENTRY];
    entry[0] = head_of(code);
    entry[1] = u8::try_from(body.len()).unwrap();
    entry[2..2 + body.len()].copy_from_slice(body);
    assert!(log.put(nor, &mut entry, 2 + body.len(), 1).unwrap());
    log.next_seq += 1;
    log.end_seq = log.next_seq;
    log.end_chain = log.chain;
}

fn in_boot(boot: u32, number: u32) -> Record {
    Record { boot: BootId(boot), ..segment(number) }
}

fn fault(boot: u32, fault: Fault) -> Record {
    let event = Event::Fault(FaultChange { fault, present: true });
    Record { boot: BootId(boot), at: UptimeMillis(70_000), event }
}

#[test]
fn what_only_a_newer_firmware_knows_is_stepped_over_and_has_its_number() {
    let (mut nor, mut log) = begun();
    let mut expected = Vec::new();
    let put = |nor: &mut Nor, log: &mut FlashLog, expected: &mut Vec<(u32, Record)>, record: Record| {
        let seq = log.append(nor, &record).unwrap();
        expected.push((seq.0, record));
    };
    for number in 0..3 {
        put(&mut nor, &mut log, &mut expected, segment(number));
    }
    put_newer(&mut nor, &mut log, WHOLE, &LATER_FAULT);
    put(&mut nor, &mut log, &mut expected, segment(3));
    put_newer(&mut nor, &mut log, WHOLE_NEWER, &[0xAB; 30]);
    put_newer(&mut nor, &mut log, 63, &[]);
    put(&mut nor, &mut log, &mut expected, segment(4));
    // The newer firmware has counted a boot and told an event of it first.
    put_newer(&mut nor, &mut log, WHOLE, &LATER_EVENT);
    log.base = log.base.in_boot(BootId(9), UptimeMillis(5));
    for number in 5..9 {
        put(&mut nor, &mut log, &mut expected, in_boot(9, number));
    }
    let totals = log.totals();
    assert_eq!(expected.last().map(|it| it.0), Some(12), "nine segments and four others");
    let mut log = mounted(&mut nor);
    assert_eq!((log.totals(), log.next_seq(), log.last_boot()), (totals, RecordSeq(13), BootId(9)));
    // Nine runs of 6,000 ms and a little more each: 0 + 1 + ... + 8.
    assert_eq!(totals.run, RunMillis(54_036));
    assert_eq!(log.stepped_over(), 4);
    assert_eq!(all(&mut nor, &mut log), expected);
    // And the log goes on.
    log.refresh(&mut nor).unwrap();
    assert_eq!(log.append(&mut nor, &in_boot(9, 9)), Ok(RecordSeq(13)));
    let mut log = mounted(&mut nor);
    assert_eq!(all(&mut nor, &mut log).len(), 10);
}

#[test]
fn a_record_that_0_1_0_does_not_know_stands_under_a_code_that_it_steps_over() {
    let heads = |record: &Record| {
        let (mut nor, mut log) = begun();
        let at = (ENTRIES_AT) as usize;
        log.append(&mut nor, record).unwrap();
        let mut again = mounted(&mut nor);
        assert_eq!(all(&mut nor, &mut again), [(0, record.clone())]);
        code_of(nor.bytes()[at])
    };
    // FORMAT.md: 0.1.0 knows faults 0 to 10.
    assert_eq!(heads(&fault(1, Fault::DialTooHigh)), Some(WHOLE));
    for newer in [Fault::StampsAlone, Fault::CountsAlone, Fault::KnobShakes] {
        assert_eq!(heads(&fault(1, newer)), Some(WHOLE_NEWER));
        // It would have to move the base, which whoever steps over it cannot know.
        assert_eq!(heads(&fault(2, newer)), Some(WHOLE));
    }
}

#[test]
fn a_later_code_never_brings_running_or_another_boot() {
    let whole = |record: &Record| {
        let mut body = [0; MAX_ENTRY];
        postcard::to_slice(record, &mut body).unwrap().to_vec()
    };
    for record in [segment(1), fault(2, Fault::KnobShakes)] {
        let (mut nor, mut log) = begun();
        log.append(&mut nor, &segment(0)).unwrap();
        put_newer(&mut nor, &mut log, WHOLE_NEWER, &whole(&record));
        let mut log = mounted(&mut nor);
        assert_eq!(all(&mut nor, &mut log), [(0, segment(0))], "{record:?}");
        assert_eq!(log.stepped_over(), 0, "no firmware writes that");
    }
}

#[test]
fn a_known_event_that_does_not_decode_is_not_something_newer() {
    // A segment that breaks off, settings that break off, and bytes behind a whole fitting.
    for body in [&[1, 5, 1, 0xF0][..], &[1, 5, 5, 1], &[1, 5, 7, 1, 1]] {
        let (mut nor, mut log) = begun();
        log.append(&mut nor, &segment(0)).unwrap();
        put_newer(&mut nor, &mut log, WHOLE, body);
        let mut log = mounted(&mut nor);
        assert_eq!((all(&mut nor, &mut log).len(), log.stepped_over()), (1, 0), "{body:?}");
    }
}

/// Two records, then so many unknown ones and so many records; a bit of the second record is flipped.
fn flipped(unknown: u32, behind: u32) -> (Nor, Vec<Record>) {
    let (mut nor, mut log) = begun();
    let mut written = std::vec![segment(0), segment(1)];
    log.append(&mut nor, &written[0]).unwrap();
    let second =
        ENTRIES_AT as usize + nor.bytes()[ENTRIES_AT as usize..].iter().position(|it| *it == BLANK).unwrap();
    log.append(&mut nor, &written[1]).unwrap();
    for _ in 0..unknown {
        put_newer(&mut nor, &mut log, WHOLE, &LATER_FAULT);
    }
    for number in 2..2 + behind {
        written.push(segment(number));
        log.append(&mut nor, &segment(number)).unwrap();
    }
    nor.flip(8 * (second as u64 + 2) + 3);
    (nor, written)
}

#[test]
fn an_unknown_entry_bears_no_witness() {
    let (mut nor, _) = flipped(5, 0);
    let mut log = mounted(&mut nor);
    assert_eq!((all(&mut nor, &mut log).len(), log.repaired()), (1, 0));
    // Records behind it do.
    let (mut nor, written) = flipped(2, 3);
    let mut log = mounted(&mut nor);
    let found: Vec<Record> = all(&mut nor, &mut log).into_iter().map(|(_, record)| record).collect();
    assert_eq!((found, log.repaired()), (written, 1));
}

#[test]
fn a_damaged_entry_that_is_not_known_is_not_mended() {
    let (mut nor, mut log) = begun();
    log.append(&mut nor, &segment(0)).unwrap();
    let at = ENTRIES_AT as usize
        + nor.bytes()[ENTRIES_AT as usize..].iter().position(|byte| *byte == BLANK).unwrap();
    put_newer(&mut nor, &mut log, WHOLE_NEWER, &[0xAB; 30]);
    for number in 1..5 {
        log.append(&mut nor, &segment(number)).unwrap();
    }
    nor.flip(8 * (at as u64 + 9));
    let mut log = mounted(&mut nor);
    assert_eq!((all(&mut nor, &mut log).len(), log.repaired(), log.stepped_over()), (1, 0, 0));
}

#[test]
fn no_flipped_bit_of_a_sector_makes_an_unknown_entry_of_a_known_one() {
    let (mut nor, mut log) = begun();
    for number in 0..12 {
        log.append(&mut nor, &segment(number)).unwrap();
        log.append(&mut nor, &fault(1, Fault::FlashWrite)).unwrap();
        log.append(&mut nor, &fault(1, Fault::KnobShakes)).unwrap();
    }
    let end = nor.bytes()[..SECTOR_SIZE as usize / 2].iter().rposition(|it| *it != BLANK).unwrap();
    for bit in 8 * u64::from(ENTRIES_AT)..8 * (end as u64 + 1) {
        nor.flip(bit);
        let mut log = mounted(&mut nor);
        all(&mut nor, &mut log);
        assert_eq!(log.stepped_over(), 0, "bit {bit}");
        nor.flip(bit);
    }
}

#[test]
fn a_segment_is_never_written_under_the_later_code() {
    let whole = Segment { run: RunMillis(u64::MAX), edges: u32::MAX, angle: None, continues: true };
    let record = Record { event: Event::Segment(whole), ..segment(1) };
    let (mut nor, mut log) = begun();
    log.append(&mut nor, &record).unwrap();
    assert_eq!(code_of(nor.bytes()[ENTRIES_AT as usize]), Some(WHOLE));
}
