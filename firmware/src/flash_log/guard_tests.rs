//! Each precaution that no cut at random finds soon has a test of its own. What spoils it, and what bites then:
//!
//! | spoiled | the test that fails |
//! |---|---|
//! | numbers and totals of the settings slot ignored at a start (`FlashLog::raise`) | `numbers_and_totals_that_were_kept_are_never_gone_below` |
//! | the second copy of a slot never read (`settings::read_slot`) | `a_slot_whose_first_copy_is_damaged_is_read_from_its_second` |
//! | the chain without the sector's number (`entry::first_chain`) | `entries_of_an_earlier_use_of_a_sector_never_pass` |
//! | a wrong `previous_end` (`FlashLog::open_next`) | `an_entry_that_was_torn_and_looks_whole_later_was_never_written` |
//! | a failed header not spoilt (`FlashLog::open_next`) | `a_sector_whose_header_failed_has_no_header` |
//! | blankness unchecked (`Ring::is_clean`) | `a_sector_that_waits_and_is_not_blank_is_erased_again` |
//! | retired after the erase (`FlashLog::erase_and_mark`) | `no_header_stands_when_its_sector_is_erased` |
//! | no padding after a start (`FlashLog::refresh`) | `what_looks_blank_after_a_start_is_not_written_over` |
//! | an unknown entry as a witness (`Walk::witnesses`) | `an_unknown_entry_bears_no_witness` (`newer_tests.rs`) |
//! | an unknown entry mended (`Walk::witnesses`) | `a_damaged_entry_that_is_not_known_is_not_mended` (`newer_tests.rs`) |
//! | a base that does not follow an unknown record (`Walk::take`) | `what_only_a_newer_firmware_knows_is_stepped_over_and_has_its_number` (`newer_tests.rs`) |
//! | anything that does not decode taken for newer (`newer::moment_of_later`) | `a_known_event_that_does_not_decode_is_not_something_newer` (`newer_tests.rs`) |
//! | newer records under the old code (`packing::pack`) | `a_record_that_0_1_0_does_not_know_stands_under_a_code_that_it_steps_over` (`newer_tests.rs`) |
//! | two erases in one look (`WriteQueue::flush_in_one_erase`) | `no_look_of_a_start_waits_for_two_erases` (`logger_pause_tests.rs`) |
//! | an identity that is the chip's number (`store::opening`) | `an_identity_is_drawn_from_the_chip_and_from_random_bits_and_kept` (`store_tests.rs`) |
//! | a header's number believed without the others (`mount::best_span`) | `a_forged_number_makes_no_start_and_no_read_long` |
//! | any number believed of the only header (`ring::LAST_NUMBER`) | `a_number_that_no_chip_lives_to_reach_is_no_header` |
//! | walks through numbers unbounded (`FlashLog::first_possible`) | `a_walk_through_numbers_ends_after_one_round` |
//! | a boot told before it is safe (`LinkServer`) | `a_boot_that_was_told_is_never_given_out_again` (`tests/power_cut/hiccups.rs`) |
//!
//! Those that cuts and flips do find: `tests/power_cut/safeguards.rs` tortures copies of these sources that each leave one out.

use std::vec::Vec;

use embedded_storage::nor_flash::{ErrorType, NorFlash, ReadNorFlash};
use shared_types::link::LogState;
use shared_types::log::{Event, Record, Segment, Settings};
use shared_types::{BootId, LoggerId, MachineTag, RawAngle, RecordSeq, RunMillis, UptimeMillis};

use super::ring::Ring;
use super::sector::{ENTRIES_AT, ENTRIES_END, HEADER_SIZE, Header, SECTOR_SIZE};
use super::{Mounted, mount};
use crate::sim::nor::{Nor, NorError};
use crate::store::{Layout, StartFacts, Store};

const LOG_START: u32 = 0x2000;
const SECTORS: u32 = 3;
const FACTS: StartFacts = StartFacts { chip_id: None, random: 5 };

fn layout(sectors: u32) -> Layout {
    Layout { settings: 0..LOG_START, log: LOG_START..LOG_START + sectors * SECTOR_SIZE }
}

fn open<F: NorFlash<Error = NorError>>(flash: F) -> Store<F> {
    Store::open(flash, layout(SECTORS), FACTS).map_err(|(error, _)| error).unwrap()
}

fn chip(sectors: u32) -> Nor {
    Nor::new((LOG_START / SECTOR_SIZE + sectors) as usize, 1)
}

/// Segments of 6 s, each with a run of its own, so that no two are the same.
pub(super) fn segment(number: u32) -> Record {
    let run = RunMillis(6_000 + u64::from(number % 97));
    let segment = Segment { run, edges: 90 + number % 7, angle: Some(RawAngle::new(800)), continues: false };
    let at = UptimeMillis(10_000 * u64::from(number));
    Record { boot: BootId(1), at, event: Event::Segment(segment) }
}

fn all<F: NorFlash<Error = NorError>>(store: &mut Store<F>) -> Vec<(u32, Record)> {
    let mut records = Vec::new();
    store
        .read_from(RecordSeq(0), &mut |seq, record| {
            records.push((seq.0, record.clone()));
            true
        })
        .unwrap();
    records
}

fn span<F: NorFlash<Error = NorError>>(store: &Store<F>) -> (u32, u32) {
    let LogState::Ready { oldest, next, .. } = store.log_state() else { panic!("no log") };
    (oldest.0, next.0)
}

/// Writes until the log's sector of this place (from 0) has just been begun; what was written, by number.
fn fill_to_place(store: &mut Store<Nor>, place: u32, written: &mut Vec<Record>) {
    loop {
        let record = segment(written.len() as u32);
        store.append(&record).unwrap();
        written.push(record);
        let sector = store.flash().last_programmed_sector() - LOG_START / SECTOR_SIZE;
        if sector == place {
            return;
        }
    }
}

fn place_of(place: u32) -> usize {
    (LOG_START + place * SECTOR_SIZE) as usize
}

/// The byte behind the last that is written in the entries of a place.
fn end_of_entries(nor: &Nor, place: u32) -> usize {
    let range = place_of(place) + ENTRIES_AT as usize..place_of(place) + ENTRIES_END as usize;
    let start = range.start;
    nor.bytes()[range].iter().rposition(|byte| *byte != 0xFF).map_or(start, |last| start + last + 1)
}

#[test]
fn numbers_and_totals_that_were_kept_are_never_gone_below() {
    let mut store = open(chip(SECTORS));
    let mut written = Vec::new();
    fill_to_place(&mut store, 1, &mut written);
    for _ in 0..20 {
        store.append(&segment(written.len() as u32)).unwrap();
        written.push(segment(written.len() as u32));
    }
    store.change_settings(Settings::default()).unwrap();
    let (next, totals) = (written.len() as u32, store.totals());
    let mut nor = store.into_flash();
    // The newest sector is damaged all over.
    nor.load(place_of(1), &[0x5A; SECTOR_SIZE as usize]);
    let mut store = open(nor);
    assert_eq!((span(&store).1, store.totals()), (next, totals));
    assert_eq!(store.append(&segment(0)), Ok(RecordSeq(next)));
    assert_eq!(all(&mut store).last(), Some(&(next, segment(0))));
    let store = open(store.into_flash());
    assert_eq!(store.totals().run.0, totals.run.0 + 6_000);
}

#[test]
fn a_slot_whose_first_copy_is_damaged_is_read_from_its_second() {
    let mut store = open(chip(SECTORS));
    let settings = Settings { machine: MachineTag(42), ..Settings::default() };
    store.change_settings(settings).unwrap();
    let (logger, boot) = (store.logger(), store.boot());
    let mut nor = store.into_flash();
    for slot in 0..LOG_START / 256 {
        nor.flip(u64::from(8 * (256 * slot + 20)));
    }
    let store = Store::open(nor, layout(SECTORS), StartFacts { chip_id: Some(LoggerId(1)), random: 6 })
        .map_err(|(error, _)| error)
        .unwrap();
    assert_eq!((store.settings(), store.logger(), store.boot()), (settings, logger, BootId(boot.0 + 1)));
}

#[test]
fn entries_of_an_earlier_use_of_a_sector_never_pass() {
    let mut store = open(chip(SECTORS));
    let mut written = Vec::new();
    fill_to_place(&mut store, 1, &mut written);
    let old = store.flash().bytes()[place_of(0)..place_of(1)].to_vec();
    fill_to_place(&mut store, 2, &mut written);
    fill_to_place(&mut store, 0, &mut written);
    let mut nor = store.into_flash();
    // As if the erase between the two uses had left all of them, and the header of the second use stood in front.
    let entries = ENTRIES_AT as usize..ENTRIES_END as usize;
    nor.load(place_of(0) + entries.start, &old[entries]);
    let mut store = open(nor);
    for (seq, record) in all(&mut store) {
        assert_eq!(written.get(seq as usize), Some(&record), "number {seq}");
    }
}

#[test]
fn an_entry_that_was_torn_and_looks_whole_later_was_never_written() {
    let mut store = open(chip(SECTORS));
    let mut written: Vec<Record> = (0..5).map(segment).collect();
    for record in &written {
        store.append(record).unwrap();
    }
    let mut nor = store.flash().clone();
    let start = end_of_entries(&nor, 0);
    store.append(&segment(5)).unwrap();
    let entry = store.flash().bytes()[start..end_of_entries(store.flash(), 0)].to_vec();
    // The bit that comes last has not come.
    nor.load(start, &entry);
    nor.load(start, &[entry[0] | 0x80]);
    let mut store = open(nor);
    let seq = store.append(&segment(6)).unwrap();
    assert!(seq.0 >= 6, "the torn one may have had number 5: {seq:?}");
    let mut nor = store.into_flash();
    // The bit was half programmed, and has tipped over.
    nor.load(start, &entry);
    let mut store = open(nor);
    written.push(segment(6));
    let numbers: Vec<u32> = (0..5).chain([seq.0]).collect();
    let expected: Vec<(u32, Record)> = numbers.into_iter().zip(written).collect();
    assert_eq!(all(&mut store), expected);
}

/// A chip of which one byte cannot be programmed, and which watches what it is told to erase.
#[derive(Debug)]
struct Watchful {
    chip: Nor,
    dead_byte: Option<u32>,
    erases: u32,
    /// Erases of a sector in which a header stood.
    hasty: u32,
}

impl Watchful {
    fn new(dead_byte: Option<u32>) -> Self {
        Self { chip: chip(SECTORS), dead_byte, erases: 0, hasty: 0 }
    }

    fn stands(&self, at: u32) -> bool {
        let at = at as usize;
        let bytes = self.chip.bytes()[at..at + HEADER_SIZE].try_into().unwrap();
        Header::decode(&bytes).is_some()
    }
}

impl ErrorType for Watchful {
    type Error = NorError;
}

impl ReadNorFlash for Watchful {
    const READ_SIZE: usize = 1;

    fn read(&mut self, offset: u32, bytes: &mut [u8]) -> Result<(), NorError> {
        self.chip.read(offset, bytes)
    }

    fn capacity(&self) -> usize {
        self.chip.capacity()
    }
}

impl NorFlash for Watchful {
    const WRITE_SIZE: usize = 1;
    const ERASE_SIZE: usize = SECTOR_SIZE as usize;

    fn erase(&mut self, from: u32, to: u32) -> Result<(), NorError> {
        if from >= LOG_START {
            self.erases += 1;
            self.hasty += u32::from(self.stands(from) || self.stands(from + ENTRIES_END));
        }
        self.chip.erase(from, to)
    }

    fn write(&mut self, offset: u32, bytes: &[u8]) -> Result<(), NorError> {
        let mut kept = bytes.to_vec();
        let dead = self.dead_byte.and_then(|dead| dead.checked_sub(offset));
        if let Some(byte) = dead.and_then(|place| kept.get_mut(place as usize)) {
            *byte = 0xFF;
        }
        self.chip.write(offset, &kept)
    }
}

#[test]
fn a_sector_whose_header_failed_has_no_header() {
    let second = LOG_START + SECTOR_SIZE;
    // A byte of the first header; the other copy stands.
    let mut store = open(Watchful::new(Some(second + 30)));
    let mut number = 0;
    while store.counters().failed_writes == 0 {
        store.append(&segment(number)).unwrap();
        number += 1;
    }
    let ring = Ring { start: LOG_START, sectors: SECTORS };
    let found = ring.header_at(store.flash_mut(), 2).unwrap();
    assert_eq!(found, None, "a header that was given up passes for the newest after the next cut");
    assert_eq!(all(&mut store).len() as u32, number);
}

#[test]
fn a_sector_that_waits_and_is_not_blank_is_erased_again() {
    // In the first header, among the entries, in the second header.
    for place in [40, 2_000, ENTRIES_END + 7] {
        let mut store = open(chip(SECTORS));
        store.append(&segment(0)).unwrap();
        store.prepare_while_still().unwrap();
        let mut nor = store.into_flash();
        nor.load((LOG_START + SECTOR_SIZE + place) as usize, &[0x00]);
        let mut store = open(nor);
        let mut written = std::vec![segment(0)];
        fill_to_place(&mut store, 2, &mut written);
        assert_eq!(store.counters().failed_writes, 0, "byte {place}");
        let expected: Vec<(u32, Record)> = (0..).zip(written).collect();
        assert_eq!(all(&mut store), expected, "byte {place}");
    }
}

#[test]
fn no_header_stands_when_its_sector_is_erased() {
    let mut store = open(Watchful::new(None));
    for number in 0..6_000 {
        store.append(&segment(number)).unwrap();
        store.prepare_while_still().unwrap();
    }
    let flash = store.into_flash();
    assert!(flash.erases > 2 * SECTORS, "only {} erases", flash.erases);
    assert_eq!(flash.hasty, 0, "a cut in such an erase may leave a header in front of half its entries");
}

#[test]
fn what_looks_blank_after_a_start_is_not_written_over() {
    let mut store = open(chip(SECTORS));
    let written: Vec<Record> = (0..5).map(segment).collect();
    for record in &written {
        store.append(record).unwrap();
    }
    let nor = store.into_flash();
    let end = end_of_entries(&nor, 0);
    let mut store = open(nor);
    assert_eq!(store.flash().bytes()[end], 0xFF, "a start that has nothing to tell writes nothing");
    store.commit().unwrap();
    assert_eq!(store.flash().bytes()[end], 0x00, "a cut may have left this byte half programmed");
    store.append(&segment(5)).unwrap();
    assert_eq!(all(&mut store).len(), 6);
}

/// A log that has gone round, and what it holds by number; the chip behind it.
fn wrapped(sectors: u32) -> (Nor, Vec<Record>) {
    let mut store = Store::open(chip(sectors), layout(sectors), FACTS).map_err(|(error, _)| error).unwrap();
    let mut written = Vec::new();
    while span(&store).0 == 0 {
        store.append(&segment(written.len() as u32)).unwrap();
        written.push(segment(written.len() as u32));
    }
    (store.into_flash(), written)
}

/// The header of a place, with another number that belongs to the same place.
fn forge(nor: &mut Nor, sectors: u32, place: u32, rounds: u32) {
    let at = place_of(place);
    let bytes = nor.bytes()[at..at + HEADER_SIZE].try_into().unwrap();
    let header = Header::decode(&bytes).expect("a header stands there");
    let number = header.number.saturating_add(rounds * sectors);
    let forged = Header { number, ..header }.encode().unwrap();
    for copy in [at, at + ENTRIES_END as usize] {
        nor.load(copy, &forged);
    }
}

#[test]
fn a_forged_number_makes_no_start_and_no_read_long() {
    const MANY: u32 = 40;
    let (honest, written) = wrapped(MANY);
    let mut store = Store::open(honest.clone(), layout(MANY), FACTS).map_err(|(error, _)| error).unwrap();
    let held = all(&mut store).len();
    let most_in_a_sector = written.len() / MANY as usize + 40;
    // Numbers a few rounds ahead, a million, and as many as fit.
    for rounds in [2, 5, 1_000, 25_000, 26_000_000, u32::MAX / MANY - 1] {
        for place in [0, 7, MANY - 1] {
            let mut nor = honest.clone();
            forge(&mut nor, MANY, place, rounds);
            nor.reset_counts();
            let mut store = Store::open(nor, layout(MANY), FACTS).map_err(|(error, _)| error).unwrap();
            let start = store.flash().counts().reads;
            // Seven times a header in two copies for each sector, the slots, and one sector's entries.
            assert!(
                start < 14 * 40 + 2 * 32 + 1_500,
                "{start} reads, {rounds} rounds ahead in place {place}"
            );
            let found = all(&mut store);
            let reads = store.flash().counts().reads - start;
            assert!(reads < 60_000, "{reads} reads, {rounds} rounds ahead in place {place}");
            assert!(found.iter().all(|(seq, record)| written.get(*seq as usize) == Some(record)));
            assert!(
                found.len() + most_in_a_sector >= held,
                "{} of {held} records, {rounds} rounds ahead in place {place}",
                found.len()
            );
            let next = store.append(&segment(3)).unwrap();
            assert!(next.0 as usize + most_in_a_sector >= written.len());
            assert_eq!(all(&mut store).last(), Some(&(next.0, segment(3))));
        }
    }
}

#[test]
fn a_young_log_is_not_led_astray_by_one_forged_number_beside_it() {
    let mut store = open(chip(SECTORS));
    let mut written = Vec::new();
    fill_to_place(&mut store, 1, &mut written);
    for rounds in [3, 1_000_000] {
        let mut nor = store.flash().clone();
        forge(&mut nor, SECTORS, 1, rounds);
        let mut store = open(nor);
        let found = all(&mut store);
        assert_eq!(found.len(), written.len() - 1, "the sector with the forged number held one record");
        assert!(span(&store).1 < 10_000);
    }
}

#[test]
fn a_number_that_no_chip_lives_to_reach_is_no_header() {
    let mut store = open(chip(SECTORS));
    store.append(&segment(0)).unwrap();
    let mut nor = store.into_flash();
    // The only header of a young log; the sector of the number after the last would be its own.
    forge(&mut nor, SECTORS, 0, u32::MAX / SECTORS - 1);
    let before = nor.bytes()[LOG_START as usize..].to_vec();
    let mut store = open(nor);
    assert_eq!(store.log_state(), LogState::Unreadable);
    assert!(store.append(&segment(1)).is_err());
    assert_eq!(store.flash().bytes()[LOG_START as usize..], before, "nothing is written over it unasked");
}

#[test]
fn a_walk_through_numbers_ends_after_one_round() {
    let (mut nor, written) = wrapped(SECTORS);
    let ring = Ring { start: LOG_START, sectors: SECTORS };
    let Mounted::Log(mut log) = mount(&mut nor, ring, None).unwrap() else { panic!("there is a log") };
    // However far apart the numbers in memory may get.
    log.head.number += 3_000_000;
    nor.reset_counts();
    assert_eq!(log.next_after(&mut nor, 1).unwrap().map(|header| header.number), Some(log.head.number));
    log.read_from(&mut nor, RecordSeq(written.len() as u32 / 2), &mut |_, _| true).unwrap();
    assert!(nor.counts().reads < 10_000, "{} reads", nor.counts().reads);
}
