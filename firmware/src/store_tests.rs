use std::vec::Vec;

use shared_types::log::{Event, Press, PressKind, Segment, Trace, TraceStep};
use shared_types::{Edges, MachineTag, RawAngle, RunMillis, UptimeMillis};

use super::*;
use crate::sim::nor::{Nor, SECTOR};

const SMALL: Layout = Layout { settings: 0..0x2000, log: 0x2000..0x5000 };
const FACTS: StartFacts = StartFacts { chip_id: None, random: 5 };

fn open(nor: Nor) -> Store<Nor> {
    Store::open(nor, SMALL, FACTS).map_err(|(error, _)| error).unwrap()
}

fn segment(number: u32) -> Record {
    let segment =
        Segment { run: RunMillis(6_000), edges: 90, angle: Some(RawAngle::new(800)), continues: false };
    let at = UptimeMillis(10_000 * u64::from(number));
    Record { boot: BootId(1), at, event: Event::Segment(segment) }
}

fn all(store: &mut Store<Nor>) -> Vec<(u32, Record)> {
    let mut records = Vec::new();
    let end = store
        .read_from(RecordSeq(0), &mut |seq, record| {
            records.push((seq.0, record.clone()));
            true
        })
        .unwrap();
    assert!(end.reached_end);
    records
}

#[test]
fn records_totals_and_boots_survive_a_restart() {
    let mut store = open(Nor::new(5, 1));
    assert_eq!(store.boot(), BootId(1));
    let written: Vec<_> = (0..100).map(|number| (number, segment(number))).collect();
    for (number, record) in &written {
        assert_eq!(store.append(record), Ok(RecordSeq(*number)));
    }
    let logger = store.logger();
    let mut store = open(store.into_flash());
    assert_eq!((store.boot(), store.logger()), (BootId(2), logger));
    // 100 segments of 6 s and 90 edges each.
    assert_eq!(store.totals(), Totals { run: RunMillis(600_000), edges: Edges(9_000) });
    assert_eq!(all(&mut store), written);
}

#[test]
fn a_full_log_gives_up_its_oldest_sector_only() {
    let mut store = open(Nor::new(5, 1));
    for number in 0..4_000 {
        store.append(&segment(number)).unwrap();
        store.prepare_while_still().unwrap();
    }
    let records = all(&mut store);
    let LogState::Ready { oldest, next, acknowledged, .. } = store.log_state() else { panic!("no log") };
    assert_eq!((records[0].0, next.0, acknowledged.0), (oldest.0, 4_000, 0));
    assert_eq!(records.len(), (next.0 - oldest.0) as usize);
    // Of three sectors one waits erased and one is being filled: one at least is full of records of 6 bytes each,
    // less 180 bytes of headers and mark and the first record, which has to tell everything.
    assert!(records.len() >= (SECTOR - 180 - 12) / 6, "{} left", records.len());
    assert!(store.overran());
    assert_eq!(store.totals().run, RunMillis(4_000 * 6_000));
}

#[test]
fn reading_stops_where_it_is_told_and_goes_on_there() {
    let mut store = open(Nor::new(5, 1));
    for number in 0..900 {
        store.append(&segment(number)).unwrap();
    }
    let mut next = RecordSeq(0);
    let mut seen = Vec::new();
    loop {
        let mut taken = 0;
        let end = store
            .read_from(next, &mut |seq, _| {
                taken += 1;
                if taken > 70 {
                    return false;
                }
                seen.push(seq.0);
                true
            })
            .unwrap();
        next = end.next;
        if end.reached_end {
            break;
        }
    }
    assert_eq!(next, RecordSeq(900));
    assert_eq!(seen, (seen[0]..900).collect::<Vec<_>>());
}

#[test]
fn acknowledging_moves_a_cursor_and_erases_nothing() {
    let mut store = open(Nor::new(5, 1));
    for number in 0..10 {
        store.append(&segment(number)).unwrap();
    }
    store.acknowledge(RecordSeq(7)).unwrap();
    store.acknowledge(RecordSeq(3)).unwrap();
    let mut store = open(store.into_flash());
    let LogState::Ready { acknowledged, .. } = store.log_state() else { panic!("no log") };
    assert_eq!(acknowledged, RecordSeq(7));
    assert_eq!(all(&mut store).len(), 10);
    store.acknowledge(RecordSeq(99)).unwrap();
    let LogState::Ready { acknowledged, .. } = store.log_state() else { panic!("no log") };
    assert_eq!(acknowledged, RecordSeq(10));
}

#[test]
fn settings_are_kept_and_the_log_is_left_alone() {
    let mut store = open(Nor::new(5, 1));
    let settings = Settings { machine: MachineTag(42), ..Settings::default() };
    for _ in 0..100 {
        store.change_settings(Settings::default()).unwrap();
    }
    store.change_settings(settings).unwrap();
    let mut store = open(store.into_flash());
    assert_eq!(store.settings(), settings);
    assert_eq!(all(&mut store), []);
}

#[test]
fn what_is_no_log_is_never_written_over_unasked() {
    let mut nor = Nor::new(5, 1);
    nor.load(0x3123, b"somebody's photographs");
    let before = nor.bytes()[0x2000..].to_vec();
    let mut store = open(nor);
    assert_eq!(store.log_state(), LogState::Unreadable);
    assert_eq!(store.append(&segment(0)), Err(StoreError::NoLog));
    store.change_settings(Settings::default()).unwrap();
    let mut store = open(store.into_flash());
    assert_eq!(store.boot(), BootId(2));
    store.prepare_while_still().unwrap();
    let nor = store.into_flash();
    assert_eq!(nor.bytes()[0x2000..], before);
    let mut store = open(nor);
    let mut calls = 0;
    loop {
        let before = store.flash().counts().erases;
        let done = store.format_unreadable().unwrap();
        // The first and the last step write a slot, the last erases the first sector for its mark.
        assert!(store.flash().counts().erases - before <= 2, "call {calls} erases too much");
        assert_eq!(store.is_formatting(), !done);
        calls += 1;
        if done {
            break;
        }
        assert_eq!(store.append(&segment(0)), Err(StoreError::NoLog));
    }
    // Once for the wish, once for each of three sectors, once for the log.
    assert_eq!(calls, 5);
    assert_eq!(store.append(&segment(0)), Ok(RecordSeq(0)));
}

#[test]
fn an_identity_is_drawn_from_the_chip_and_from_random_bits_and_kept() {
    let drawn = |chip_id, random| {
        Store::open(Nor::new(5, 1), SMALL, StartFacts { chip_id, random })
            .map_err(|(error, _)| error)
            .unwrap()
    };
    // Some chips answer with zeros or ones, some with the same number as all of their kind.
    let chips = [None, Some(LoggerId(0)), Some(LoggerId(u64::MAX)), Some(LoggerId(0xE660_1234_5678_9ABC))];
    let mut ids: Vec<LoggerId> =
        chips.into_iter().flat_map(|chip| [5, 6].map(|random| drawn(chip, random).logger())).collect();
    assert!(ids.iter().all(|id| id.0 != 0 && id.0 != u64::MAX && !chips.contains(&Some(*id))), "{ids:?}");
    ids.sort_by_key(|id| id.0);
    ids.dedup();
    // No number and zeros are the same to draw from.
    assert_eq!(ids.len(), 6, "two chips of one number get two identities: {ids:?}");
    let store = drawn(chips[3], 5);
    let id = store.logger();
    let again = Store::open(store.into_flash(), SMALL, StartFacts { chip_id: chips[3], random: 6 })
        .map_err(|(error, _)| error)
        .unwrap();
    assert_eq!(again.logger(), id);
}

#[test]
fn a_layout_that_does_not_fit_is_refused() {
    let refused = |settings, log| {
        let error = Store::open(Nor::new(5, 1), Layout { settings, log }, FACTS).err();
        assert_eq!(error.map(|(error, _)| error), Some(StoreError::Layout));
    };
    refused(0..0x1000, 0x2000..0x5000);
    refused(0..0x2000, 0x3000..0x5000);
    refused(0..0x2000, 0x1000..0x5000);
    refused(0..0x2000, 0x2000..0x6000);
    refused(0..0x2000, 0x2001..0x5001);
}

#[test]
fn the_longest_record_fits_when_the_sector_is_nearly_full() {
    let mut store = open(Nor::new(5, 1));
    let steps = core::array::from_fn::<_, 20, _>(|place| TraceStep {
        edges: if place % 2 == 0 { 0 } else { u16::MAX },
        angle: Some(RawAngle::new(if place % 2 == 0 { 0 } else { 2_048 })),
    });
    let steps = heapless::Vec::from_slice(&steps).unwrap();
    let press = Press { kind: PressKind::Tear, still_ms: u32::MAX, trace: Trace { newest_ms: 500, steps } };
    let record = Record { boot: BootId(1), at: UptimeMillis(u64::MAX), event: Event::Press(press) };
    for number in 0..200 {
        assert_eq!(store.append(&record), Ok(RecordSeq(number)));
    }
    let last = all(&mut store).pop();
    assert_eq!(last, Some((199, record)));
}

#[test]
fn a_log_whose_settings_are_gone_is_taken_up_again() {
    let mut store = open(Nor::new(5, 1));
    let logger = store.logger();
    for number in 0..10 {
        store.append(&segment(number)).unwrap();
    }
    let mut nor = open(store.into_flash()).into_flash();
    nor.load(0, &[0xFF; 0x2000]);
    let mut store = Store::open(nor, SMALL, StartFacts { chip_id: None, random: 77 })
        .map_err(|(error, _)| error)
        .unwrap();
    assert_eq!(store.logger(), logger);
    // The log knows of boot 1 only, whose records it holds.
    assert!(store.boot() > BootId(1));
    assert_eq!(all(&mut store).len(), 10);
    assert_eq!(store.totals().edges, Edges(900));
}

#[test]
fn a_log_that_has_vanished_from_under_its_settings_is_replaced_by_another() {
    let mut store = open(Nor::new(5, 1));
    store.append(&segment(0)).unwrap();
    let LogState::Ready { log: first, .. } = store.log_state() else { panic!("no log") };
    let mut store = open(store.into_flash());
    store.commit().unwrap();
    let mut nor = store.into_flash();
    nor.load(0x2000, &[0xFF; 0x3000]);
    let store = open(nor);
    let LogState::Ready { log: second, formatted_with, .. } = store.log_state() else { panic!("no log") };
    assert_ne!(first, second);
    // The totals stand in the settings' slots too: 6 s and 90 edges were counted before the second start.
    assert_eq!((formatted_with.run, store.totals().edges), (RunMillis(6_000), Edges(90)));
}
