use super::*;
use crate::knob::Magnet;
use shared_types::limits::RUNNING_AT_RISK_MS;
use shared_types::log::{Event, Fault, Record};

fn records(rig: &mut Rig) -> Vec<Record> {
    let mut all = Vec::new();
    let store = rig.logger_mut().unwrap().store_mut();
    let end = store
        .read_from(shared_types::RecordSeq(0), &mut |_, record| {
            all.push(record.clone());
            true
        })
        .unwrap();
    assert!(end.reached_end);
    all
}

fn started() -> Rig {
    let mut rig = Rig::new(RigSetup::default());
    assert!(rig.power_on(rig.utc()));
    rig
}

#[test]
fn without_cuts_the_totals_equal_the_truth_exactly() {
    let mut rig = started();
    let mut rng = SplitMix64::new(9);
    for _ in 0..300 {
        let knob = rig.knob_at(rng.below(1_001) as u16);
        rig.run_trigger(100 + rng.below(25_000), |_| knob);
        rig.idle(rng.below(9_000));
    }
    rig.idle(1_000);
    let truth = rig.truth().clone();
    assert!(truth.powered.edges.0 > 10_000, "the needle did move");
    assert_eq!(rig.logger().unwrap().totals(), truth.powered);
    assert_eq!(truth.all, truth.powered);
    let bursts = records(&mut rig)
        .iter()
        .filter(|record| matches!(&record.event, Event::Segment(segment) if !segment.continues))
        .count();
    assert_eq!(bursts as u64, truth.powered_bursts);
}

#[test]
fn a_knob_that_is_turned_while_running_cuts_segments_that_add_up_and_join() {
    let mut rig = started();
    // The low place lies on the sensor's wrap, where its noise jumps between 4095 and 1.
    let (low, high) = (rig.knob_at(199), rig.knob_at(700));
    assert_eq!(low, RawAngle::new(0));
    rig.run_trigger(30_000, |ms| if ms / 2_000 % 2 == 0 { low } else { high });
    rig.idle(2_000);
    let segments: Vec<_> = records(&mut rig)
        .into_iter()
        .filter_map(|record| match record.event {
            Event::Segment(segment) => Some((record.at.0, segment)),
            _ => None,
        })
        .collect();
    assert_eq!(segments.len(), 15, "one for every two seconds of the knob's standing still");
    let truth = rig.truth().powered;
    assert_eq!(segments.iter().map(|it| it.1.run.0).sum::<u64>(), truth.run.0);
    assert_eq!(segments.iter().map(|it| u64::from(it.1.edges)).sum::<u64>(), truth.edges.0);
    for pair in segments.windows(2) {
        assert!(pair[1].1.continues);
        assert_eq!(pair[1].0, pair[0].0 + pair[0].1.run.0);
        assert!(pair[1].1.angle.unwrap().distance(pair[0].1.angle.unwrap()) > 1_000);
    }
}

#[test]
fn a_cut_in_a_burst_costs_ten_running_seconds_at_most() {
    let mut rig = started();
    let mut rng = SplitMix64::new(4);
    let knob = rig.knob_at(500);
    let mut worst = 0;
    for cut in 1..=60_u64 {
        rig.run_trigger(rng.below(12_000), |_| knob);
        rig.idle(rng.below(3_000));
        let before = rig.truth().powered.run.0 - rig.logger().unwrap().totals().run.0;
        rig.run_trigger_and_cut(200 + rng.below(40_000), |_| knob);
        assert!(rig.power_on(rig.utc()));
        let lost = rig.truth().powered.run.0 - rig.logger().unwrap().totals().run.0;
        worst = worst.max(lost);
        assert!(
            lost - before.min(lost) <= u64::from(RUNNING_AT_RISK_MS),
            "cut {cut} lost {lost} ms more than {before}"
        );
        assert!(lost <= cut * u64::from(RUNNING_AT_RISK_MS), "{lost} ms lost after {cut} cuts");
    }
    assert!(worst > 60_000, "sixty cuts at random moments must show a loss: {worst} ms");
}

#[test]
fn a_cut_at_rest_costs_nothing() {
    let mut rig = started();
    let knob = rig.knob_at(500);
    for _ in 0..20 {
        rig.run_trigger(7_000, |_| knob);
        rig.idle(600);
        rig.power_cut();
        assert!(rig.power_on(rig.utc()));
        assert_eq!(rig.logger().unwrap().totals(), rig.truth().powered);
    }
}

#[test]
fn a_press_holds_the_last_ten_running_seconds_even_a_minute_later() {
    let mut rig = started();
    let (fast, slow) = (rig.knob_at(900), rig.knob_at(100));
    rig.run_trigger(20_000, |_| fast);
    let run = rig.truth().powered;
    rig.idle(1_000);
    // The hand turns the knob down after the tear, and the press comes much later.
    rig.turn_knob(slow);
    rig.idle(60_000);
    rig.press(PressKind::Tear);
    let press = records(&mut rig)
        .into_iter()
        .find_map(|record| match record.event {
            Event::Press(press) => Some(press),
            _ => None,
        })
        .expect("the press is there");
    assert_eq!(press.kind, PressKind::Tear);
    assert!((61_000..63_000).contains(&press.still_ms), "{} ms still", press.still_ms);
    assert_eq!(press.trace.steps.len(), 20);
    for step in &press.trace.steps {
        assert!(step.angle.unwrap().distance(fast) <= 2, "the knob as it stood while running");
    }
    // 20 steps hold 9.5 to 10 s; at a steady rate that is the same share of all edges.
    let held: u64 = press.trace.steps.iter().map(|step| u64::from(step.edges)).sum();
    let span = 9_500 + u64::from(press.trace.newest_ms);
    let expected = run.edges.0 * span / run.run.0;
    assert!(held.abs_diff(expected) <= 6, "{held} edges in {span} ms, about {expected} expected");
}

#[test]
fn all_four_presses_are_told_apart_and_confirmed_by_the_lamp() {
    let mut rig = started();
    let kinds = [PressKind::NearMiss, PressKind::Tear, PressKind::CareDone, PressKind::Retension];
    for kind in kinds {
        rig.press(kind);
        assert_eq!(rig.lamp(), LampMessage::Saved, "{kind:?}");
        rig.idle(5_000);
        assert_eq!(rig.lamp(), LampMessage::Dark);
    }
    let told: Vec<_> = records(&mut rig)
        .into_iter()
        .filter_map(|record| match record.event {
            Event::Press(press) => Some((press.kind, press.still_ms)),
            _ => None,
        })
        .collect();
    assert_eq!(told, kinds.map(|kind| (kind, u32::MAX)));
}

#[test]
fn controls_come_about_once_in_thirty_bursts() {
    let mut rig = started();
    let knob = rig.knob_at(500);
    for _ in 0..900 {
        rig.run_trigger(8_000, |_| knob);
        rig.idle(3_000);
    }
    let controls = records(&mut rig).iter().filter(|it| matches!(it.event, Event::Control(_))).count();
    // 30 expected; a Poisson count lies between 15 and 48 in all but one of some hundreds of draws.
    assert!((15..=48).contains(&controls), "{controls} controls");
}

#[test]
fn the_clock_chip_is_logged_at_the_start_and_hourly() {
    let mut rig = started();
    rig.idle(3 * 3_600_000 + 60_000);
    let anchors: Vec<_> = records(&mut rig)
        .into_iter()
        .filter_map(|record| match record.event {
            Event::Anchor(anchor) => Some((record.at.0, anchor.utc.0 - 1_772_438_400_000)),
            _ => None,
        })
        .collect();
    assert_eq!(anchors, [(0, 0), (3_600_000, 3_600_000), (7_200_000, 7_200_000), (10_800_000, 10_800_000)]);
}

#[test]
fn a_sensor_that_fails_becomes_a_fault_record_and_segments_without_an_angle() {
    let mut rig = started();
    let knob = rig.knob_at(500);
    rig.run_trigger(3_000, |_| knob);
    rig.idle(2_000);
    rig.set_knob_health(KnobHealth::Magnet(Magnet::Missing));
    rig.run_trigger(3_000, |_| knob);
    rig.idle(2_000);
    assert_eq!(rig.lamp(), LampMessage::LookWhenYouStop);
    rig.set_knob_health(KnobHealth::Good);
    rig.run_trigger(3_000, |_| knob);
    rig.idle(2_000);
    let all = records(&mut rig);
    let faults: Vec<_> = all
        .iter()
        .filter_map(|record| match &record.event {
            Event::Fault(change) => Some((change.fault, change.present)),
            _ => None,
        })
        .collect();
    let fault = Fault::MagnetMissing;
    assert_eq!(faults, [(fault, true), (fault, false)]);
    let unknown = all
        .iter()
        .filter(|it| matches!(&it.event, Event::Segment(segment) if segment.angle.is_none()))
        .count();
    assert!(unknown >= 1);
    assert_eq!(rig.logger().unwrap().totals(), rig.truth().powered);
}

#[test]
fn a_month_of_work_adds_up_but_for_what_the_cuts_took() {
    let mut rig = started();
    let mut rng = SplitMix64::new(12);
    let mut cuts = 0;
    for day in 0..30_u64 {
        for _ in 0..100 {
            let knob = rig.knob_at(300 + rng.below(300) as u16);
            rig.run_trigger(1_000 + rng.below(15_000), |_| knob);
            rig.idle(600 + rng.below(7_000));
        }
        rig.press(PressKind::CareDone);
        let before = rig.logger().unwrap().totals();
        if day % 5 == 3 {
            let knob = rig.knob_at(500);
            rig.run_trigger_and_cut(4_000, |_| knob);
            cuts += 1;
        } else {
            rig.power_cut();
        }
        assert!(rig.power_on(UtcMillis(rig.utc().0 + 12 * 3_600_000)));
        assert_eq!(rig.logger().unwrap().totals(), before, "totals never go down");
    }
    let (truth, kept) = (rig.truth().powered, rig.logger().unwrap().totals());
    let lost = truth.run.0 - kept.run.0;
    // Each of the six cuts came four seconds into a burst, of which nothing was written yet.
    assert_eq!(cuts, 6);
    assert!((6 * 3_500..=6 * 4_000).contains(&lost), "{lost} ms lost");
    assert!(truth.edges.0 > kept.edges.0);
}

#[test]
fn what_the_lamp_has_confirmed_survives_a_cut_at_any_byte() {
    let mut rig = started();
    rig.power_cut();
    let mut rng = SplitMix64::new(21);
    let (mut pressed, mut confirmed, mut mid_write) = (0_usize, 0, 0);
    let mut cuts = 1;
    for _ in 0..400 {
        let steps = rng.below(1_300);
        if !rig.power_on_until(rig.utc(), steps) {
            continue;
        }
        cuts += 1;
        let knob = rig.knob_at(rng.below(1_000) as u16);
        for _ in 0..4 {
            rig.run_trigger(rng.below(4_000), |_| knob);
            rig.idle(700);
            if !rig.is_powered() {
                mid_write += 1;
                break;
            }
            pressed += 1;
            rig.press(PressKind::NearMiss);
            confirmed += usize::from(rig.lamp() == LampMessage::Saved);
        }
        rig.power_cut();
    }
    assert!(rig.power_on(rig.utc()));
    let found = records(&mut rig).iter().filter(|it| matches!(it.event, Event::Press(_))).count();
    assert!(mid_write > 50, "the power did go while flash was written: {mid_write}");
    assert!(
        (confirmed..=pressed).contains(&found),
        "{confirmed} confirmed, {found} found, {pressed} pressed"
    );
    let lost = rig.truth().powered.run.0 - rig.logger().unwrap().totals().run.0;
    assert!(lost <= cuts * u64::from(RUNNING_AT_RISK_MS), "{lost} ms lost in {cuts} cuts");
}

#[test]
fn the_truth_is_kept_by_tag_and_hears_of_running_without_power() {
    let mut rig = started();
    let knob = rig.knob_at(500);
    rig.set_tag(1);
    rig.run_trigger(5_000, |_| knob);
    rig.idle(2_000);
    rig.set_tag(2);
    rig.run_trigger(9_000, |_| knob);
    rig.idle(2_000);
    rig.power_cut();
    rig.run_trigger(60_000, |_| knob);
    let truth = rig.truth();
    let [first, second] = [1, 2].map(|tag| truth.powered_by_tag[&tag]);
    assert_eq!(first.plus(second.run, second.edges), truth.powered);
    assert!((4_500..5_500).contains(&first.run.0) && (8_500..9_500).contains(&second.run.0));
    assert!(truth.all.run.0 - truth.powered.run.0 > 59_000);
}

#[test]
fn a_rig_can_work_in_another_thread() {
    let truth = std::thread::spawn(|| {
        let mut rig = started();
        rig.run_trigger(1_000, |_| RawAngle::new(0));
        rig.truth().powered
    });
    assert!(truth.join().unwrap().edges.0 > 5);
}

#[test]
fn drag_slows_the_needle_at_the_same_setting() {
    let rate = |drag| {
        let mut rig = started();
        rig.set_drag(drag);
        let knob = rig.knob_at(500);
        rig.run_trigger(60_000, |_| knob);
        let truth = rig.truth().powered;
        truth.edges.0 * 1_000_000 / truth.run.0
    };
    let share = rate(100) * 1_000 / rate(0);
    assert!((890..=910).contains(&share), "{share} per mille of the speed at a drag of a tenth");
}
