use shared_types::RunMillis;

use super::*;
use crate::records::bursts;
use crate::test_facts::{empty_log, event, segment};

fn log(segments: Vec<SegmentRecord>, events: Vec<(u32, u64, bool)>) -> LogRecords {
    let fault = |(boot, at, present)| {
        event(900, boot, at, LoggedEvent::Fault(FaultChange { fault: Fault::ImplausibleRate, present }))
    };
    LogRecords { segments, events: events.into_iter().map(fault).collect(), ..empty_log() }
}

fn judged(log: &LogRecords, ratio: StrokeRatio) -> Vec<Judgement> {
    let judge = Judge::of(log);
    bursts::join(&log.segments).iter().map(|burst| judge.judge(burst, || ratio)).collect()
}

fn doubt_of(segment: SegmentRecord) -> Option<Doubt> {
    judged(&log(vec![segment], vec![]), StrokeRatio::ONE)[0].doubt
}

/// One burst of segments of this length, each of this many periods; the first has one edge more.
fn burst(segments: &[(u64, u32)]) -> Vec<SegmentRecord> {
    let mut at = 0;
    let mut made = Vec::new();
    for (seq, (run, periods)) in (1..).zip(segments) {
        let first = seq == 1;
        made.push(SegmentRecord {
            continues: !first,
            ..segment(seq, 1, at, *run, periods + u32::from(first))
        });
        at += run;
    }
    made
}

#[test]
fn no_honest_segment_is_longer_than_its_closing_time_and_one_late_look() {
    // By hand: 9,799 ms run, an edge 499 ms later that a look 450 ms after it sees: 10,748 ms.
    assert_eq!(doubt_of(segment(1, 1, 0, 10_748, 120)), None);
    assert_eq!(doubt_of(segment(1, 1, 0, 10_750, 120)), None);
    assert_eq!(doubt_of(segment(1, 1, 0, 10_751, 120)), Some(Doubt::SegmentTooLong));
}

#[test]
fn edges_half_a_second_apart_on_the_average_cannot_be_one_burst() {
    // By hand: 11 edges are 10 periods; 4,999 ms are 499.9 ms each, 5,000 ms are the gap that ends a burst.
    assert_eq!(doubt_of(segment(1, 1, 0, 4_999, 11)), None);
    assert_eq!(doubt_of(segment(1, 1, 0, 5_000, 11)), Some(Doubt::EdgesTooFarApart));
    // A continuing segment has as many periods as edges.
    let first = segment(1, 1, 0, 1_000, 11);
    let next = |run| SegmentRecord { continues: true, ..segment(2, 1, 1_000, run, 10) };
    assert_eq!(judged(&log(vec![first, next(4_999)], vec![]), StrokeRatio::ONE)[0].doubt, None);
    let far = judged(&log(vec![first, next(5_000)], vec![]), StrokeRatio::ONE);
    assert_eq!((far.len(), far[0].doubt), (1, Some(Doubt::EdgesTooFarApart)));
}

#[test]
fn one_edge_cannot_run() {
    assert_eq!(doubt_of(segment(1, 1, 0, 0, 1)), None);
    assert_eq!(doubt_of(segment(1, 1, 0, 499, 1)), None);
    assert_eq!(doubt_of(segment(1, 1, 0, 500, 1)), Some(Doubt::EdgesTooFarApart));
    // Twelve hours of rest that one stray stamp made running.
    assert_eq!(doubt_of(segment(1, 1, 0, 43_200_000, 3)), Some(Doubt::SegmentTooLong));
}

#[test]
fn more_than_two_hundred_edges_a_second_are_doubted_but_not_two_that_are_close() {
    assert_eq!(doubt_of(segment(1, 1, 0, 1, 2)), None);
    // By hand: a wheel of four magnets at 45 strokes a second makes 180 edges.
    assert_eq!(doubt_of(segment(1, 1, 0, 9_800, 1_765)), None);
    // 201 periods in less than a second; 2,001 in ten.
    assert_eq!(doubt_of(segment(1, 1, 0, 300, 201)), None);
    assert_eq!(doubt_of(segment(1, 1, 0, 300, 202)), Some(Doubt::TooManyEdges));
    assert_eq!(doubt_of(segment(1, 1, 0, 10_000, 2_001)), None);
    assert_eq!(doubt_of(segment(1, 1, 0, 10_000, 2_002)), Some(Doubt::TooManyEdges));
    // A burst that is cut into short segments is judged as a whole too: 30 of 100 ms with 25 edges each.
    let pieces = burst(&[(100, 25); 30]);
    assert_eq!(judged(&log(pieces, vec![]), StrokeRatio::ONE)[0].doubt, Some(Doubt::TooManyEdges));
}

#[test]
fn only_the_bursts_during_which_the_logger_found_the_rate_implausible_are_doubted_for_it() {
    // By the firmware's rule the fault goes away ten seconds after the last implausible moment: here at 23.0 s.
    let faults = vec![(1, 20_400, true), (1, 33_000, false)];
    let runs =
        [(1, 0, 5_000), (1, 20_000, 3_000), (1, 24_000, 2_000), (1, 60_000, 3_000), (2, 20_000, 3_000)];
    let segments =
        runs.iter().zip(1..).map(|((boot, at, run), seq)| segment(seq, *boot, *at, *run, 50)).collect();
    let doubts: Vec<_> =
        judged(&log(segments, faults), StrokeRatio::ONE).iter().map(|one| one.doubt).collect();
    assert_eq!(doubts, [None, Some(Doubt::RateFault), None, None, None]);
}

#[test]
fn a_fault_whose_end_is_missing_stands_until_the_boot_ends() {
    let segments = vec![segment(1, 1, 50_000, 3_000, 50), segment(2, 2, 50_000, 3_000, 50)];
    let doubts = judged(&log(segments, vec![(1, 20_000, true)]), StrokeRatio::ONE);
    assert_eq!(doubts.iter().map(|one| one.doubt).collect::<Vec<_>>(), [Some(Doubt::RateFault), None]);
}

#[test]
fn the_hum_of_the_mains_is_doubted_where_it_is_faster_than_any_machine_and_hinted_at_where_not() {
    // By hand: 490 periods in 9,800 ms are 50 a second; seven such segments are 68.6 s.
    let hum = log(burst(&[(9_800, 490); 7]), vec![]);
    let fast = Judgement { doubt: Some(Doubt::SteadyAndFast), is_steady: false };
    assert_eq!(judged(&hum, StrokeRatio::ONE), [fast]);
    // Two magnets: 25 strokes a second, which a machine can make.
    let two = StrokeRatio::new(2, 1).unwrap();
    assert_eq!(judged(&hum, two), [Judgement { doubt: None, is_steady: true }]);
    // A minute of it by chance, and 5 in 490 more at its end: no hum.
    let mut chance = [(9_800, 490); 8];
    chance[7] = (9_800, 495);
    assert_eq!(judged(&log(burst(&chance), vec![]), two), [Judgement { doubt: None, is_steady: false }]);
    // Less than a minute of it says nothing.
    let short = log(burst(&[(9_800, 490); 6]), vec![]);
    assert_eq!(judged(&short, StrokeRatio::ONE), [Judgement::default()]);
}

#[test]
fn a_machine_that_varies_by_more_than_a_thousandth_is_no_hum() {
    // 490 and 491 periods in the same time differ by 0.2 %.
    let varied: Vec<(u64, u32)> = (0..14).map(|at| (9_800, 490 + at % 2)).collect();
    assert_eq!(judged(&log(burst(&varied), vec![]), StrokeRatio::ONE), [Judgement::default()]);
    // A steady minute after an unsteady one is found; so is one that is cut up by a shaking knob.
    let late: Vec<(u64, u32)> = varied.iter().copied().chain([(9_800, 490); 7]).collect();
    assert_eq!(judged(&log(burst(&late), vec![]), StrokeRatio::ONE)[0].doubt, Some(Doubt::SteadyAndFast));
    let cut_up = burst(&[(100, 5); 660]);
    assert_eq!(judged(&log(cut_up, vec![]), StrokeRatio::ONE)[0].doubt, Some(Doubt::SteadyAndFast));
}

#[test]
fn numbers_that_cannot_be_are_doubted_and_overflow_nothing() {
    let worst = SegmentRecord { run: RunMillis(u64::MAX), ..segment(1, 1, u64::MAX, 0, u32::MAX) };
    assert_eq!(doubt_of(worst), Some(Doubt::SegmentTooLong));
    assert_eq!(doubt_of(segment(1, 1, 0, 0, u32::MAX)), Some(Doubt::TooManyEdges));
    assert_eq!(doubt_of(segment(1, 1, 0, 0, 0)), None);
    assert_eq!(doubt_of(segment(1, 1, 0, 900, 0)), Some(Doubt::EdgesTooFarApart));
}
