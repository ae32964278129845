//! A supply that comes and goes: what a start costs, and what cuts in its first seconds leave.

use std::collections::BTreeSet;

use firmware::lamp::LampMessage;
use firmware::sim::nor::Nor;
use firmware::sim::rig::{KnobHealth, Rig, RigSetup};
use firmware::split_mix::SplitMix64;
use shared_types::RecordSeq;
use shared_types::limits::{MAX_FRAME, MAX_MESSAGE};
use shared_types::link::frame::{FrameReader, encode_frame};
use shared_types::link::{LogState, LoggerStatus, Reply, Request, decode_message, encode_message};
use shared_types::log::{Event, PressKind, Record};

const LOG_SECTORS: u32 = 8;
const SECTOR_BYTES: u64 = 4_096;
/// Between two looks of a board that stands still, in milliseconds.
const LOOK_MS: u64 = 50;

fn rig(seed: u64) -> Rig {
    Rig::new(RigSetup { seed, log_sectors: LOG_SECTORS, ..RigSetup::default() })
}

/// A chip on which a logger has worked for some starts.
fn used_chip(starts: u64) -> Nor {
    let mut rig = rig(3);
    for _ in 0..starts {
        assert!(rig.power_on(rig.utc()));
        let knob = rig.knob_at(400);
        rig.run_trigger(5_000, |_| knob);
        rig.idle(2_500);
        rig.power_cut();
    }
    rig.flash_mut().unwrap().clone()
}

fn on_chip(seed: u64, nor: &Nor) -> Rig {
    let mut rig = rig(seed);
    *rig.flash_mut().unwrap() = nor.clone();
    rig
}

fn rest(rig: &mut Rig, ms: u64) {
    for _ in 0..ms / LOOK_MS {
        rig.idle(LOOK_MS);
    }
}

/// None where the power went, or the flash does not take what has to be safe first.
fn status(rig: &mut Rig) -> Option<LoggerStatus> {
    let (mut message, mut frame) = ([0; MAX_MESSAGE], [0; MAX_FRAME + 1]);
    let message = encode_message(&Request::LoggerStatus, &mut message).unwrap();
    let mut reader = FrameReader::new();
    for byte in rig.link(encode_frame(message, &mut frame).unwrap()) {
        if let Some(Ok(message)) = reader.push(byte)
            && let Ok(Reply::LoggerStatus(status)) = decode_message(message)
        {
            return Some(status);
        }
    }
    None
}

fn records(rig: &mut Rig) -> Vec<(u32, Record)> {
    let mut all = Vec::new();
    let store = rig.logger_mut().unwrap().store_mut();
    store
        .read_from(RecordSeq(0), &mut |seq, record| {
            all.push((seq.0, record.clone()));
            true
        })
        .unwrap();
    all
}

#[test]
fn a_supply_that_comes_and_goes_for_eight_hours_wears_no_sector() {
    // 2 Hz for eight hours: 57,600 starts. The knob's plug is off, and there is no clock chip, so each start finds faults.
    let mut rig =
        Rig::new(RigSetup { clock_drift_ppm: None, log_sectors: LOG_SECTORS, ..RigSetup::default() });
    *rig.flash_mut().unwrap() = used_chip(5);
    rig.set_knob_health(KnobHealth::Silent);
    let before = rig.flash_mut().unwrap().counts();
    for _ in 0..57_600 {
        assert!(rig.power_on(rig.utc()));
        rest(&mut rig, 250);
        rig.power_cut();
        rig.idle(250);
    }
    let after = rig.flash_mut().unwrap().counts();
    let programmed = after.programmed_bytes - before.programmed_bytes;
    println!("{programmed} bytes programmed, {} sectors erased", after.erases - before.erases);
    assert!(programmed <= SECTOR_BYTES && after.erases - before.erases <= 1);
    // Then it stays: the start is on record, and nothing else has changed.
    assert!(rig.power_on(rig.utc()));
    rest(&mut rig, 2_500);
    let starts = records(&mut rig).iter().filter(|(_, it)| matches!(it.event, Event::Started(_))).count();
    assert_eq!((starts, status(&mut rig).unwrap().boot.0), (6, 6));
}

#[test]
fn two_thousand_starts_that_stay_take_their_records_and_little_more() {
    let mut rig = on_chip(4, &used_chip(1));
    let before = rig.flash_mut().unwrap().counts().programmed_bytes;
    for _ in 0..2_000 {
        assert!(rig.power_on(rig.utc()));
        rest(&mut rig, 2_200);
        rig.power_cut();
    }
    let programmed = rig.flash_mut().unwrap().counts().programmed_bytes - before;
    // A slot of 256 bytes; start, settings and a clock reading with their heads, checks and last bits, the entry before once more
    // and a byte of padding: some 80 bytes, counted by hand.
    assert!(programmed <= 2_000 * (256 + 120), "{programmed} bytes");
}

#[test]
fn a_start_is_on_record_after_two_seconds_with_the_moment_at_which_it_was() {
    let mut rig = on_chip(5, &used_chip(2));
    assert!(rig.power_on(rig.utc()));
    rest(&mut rig, 1_900);
    assert!(!rig.logger_mut().unwrap().store_mut().is_committed(), "nothing has happened yet");
    rest(&mut rig, 200);
    assert!(rig.logger_mut().unwrap().store_mut().is_committed());
    let last: Vec<Record> =
        records(&mut rig).into_iter().map(|(_, it)| it).filter(|it| it.boot.0 == 3).collect();
    let kinds: Vec<(u64, u8)> = last
        .iter()
        .map(|it| match it.event {
            Event::Started(_) => (it.at.0, 0),
            Event::Settings(_) => (it.at.0, 1),
            Event::Anchor(_) => (it.at.0, 2),
            _ => (it.at.0, 3),
        })
        .collect();
    assert_eq!(kinds, [(0, 0), (0, 1), (0, 2)]);
}

#[test]
fn a_boot_that_was_told_is_never_given_out_again() {
    let mut rng = SplitMix64::new(77);
    let mut nor = used_chip(2);
    let mut told = 2;
    let mut status_reports = 0;
    for life in 0..600 {
        let mut rig = on_chip(life, &nor);
        rig.power_on_until(rig.utc(), rng.below(500));
        for _ in 0..rng.below(8) {
            match rng.below(6) {
                0 | 1 => {
                    if let Some(status) = status(&mut rig) {
                        assert!(status.boot.0 > told, "boot {} was told before", status.boot.0);
                        status_reports += 1;
                        told = status.boot.0;
                        break;
                    }
                }
                2 => rig.press(PressKind::NearMiss),
                _ => rest(&mut rig, 400),
            }
        }
        rig.power_cut();
        // Whoever looks at the flash itself sees no boot above the next start's.
        nor = rig.flash_mut().unwrap().clone();
        let mut probe = on_chip(life, &nor);
        assert!(probe.power_on(probe.utc()));
        let all = records(&mut probe);
        let highest = all.iter().map(|(_, it)| it.boot.0).max().unwrap();
        let next = probe.logger_mut().unwrap().store_mut().boot().0;
        assert!(next > highest && next > told, "boot {next}, with {highest} on record and {told} told");
        told = told.max(highest);
    }
    assert!(status_reports > 100, "only {status_reports} greetings");
}

/// What happens in the first three seconds.
#[derive(Clone, Copy, Debug)]
enum Beginning {
    Quiet,
    Running,
    Pressed,
    Asked,
    Cared,
}

/// What somebody was told in them.
#[derive(Debug, Default)]
struct Told {
    boot: Option<u32>,
    next: u32,
    run_ms: u64,
    presses: u64,
}

fn first_three_seconds(rig: &mut Rig, beginning: Beginning) -> Told {
    let mut told = Told::default();
    let press = |rig: &mut Rig, kind| {
        rig.press(kind);
        u64::from(rig.lamp() == LampMessage::Saved)
    };
    rest(rig, 300);
    match beginning {
        Beginning::Quiet => {}
        Beginning::Running => {
            let knob = rig.knob_at(600);
            rig.run_trigger(700, |_| knob);
        }
        Beginning::Pressed => told.presses += press(rig, PressKind::Tear),
        Beginning::Asked => {
            if let Some(status) = status(rig) {
                let LogState::Ready { next, .. } = status.log else { panic!("{:?}", status.log) };
                (told.boot, told.next, told.run_ms) = (Some(status.boot.0), next.0, status.totals.run.0);
            }
        }
        Beginning::Cared => {
            told.presses += press(rig, PressKind::CareDone);
            rest(rig, 600);
            told.presses += press(rig, PressKind::NearMiss);
        }
    }
    rest(rig, 2_000);
    told
}

/// Every record of before stands as it did, what was told is there, nothing is there twice, and the totals are the records' sum.
fn assert_whole(rig: &mut Rig, before: &[(u32, Record)], told: &Told, what: &str) {
    let found = records(rig);
    assert_eq!(&found[..before.len()], before, "{what}: what stood before");
    let new = &found[before.len()..];
    let numbers: BTreeSet<u32> = found.iter().map(|(seq, _)| *seq).collect();
    assert_eq!(numbers.len(), found.len(), "{what}: a number twice");
    let mut starts: Vec<u32> =
        new.iter().filter(|(_, it)| matches!(it.event, Event::Started(_))).map(|(_, it)| it.boot.0).collect();
    let count = starts.len();
    starts.dedup();
    assert_eq!(starts.len(), count, "{what}: a start twice: {starts:?}");
    let presses = new.iter().filter(|(_, it)| matches!(it.event, Event::Press(_))).count() as u64;
    assert!(presses >= told.presses && presses <= 2, "{what}: {presses} presses, {} told", told.presses);
    for (place, (_, record)) in new.iter().enumerate() {
        let again = new[..place].iter().any(|(_, other)| other == record);
        assert!(!again, "{what}: twice on record: {record:?}");
    }
    let run = |of: &[(u32, Record)]| -> u64 {
        of.iter().map(|(_, it)| if let Event::Segment(segment) = it.event { segment.run.0 } else { 0 }).sum()
    };
    let status = status(rig).unwrap();
    assert_eq!(status.totals.run.0, run(&found), "{what}: the total is the sum of the records");
    assert!(status.totals.run.0 >= told.run_ms, "{what}");
    let LogState::Ready { next, .. } = status.log else { panic!("{what}: {:?}", status.log) };
    assert!(next.0 >= told.next && told.boot.is_none_or(|boot| boot < status.boot.0), "{what}");
}

#[test]
fn a_cut_at_any_step_of_the_first_three_seconds_loses_nothing_and_doubles_nothing() {
    let mut cuts = 0;
    // The first start writes two slots; after fifteen starts the next slot is the first of the other sector, which is erased for it.
    for starts in [2, 15] {
        let nor = used_chip(starts);
        let before = {
            let mut rig = on_chip(1, &nor);
            assert!(rig.power_on(rig.utc()));
            records(&mut rig)
        };
        for beginning in
            [Beginning::Quiet, Beginning::Running, Beginning::Pressed, Beginning::Asked, Beginning::Cared]
        {
            let mut uncut = on_chip(1, &nor);
            assert!(uncut.power_on(uncut.utc()));
            first_three_seconds(&mut uncut, beginning);
            uncut.power_cut();
            let steps = uncut.flash_mut().unwrap().counts().steps - nor.counts().steps;
            assert!(steps > 300, "{beginning:?}: {steps} steps");
            for step in (0..steps).step_by(if starts == 2 { 1 } else { 3 }) {
                let what = format!("{beginning:?} after {starts} starts, cut at step {step}");
                let mut rig = on_chip(1, &nor);
                rig.power_on_until(rig.utc(), step);
                let told = first_three_seconds(&mut rig, beginning);
                rig.power_cut();
                cuts += 1;
                // The next start is cut as well, where it can be.
                rig.power_on_until(rig.utc(), step * 7 % 400);
                rest(&mut rig, 3_000);
                rig.power_cut();
                assert!(rig.power_on(rig.utc()), "{what}");
                rest(&mut rig, 3_000);
                assert_whole(&mut rig, &before, &told, &what);
            }
        }
    }
    assert!(cuts > 2_500, "only {cuts} cuts");
}
