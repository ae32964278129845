use super::*;
use crate::burst::Bursts;
use crate::needle::{Mismatches, Needle};
use crate::sim::rig::{Rig, RigSetup};
use shared_types::limits::{IDLE_GAP_MS, SAMPLE_MS};
use shared_types::link::LogState;
use shared_types::log::{Event, Fault, Record, Segment};
use shared_types::{RecordSeq, Totals};
use std::collections::BTreeMap;

const HOUR_MS: u64 = 3_600_000;

fn started(seed: u64) -> Rig {
    let mut rig = Rig::new(RigSetup { seed, ..RigSetup::default() });
    assert!(rig.power_on(rig.utc()));
    rig
}

fn records(rig: &mut Rig) -> Vec<Record> {
    let mut all = Vec::new();
    let store = rig.logger_mut().unwrap().store_mut();
    let end = store.read_from(RecordSeq(0), &mut |_, record| {
        all.push(record.clone());
        true
    });
    assert!(end.unwrap().reached_end);
    all
}

fn segments(records: &[Record]) -> impl Iterator<Item = Segment> {
    records.iter().filter_map(|record| match record.event {
        Event::Segment(segment) => Some(segment),
        _ => None,
    })
}

fn mismatches(rig: &Rig) -> Mismatches {
    let told = rig.logger().unwrap().diagnostics();
    Mismatches { stamps_alone: told.stamps_alone, counts_alone: told.counts_alone }
}

#[test]
fn stamps_and_counts_that_come_apart_at_a_sample_cost_nothing() {
    for seed in 0..4 {
        let mut rig = started(seed);
        rig.set_stamp_trouble(StampTrouble { apart_permille: 900, ..StampTrouble::default() });
        let mut rng = SplitMix64::new(seed);
        for _ in 0..200 {
            let knob = rig.knob_at(rng.below(1_001) as u16);
            rig.run_trigger(100 + rng.below(25_000), |_| knob);
            rig.idle(600 + rng.below(9_000));
        }
        rig.idle(10_000);
        assert_eq!(rig.logger().unwrap().totals(), rig.truth().powered, "seed {seed}");
        assert_eq!(mismatches(&rig), Mismatches::default());
    }
}

#[test]
fn late_missing_and_stray_stamps_cost_a_sample_period_each_at_most_and_become_faults() {
    for seed in 0..8 {
        let mut rig = started(seed);
        let mut rng = SplitMix64::new(seed);
        rig.set_stamp_trouble(StampTrouble {
            apart_permille: rng.below(1_000),
            missing_permille: 1 + rng.below(300),
            stray_permille: 1 + rng.below(300),
        });
        for _ in 0..200 {
            let knob = rig.knob_at(rng.below(1_001) as u16);
            rig.run_trigger(100 + rng.below(15_000), |_| knob);
            rig.idle_looking(600 + rng.below(60_000));
        }
        rig.idle(10_000);
        let (kept, truth) = (rig.logger().unwrap().totals(), rig.truth().powered);
        assert_eq!(kept.edges, truth.edges, "seed {seed}");
        // Only a burst's two ends can be told wrong, by a look each; a stray at rest is looked at every 90 ms.
        let most = rig.truth().powered_bursts * u64::from(2 * SAMPLE_MS + 90);
        let off = kept.run.0.abs_diff(truth.run.0);
        assert!(off <= most, "seed {seed}: {off} ms off in {} bursts", rig.truth().powered_bursts);
        let all = records(&mut rig);
        for fault in [Fault::StampsAlone, Fault::CountsAlone] {
            assert!(all.iter().any(|it| matches!(it.event, Event::Fault(change) if change.fault == fault)));
        }
        assert!(mismatches(&rig).stamps_alone > 0 && mismatches(&rig).counts_alone > 0);
    }
}

#[test]
fn rest_with_stray_pulses_never_becomes_running() {
    let mut rig = started(3);
    rig.set_stamp_trouble(StampTrouble { stray_permille: 200, ..StampTrouble::default() });
    rig.idle_looking(2 * HOUR_MS);
    rig.set_stamp_trouble(StampTrouble::default());
    assert_eq!(rig.logger().unwrap().totals(), Totals::default());
    let knob = rig.knob_at(300);
    rig.run_trigger(1_000, |_| knob);
    rig.idle(2_000);
    assert_eq!(rig.logger().unwrap().totals(), rig.truth().powered, "and the burst after it is as it was");
    let faults = records(&mut rig).iter().filter(|it| matches!(it.event, Event::Fault(_))).count();
    assert_eq!(faults, 1);
}

/// Works for an hour of the world's time, `on` ms with the trigger held and `off` without, at places of the knob that change with each
/// burst; returns the rig, and the true running in each tenth of the knob's travel.
fn hour_at_work(
    seed: u64,
    health: KnobHealth,
    noise: u32,
    on: u64,
    off: u64,
) -> (Rig, BTreeMap<u32, Totals>) {
    let mut rig = started(seed);
    let mut rng = SplitMix64::new(seed);
    rig.set_knob_health(health);
    rig.set_knob_noise(noise);
    for _ in 0..HOUR_MS / (on + off) {
        // The middle of a tenth: whether a place on the border lies here or there is nobody's error.
        let tenth = rng.below(10);
        let knob = rig.knob_at(u16::try_from(tenth * 100 + 50).unwrap());
        rig.set_tag(u32::try_from(tenth).unwrap());
        rig.run_trigger(on, |_| knob);
        rig.idle_looking(off);
    }
    rig.idle_looking(20_000);
    let truth = rig.truth().powered_by_tag.clone();
    (rig, truth)
}

fn by_tenth(rig: &Rig, all: &[Record]) -> BTreeMap<u32, u64> {
    let (slow, fast) = (rig.knob_at(0), rig.knob_at(1_000));
    let travel = u32::from(RawAngle::new(fast.steps().wrapping_sub(slow.steps())).steps());
    let mut sums = BTreeMap::new();
    for segment in segments(all) {
        let Some(angle) = segment.angle else { continue };
        let turned = u32::from(RawAngle::new(angle.steps().wrapping_sub(slow.steps())).steps());
        *sums.entry((turned * 10 / travel).min(9)).or_default() += segment.run.0;
    }
    sums
}

#[test]
fn no_noise_and_no_loose_plug_writes_more_than_six_hundred_records_an_hour_running() {
    let good = KnobHealth::Good;
    let cases = [
        (good, 0),
        (good, 8),
        (good, 12),
        (good, 16),
        (good, 60),
        (KnobHealth::Loose, 0),
        (KnobHealth::Loose, 20),
    ];
    for (seed, (health, noise)) in (1..).zip(cases) {
        // Running without a pause, in usual bursts, and in short ones.
        for (on, off) in [(3_600_000, 0), (8_000, 4_000), (1_500, 1_500)] {
            let (mut rig, truth) = hour_at_work(seed, health, noise, on, off);
            let all = records(&mut rig);
            let what = std::format!("{health:?}, noise {noise}, {on} ms on, {off} ms off");
            // Twelve hundred short bursts, each at another place of the knob, are no noise: they are written as they are.
            let most = if on < 3_000 { 1_200 + 250 } else { 600 };
            assert!(all.len() <= most, "{} records: {what}", all.len());
            assert_eq!(rig.logger().unwrap().totals(), rig.truth().powered, "{what}");
            let found = by_tenth(&rig, &all);
            let total = rig.truth().powered.run.0;
            for tenth in 0..10 {
                let true_ms = truth.get(&tenth).map_or(0, |totals| totals.run.0);
                let apart = found.get(&tenth).copied().unwrap_or(0).abs_diff(true_ms);
                assert!(apart * 100 <= total, "tenth {tenth}: {apart} ms of {total}: {what}");
            }
            let shakes = all
                .iter()
                .any(|it| matches!(it.event, Event::Fault(change) if change.fault == Fault::KnobShakes));
            let is_loose = health == KnobHealth::Loose;
            assert!(shakes || (noise < 16 && !is_loose), "not told: {what}");
            assert!(!shakes || noise > 8 || is_loose, "a false alarm: {what}");
        }
    }
}

#[test]
fn nothing_that_shakes_writes_more_than_thirty_records_an_hour_standing() {
    for (health, noise) in [(KnobHealth::Good, 60), (KnobHealth::Loose, 0), (KnobHealth::Loose, 60)] {
        let mut rig = started(9);
        let before = records(&mut rig).len();
        rig.set_knob_health(health);
        rig.set_knob_noise(noise);
        rig.set_stamp_trouble(StampTrouble { stray_permille: 20, ..StampTrouble::default() });
        rig.idle_looking(3 * HOUR_MS);
        let more = records(&mut rig).len() - before;
        assert!(more <= 90, "{more} records in three hours: {health:?}, {noise}");
    }
}

#[test]
fn bursts_of_a_plug_that_is_loose_now_and_then_write_thirty_records_an_hour_at_most() {
    // Loose for a second to a minute, then good for as long, each way the worst for what was learned of it before.
    for (bad_ms, good_ms) in
        [(1_000, 1_000), (1_000, 30_000), (2_000, 61_000), (60_000, 305_000), (5_000, 1_801_000)]
    {
        let mut rig = started(4);
        let before = records(&mut rig).len();
        while rig.uptime().0 < 3 * HOUR_MS {
            let health = [KnobHealth::Loose, KnobHealth::Silent, KnobHealth::Magnet(Magnet::Missing)];
            for health in health {
                rig.set_knob_health(health);
                rig.idle_looking(bad_ms / 3);
            }
            rig.set_knob_health(KnobHealth::Good);
            rig.idle_looking(good_ms);
        }
        let more = records(&mut rig).len() - before;
        assert!(more <= 90, "{more} records in three hours: {bad_ms} ms bad, {good_ms} ms good");
    }
}

#[test]
fn an_edge_that_both_wires_pick_up_invents_an_idle_gap_a_pair_at_most() {
    let mut wire = NeedleWire::plugged_at(0);
    let mut rng = SplitMix64::new(2);
    let mut needle = Needle::new();
    let mut bursts = Bursts::new();
    let (mut strays, mut run, mut now) = (0_u64, 0, 0);
    for _ in 0..200_000 {
        now += 90;
        let stray: Vec<u64> = (rng.below(40) == 0).then(|| now - rng.below(90)).into_iter().collect();
        strays += stray.len() as u64;
        let trouble = StampTrouble::default();
        let (_, sample) =
            WiredNeedle { wire: &mut wire, edges: &stray, now_ms: now, trouble, rng: &mut rng }.sample();
        for moved in needle.update(UptimeMillis(now), &sample).into_iter().flatten() {
            run += bursts.update(UptimeMillis(now), Some(moved), None, 24).ran_ms;
        }
        bursts.update(UptimeMillis(now), None, None, 24);
    }
    assert!(strays > 4_000 && run > 0);
    assert!(run <= (strays - 1) * u64::from(IDLE_GAP_MS), "{run} ms of running from {strays} strays");
}

/// Sectors of the board's log, and of the shorter one that is filled here.
const BOARD_SECTORS: u64 = 470;
const SECTORS: u32 = 12;

#[test]
fn a_bad_plug_leaves_sixty_days_and_more_of_three_hours_running_in_the_log() {
    for (health, noise) in
        [(KnobHealth::Good, 0), (KnobHealth::Loose, 0), (KnobHealth::Good, 16), (KnobHealth::Loose, 60)]
    {
        let mut rig = Rig::new(RigSetup { log_sectors: SECTORS, ..RigSetup::default() });
        assert!(rig.power_on(rig.utc()));
        rig.set_knob_health(health);
        rig.set_knob_noise(noise);
        let mut rng = SplitMix64::new(3);
        // Usual bursts with usual gaps, three hours of running a day, until the first sector is given up.
        let oldest = |rig: &Rig| match rig.logger().unwrap().status(rig.uptime()).log {
            LogState::Ready { oldest, .. } => oldest.0,
            state => panic!("no log: {state:?}"),
        };
        while oldest(&rig) == 0 {
            let knob = rig.knob_at(u16::try_from(300 + rng.below(4) * 100).unwrap());
            rig.run_trigger(3_000 + rng.below(10_000), |_| knob);
            rig.idle_looking(2_000 + rng.below(6_000));
        }
        // One sector waits erased, so one less than all was filled.
        let ran = rig.truth().powered.run.0 / u64::from(SECTORS - 1) * BOARD_SECTORS;
        let days = ran / (3 * HOUR_MS);
        std::println!("{health:?}, noise {noise}: {days} days");
        assert!(days >= 60, "{health:?}, noise {noise}: {days} days");
    }
}
