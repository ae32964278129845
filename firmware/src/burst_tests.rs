use super::*;
use proptest::prelude::*;
use std::vec::Vec;

fn at(ms: u64) -> UptimeMillis {
    UptimeMillis(ms)
}

fn knob(steps: u16) -> Option<RawAngle> {
    Some(RawAngle::new(steps))
}

fn moved(edges: u32, first: u64, last: u64) -> Option<EdgeSpan> {
    Some(EdgeSpan { edges, first_at: at(first), last_at: at(last) })
}

fn closed(advance: &Advance) -> Vec<(u64, Segment)> {
    advance.closed.iter().flatten().map(|closed| (closed.start.0, closed.segment)).collect()
}

fn segment(start: u64, run: u64, edges: u32, angle: u16, continues: bool) -> (u64, Segment) {
    (start, Segment { run: RunMillis(run), edges, angle: knob(angle), continues })
}

#[test]
fn a_burst_runs_from_its_first_edge_to_its_last_and_ends_after_the_idle_gap() {
    let mut bursts = Bursts::new();
    assert_eq!(closed(&bursts.update(at(1_050), moved(1, 1_003, 1_003), knob(100), KNOB_STEP)), []);
    assert_eq!(closed(&bursts.update(at(1_100), moved(2, 1_053, 1_099), knob(100), KNOB_STEP)), []);
    assert_eq!(closed(&bursts.update(at(1_598), None, knob(100), KNOB_STEP)), []);
    assert!(bursts.is_running());
    let last = bursts.update(at(1_599), None, knob(100), KNOB_STEP);
    assert_eq!(closed(&last), [segment(1_003, 96, 3, 100, false)]);
    assert!(!bursts.is_running());
    assert_eq!(bursts.still_ms(at(2_099)), Some(1_000));
}

#[test]
fn an_edge_just_inside_the_gap_goes_on_and_one_at_the_gap_begins_anew() {
    for (second, expected) in [(1_499, 0), (1_500, 1)] {
        let mut bursts = Bursts::new();
        bursts.update(at(1_000), moved(1, 1_000, 1_000), None, KNOB_STEP);
        let advance = bursts.update(at(1_520), moved(1, second, second), None, KNOB_STEP);
        assert_eq!(closed(&advance).len(), expected, "second edge at {second}");
        assert_eq!(advance.begins, expected == 1);
    }
}

#[test]
fn a_moved_knob_closes_with_the_old_angle_and_the_next_segment_continues_at_the_last_edge() {
    let mut bursts = Bursts::new();
    bursts.update(at(1_050), moved(2, 1_000, 1_050), knob(500), KNOB_STEP);
    assert_eq!(closed(&bursts.update(at(1_100), moved(1, 1_100, 1_100), knob(524), KNOB_STEP)), []);
    let turned = bursts.update(at(1_150), moved(1, 1_150, 1_150), knob(525), KNOB_STEP);
    assert_eq!(closed(&turned), [segment(1_000, 100, 3, 500, false)]);
    let end = bursts.update(at(1_650), None, knob(525), KNOB_STEP);
    assert_eq!(closed(&end), [segment(1_100, 50, 1, 525, true)]);
}

#[test]
fn a_knob_over_the_wrap_has_hardly_moved() {
    let mut bursts = Bursts::new();
    bursts.update(at(1_050), moved(2, 1_000, 1_050), knob(4_090), KNOB_STEP);
    assert_eq!(closed(&bursts.update(at(1_100), moved(1, 1_100, 1_100), knob(10), KNOB_STEP)), []);
    let turned = bursts.update(at(1_150), moved(1, 1_150, 1_150), knob(30), KNOB_STEP);
    assert_eq!(closed(&turned), [segment(1_000, 100, 3, 4_090, false)]);
}

#[test]
fn nothing_is_written_of_a_continuation_that_no_edge_followed() {
    let mut bursts = Bursts::new();
    bursts.update(at(1_050), moved(2, 1_000, 1_050), knob(500), KNOB_STEP);
    assert_eq!(closed(&bursts.update(at(1_100), None, knob(900), KNOB_STEP)).len(), 1);
    assert_eq!(closed(&bursts.update(at(1_150), None, knob(100), KNOB_STEP)), []);
    assert_eq!(closed(&bursts.update(at(1_550), None, knob(100), KNOB_STEP)), []);
}

#[test]
fn a_segment_closes_before_ten_seconds_are_at_risk() {
    let mut bursts = Bursts::new();
    let mut all = Vec::new();
    for step in 0..=400_u64 {
        let ms = 1_000 + step * 50;
        all.extend(closed(&bursts.update(at(ms), moved(1, ms, ms), knob(0), KNOB_STEP)));
    }
    assert_eq!(all, [segment(1_000, 9_800, 197, 0, false), segment(10_800, 9_800, 196, 0, true)]);
}

#[test]
fn a_setting_below_the_sensors_noise_is_not_followed() {
    let mut bursts = Bursts::new();
    bursts.update(at(1_050), moved(2, 1_000, 1_050), knob(500), 0);
    assert_eq!(closed(&bursts.update(at(1_100), moved(1, 1_100, 1_100), knob(506), 0)), []);
    assert_eq!(closed(&bursts.update(at(1_150), moved(1, 1_150, 1_150), knob(507), 0)).len(), 1);
}

/// Twenty strokes a second for an hour while `angle` tells the knob at each look; how many segments, and their running by angle.
fn hour(angle: impl Fn(u64) -> u16) -> Vec<Segment> {
    let mut bursts = Bursts::new();
    let mut all = Vec::new();
    for look in 1..=72_000_u64 {
        let advance =
            bursts.update(at(look * 50), moved(1, look * 50, look * 50), knob(angle(look)), KNOB_STEP);
        all.extend(closed(&advance).into_iter().map(|it| it.1));
    }
    all.extend(closed(&bursts.update(at(3_601_000), None, knob(0), KNOB_STEP)).into_iter().map(|it| it.1));
    all
}

#[test]
fn a_knob_that_shakes_cuts_as_often_as_the_budget_allows_and_its_mean_is_kept() {
    // 1,000 on average: 100 up, then 100 down, look by look.
    let segments = hour(|look| if look % 2 == 0 { 1_100 } else { 900 });
    // 60 cuts at once and 150 in an hour, beside the 3,600 / 9.8 = 367 segments that time closes.
    assert!((367..=580).contains(&segments.len()), "{} segments", segments.len());
    assert_eq!(segments.iter().map(|it| it.run.0).sum::<u64>(), 71_999 * 50);
    assert_eq!(segments.iter().map(|it| u64::from(it.edges)).sum::<u64>(), 72_000);
    let near = |segment: &&Segment| segment.angle.unwrap().distance(RawAngle::new(1_000)) <= 2;
    let ran: u64 = segments.iter().filter(near).map(|it| it.run.0).sum();
    assert!(ran * 100 >= 99 * 71_999 * 50, "{ran} ms at the true place");
}

#[test]
fn the_mean_of_angles_goes_over_the_wrap() {
    let mut mean = MeanAngle::default();
    assert_eq!(mean.angle(), None);
    for (angle, weight) in [(4_090, 1), (10, 1), (4_090, 2), (4_086, 1)] {
        mean.add(RawAngle::new(angle), weight);
    }
    // -6, 10, -6, -6 and -10 have a mean of -3.6, which is 4,092 to the nearest.
    assert_eq!(mean.angle(), Some(RawAngle::new(4_092)));
}

/// Feeds edges at the given moments through looks as a board would take them: every `every` ms while the needle moves.
fn record(edges: &[u64], every: u64, angles: &[Option<u16>]) -> Vec<(u64, Segment)> {
    let mut bursts = Bursts::new();
    let mut all = Vec::new();
    let end = edges.last().unwrap() + u64::from(IDLE_GAP_MS) + every;
    let (mut now, mut next, mut turn) = (edges[0] / every * every, 0, 0);
    while now <= end {
        now += every;
        let first = next;
        while next < edges.len() && edges[next] <= now {
            next += 1;
        }
        let new = &edges[first..next];
        let told = new
            .first()
            .and_then(|&start| moved(u32::try_from(new.len()).unwrap(), start, *new.last().unwrap()));
        let angle = angles[turn % angles.len()].map(RawAngle::new);
        turn += 1;
        all.extend(closed(&bursts.update(at(now), told, angle, KNOB_STEP)));
    }
    all
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, failure_persistence: None, rng_seed: prop::test_runner::RngSeed::Fixed(0x6E65_6564), ..ProptestConfig::default() })]

    #[test]
    fn splitting_never_loses_or_invents_an_edge_or_a_millisecond(
        gaps in prop::collection::vec(prop_oneof![8 => 1..250_u64, 1 => 495..505_u64, 1 => 600..3_000_u64], 1..600),
        angles in prop::collection::vec(prop::option::weighted(0.9, 0..4_096_u16), 1..40),
        every in 1..=50_u64,
    ) {
        let mut edges = std::vec![1_000_u64];
        for gap in &gaps {
            edges.push(edges.last().unwrap() + gap);
        }
        // The needle's own account: pauses of the idle gap or more are no running.
        let run: u64 = gaps.iter().filter(|gap| **gap < u64::from(IDLE_GAP_MS)).sum();
        let bursts = 1 + gaps.iter().filter(|gap| **gap >= u64::from(IDLE_GAP_MS)).count();

        let segments = record(&edges, every, &angles);
        prop_assert_eq!(segments.iter().map(|it| it.1.run.0).sum::<u64>(), run);
        prop_assert_eq!(segments.iter().map(|it| u64::from(it.1.edges)).sum::<u64>(), edges.len() as u64);
        prop_assert_eq!(segments.iter().filter(|it| !it.1.continues).count(), bursts);
        for pair in segments.windows(2) {
            let end = pair[0].0 + pair[0].1.run.0;
            if pair[1].1.continues {
                prop_assert_eq!(pair[1].0, end);
            } else {
                prop_assert!(pair[1].0 >= end + u64::from(IDLE_GAP_MS));
            }
            prop_assert!(pair[0].1.edges > 0);
            prop_assert!(pair[0].1.run.0 < u64::from(SEGMENT_CLOSE_MS) + 50 + 500);
        }
    }
}
