//! The last bit of something: of a record, of an erase, of a new log. What a cut leaves there is settled by the next start.

use firmware::flash_log::safeguards::Safeguard;
use firmware::sim::nor::Nor;
use firmware::store::{StartFacts, Store};
use shared_types::RecordSeq;
use shared_types::link::LogState;
use shared_types::log::Record;
use tests::power_cut::work::Work;
use tests::power_cut::{Sabotage, all_safe, chip, layout, open};

const SECTORS: usize = 3;
/// Records in front of the one that is cut.
const BEFORE: u32 = 5;

fn start(mut nor: Nor) -> Store<Nor> {
    nor.power_on();
    open(nor, SECTORS).map_err(|(error, _)| error).unwrap()
}

fn records(store: &mut Store<Nor>) -> Vec<(u32, Record)> {
    let mut records = Vec::new();
    store
        .read_from(RecordSeq(0), &mut |seq, record| {
            records.push((seq.0, record.clone()));
            true
        })
        .unwrap();
    records
}

/// What came of records whose writing was cut at every byte, each looked at over several starts.
#[derive(Debug, Default)]
struct Torn {
    cuts: u64,
    whole: u64,
    absent: u64,
    /// There with another content, or not any more, or changed by a start after another record, or its number given out again.
    wrong: u64,
}

fn torn_records(sabotage: Sabotage, seeds: u64) -> Torn {
    let mut torn = Torn::default();
    for seed in 0..seeds {
        let mut work = Work::new(seed);
        let mut nor = chip(SECTORS, seed);
        sabotage(&mut nor);
        let mut store = start(nor);
        let written: Vec<Record> = (0..=BEFORE).map(|_| work.anything(store.boot())).collect();
        for record in &written[..BEFORE as usize] {
            store.append(record).unwrap();
        }
        let nor = store.into_flash();
        let mut uncut = start(nor.clone());
        let steps_before = uncut.flash().counts().steps;
        uncut.append(&written[BEFORE as usize]).unwrap();
        for step in 0..uncut.flash().counts().steps - steps_before {
            look_at_one(&mut torn, start(nor.clone()), (&written, step));
        }
    }
    torn
}

fn look_at_one(torn: &mut Torn, store: Store<Nor>, (written, step): (&[Record], u64)) {
    torn.cuts += 1;
    let facts = StartFacts { chip_id: None, random: 11 };
    let mut nor = store.into_flash();
    nor.power_on();
    let mut store = Store::open(nor, layout(SECTORS), facts).map_err(|it| it.0).unwrap();
    store.commit().unwrap();
    // The power goes while the record is written, the start before it being whole.
    let mut nor = {
        store.flash_mut().cut_after(step);
        assert!(store.append(&written[BEFORE as usize]).is_err(), "the power did not go at step {step}");
        store.into_flash()
    };
    // Until something is written behind it, a record that nobody was told of may still come up whole, but never go again.
    let mut seen = 0;
    for _ in 0..3 {
        let mut store = start(nor);
        let found = records(&mut store);
        let is_right = found.iter().all(|(seq, record)| written.get(*seq as usize) == Some(record));
        torn.wrong += u64::from(!is_right || found.len() < seen.max(BEFORE as usize));
        seen = found.len();
        nor = store.into_flash();
    }
    // Every start of a logger writes one.
    let mut store = start(nor);
    let mut expected = records(&mut store);
    torn.wrong += u64::from(expected.len() < seen);
    if expected.len() > BEFORE as usize {
        torn.whole += 1;
    } else {
        torn.absent += 1;
    }
    let next = store.append(&written[0]).unwrap();
    torn.wrong += u64::from(next.0 < expected.len() as u32);
    expected.push((next.0, written[0].clone()));
    let mut nor = store.into_flash();
    for _ in 0..4 {
        let mut store = start(nor);
        torn.wrong += u64::from(records(&mut store) != expected);
        nor = store.into_flash();
    }
}

#[test]
fn a_record_cut_at_any_byte_is_there_whole_or_not_at_all_and_is_settled_by_the_next_one() {
    let torn = torn_records(all_safe, 12);
    assert_eq!(torn.wrong, 0, "{torn:?}");
    // Only a cut in the very last byte can leave it whole; most leave it absent.
    assert!(torn.cuts >= 150 && torn.whole > 0 && torn.absent > 10 * torn.whole, "{torn:?}");
}

#[test]
fn without_the_bit_that_comes_last_or_its_second_programming_the_same_cuts_go_wrong() {
    // A torn segment passes its check of eight bits by chance once in some hundred cuts, so that takes many.
    let cases: [(&str, Sabotage, u64); 2] = [
        ("the bit that comes last", |nor| nor.leave_out(Safeguard::FinishLast), 500),
        ("a second programming", |nor| nor.leave_out(Safeguard::Refresh), 60),
    ];
    for (what, sabotage, seeds) in cases {
        let torn = torn_records(sabotage, seeds);
        println!("without {what}: {torn:?}");
        assert!(torn.wrong > 0, "{what}: {torn:?}");
    }
}

/// A chip whose log region holds something else.
fn foreign(seed: u64) -> Nor {
    let mut nor = chip(SECTORS, seed);
    nor.load(0x2000, &[0x5A; 0x3000]);
    nor
}

/// Asks for a new log and makes it up to its last step.
fn but_for_the_last_step(seed: u64) -> Store<Nor> {
    let mut store = start(foreign(seed));
    while store.log_state() != (LogState::Formatting { sectors_left: 0 }) {
        store.format_unreadable().unwrap();
    }
    store
}

#[test]
fn a_new_log_whose_last_step_is_cut_is_begun_by_the_next_start_unasked() {
    let mut uncut = but_for_the_last_step(0);
    let before = uncut.flash().counts().steps;
    assert_eq!(uncut.format_unreadable(), Ok(true));
    let steps = uncut.flash().counts().steps - before;
    let LogState::Ready { log: wanted, .. } = uncut.log_state() else { panic!("no log") };
    assert!(steps > 256 + 2 * 64, "an erase, a mark, two headers and a slot: {steps} steps");
    for step in 0..steps {
        let mut store = but_for_the_last_step(step);
        store.flash_mut().cut_after(step);
        assert!(store.format_unreadable().is_err(), "the power did not go at step {step}");
        let mut store = start(store.into_flash());
        let LogState::Ready { log, next, .. } = store.log_state() else {
            panic!("cut at step {step}: {:?}", store.log_state())
        };
        assert_eq!((log, next), (wanted, RecordSeq(0)), "cut at step {step}");
        let record = Work::new(1).next(store.boot());
        assert_eq!(store.append(&record), Ok(RecordSeq(0)), "cut at step {step}");
        let mut store = start(store.into_flash());
        assert_eq!(records(&mut store), [(0, record)], "cut at step {step}");
    }
}

#[test]
fn the_erase_of_the_oldest_sector_cut_at_any_step_costs_that_sector_alone() {
    let mut store = start(chip(SECTORS, 7));
    let mut work = Work::new(7);
    let mut written = Vec::new();
    // Until the ring has gone round twice and the next sector wants erasing.
    let oldest = loop {
        let record = work.anything(store.boot());
        store.append(&record).unwrap();
        written.push(record);
        let LogState::Ready { oldest, .. } = store.log_state() else { panic!("no log") };
        let mut probe = start(store.flash().clone());
        let erases = probe.flash().counts().erases;
        probe.prepare_while_still().unwrap();
        if oldest.0 > 300 && probe.flash().counts().erases > erases {
            break oldest.0;
        }
    };
    let nor = store.into_flash();
    let mut uncut = start(nor.clone());
    let before = uncut.flash().counts().steps;
    uncut.prepare_while_still().unwrap();
    let LogState::Ready { oldest: oldest_after, .. } = uncut.log_state() else { panic!("no log") };
    assert!(oldest_after.0 > oldest, "a sector was given up");
    for step in 0..uncut.flash().counts().steps - before {
        let mut store = start(nor.clone());
        store.flash_mut().cut_after(step);
        assert!(store.prepare_while_still().is_err(), "the power did not go at step {step}");
        let mut store = start(store.into_flash());
        let found = records(&mut store);
        let first = found[0].0;
        assert!(first == oldest || first == oldest_after.0, "cut at step {step}: from {first} on");
        assert_eq!(found.len(), written.len() - first as usize, "cut at step {step}");
        assert!(found.iter().all(|(seq, record)| written[*seq as usize] == *record), "cut at step {step}");
        store.prepare_while_still().unwrap();
        let LogState::Ready { oldest, .. } = store.log_state() else { panic!("no log") };
        assert_eq!(oldest, oldest_after, "cut at step {step}: the erase is finished");
    }
}
