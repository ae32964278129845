use super::*;
use crate::burst::Bursts;
use proptest::prelude::*;
use shared_types::limits::{IDLE_GAP_MS, KNOB_STEP, SAMPLE_MS};
use std::vec::Vec;

fn at(ms: u64) -> UptimeMillis {
    UptimeMillis(ms)
}

fn sample(count: u16, first: Option<u64>, last: Option<u64>) -> NeedleSample {
    NeedleSample {
        count,
        first_edge_at: first.map(UptimeMillis),
        last_edge_at: last.map(UptimeMillis),
        ..NeedleSample::default()
    }
}

fn moved(edges: u32, first: u64, last: u64) -> Option<EdgeSpan> {
    Some(EdgeSpan { edges, first_at: at(first), last_at: at(last) })
}

fn mismatches(stamps_alone: u32, counts_alone: u32) -> Mismatches {
    Mismatches { stamps_alone, counts_alone }
}

/// A needle that was looked at at moment zero.
fn started() -> Needle {
    let mut needle = Needle::new();
    assert_eq!(needle.update(at(0), &sample(0, None, None)), [None, None]);
    needle
}

#[test]
fn the_first_sample_only_says_where_the_counter_stands() {
    let mut needle = Needle::new();
    assert_eq!(needle.update(at(10), &sample(40_000, None, None)), [None, None]);
    assert_eq!(needle.update(at(60), &sample(40_001, Some(50), Some(50))), [None, moved(1, 50, 50)]);
}

#[test]
fn the_count_goes_on_over_the_wrap_of_the_counter() {
    let mut needle = Needle::new();
    needle.update(at(0), &sample(65_535, None, None));
    assert_eq!(needle.update(at(50), &sample(2, Some(10), Some(40))), [None, moved(3, 10, 40)]);
}

#[test]
fn an_edge_whose_stamp_comes_one_sample_late_is_dated_exactly() {
    let mut needle = started();
    assert_eq!(needle.update(at(50), &sample(1, None, None)), [None, None]);
    assert_eq!(needle.update(at(100), &sample(1, Some(50), Some(50))), [moved(1, 50, 50), None]);
    // And so in the middle of running: of two edges the second is stamped late, beside the stamp of the next edge.
    assert_eq!(needle.update(at(150), &sample(3, Some(110), Some(110))), [None, moved(2, 110, 110)]);
    assert_eq!(
        needle.update(at(200), &sample(4, Some(149), Some(190))),
        [moved(0, 149, 149), moved(1, 190, 190)]
    );
    assert_eq!(needle.mismatches(), mismatches(0, 0));
}

#[test]
fn an_edge_whose_count_comes_one_sample_late_is_dated_exactly() {
    let mut needle = started();
    assert_eq!(needle.update(at(50), &sample(0, Some(50), Some(50))), [None, None]);
    assert_eq!(needle.update(at(100), &sample(1, None, None)), [None, moved(1, 50, 50)]);
    assert_eq!(needle.update(at(150), &sample(1, Some(149), Some(150))), [None, None]);
    assert_eq!(needle.update(at(200), &sample(3, Some(180), Some(180))), [None, moved(2, 150, 180)]);
    assert_eq!(needle.mismatches(), mismatches(0, 0));
}

#[test]
fn an_edge_that_nobody_stamps_is_dated_by_the_sample_that_counted_it() {
    let mut needle = started();
    needle.update(at(50), &sample(2, None, None));
    assert_eq!(needle.update(at(100), &sample(2, None, None)), [moved(2, 50, 50), None]);
    assert_eq!(needle.mismatches(), mismatches(0, 2));
    // A stamp from before and one from the future: neither is believed beyond its sample.
    assert_eq!(needle.update(at(150), &sample(4, Some(40), Some(400))), [None, moved(2, 100, 150)]);
}

#[test]
fn a_stamp_without_a_count_is_forgotten_after_one_sample() {
    // In the middle of a sample, and at its end, where its count might have come with the next.
    for stray in [20, 49] {
        let mut needle = started();
        needle.update(at(50), &sample(0, Some(stray), Some(stray)));
        needle.update(at(100), &sample(0, None, None));
        // Ten minutes of rest, and three strokes.
        for step in 3..12_000 {
            assert_eq!(needle.update(at(step * 50), &sample(0, None, None)), [None, None]);
        }
        let told = needle.update(at(600_000), &sample(3, Some(599_960), Some(600_000)));
        assert_eq!(told, [None, moved(3, 599_960, 600_000)], "stray at {stray}");
        assert_eq!(needle.mismatches(), mismatches(1, 0));
    }
}

#[test]
fn the_last_edge_that_is_counted_in_one_sample_and_stamped_in_the_next_invents_nothing_later() {
    let mut needle = started();
    needle.update(at(50), &sample(1, Some(40), Some(40)));
    needle.update(at(100), &sample(2, None, None));
    assert_eq!(needle.update(at(150), &sample(2, Some(100), Some(100))), [moved(1, 100, 100), None]);
    needle.update(at(200), &sample(2, None, None));
    let told = needle.update(at(900_000), &sample(3, Some(899_990), Some(899_990)));
    assert_eq!(told, [None, moved(1, 899_990, 899_990)]);
}

#[test]
fn pulses_set_aside_as_too_short_are_told_and_move_nothing() {
    let mut needle = started();
    let noise = NeedleSample { too_short: 7, ..NeedleSample::default() };
    assert_eq!(needle.update(at(50), &noise), [None, None]);
    assert_eq!(needle.mismatches(), mismatches(0, 7));
    let mut lately = RecentIncrease::new();
    assert!(!lately.update(at(0), 0) && lately.update(at(50), 7) && lately.update(at(60_049), 7));
    assert!(!lately.update(at(60_050), 7), "a minute without any");
}

#[test]
fn two_hundred_edges_in_a_second_are_a_fast_machine_and_one_more_is_noise() {
    for (edges, expected) in [(200, false), (201, true)] {
        let mut judge = RateMonitor::new();
        judge.take(&EdgeSpan { edges, first_at: at(5_000), last_at: at(5_990) });
        assert_eq!(judge.is_implausible(at(6_000)), expected, "{edges} edges");
    }
}

#[test]
fn a_steady_fast_rate_never_adds_up_to_an_implausible_one() {
    let mut judge = RateMonitor::new();
    for step in 0..400_u64 {
        let start = step * 50;
        judge.take(&EdgeSpan { edges: 5, first_at: at(start), last_at: at(start + 45) });
        assert!(!judge.is_implausible(at(start + 50)), "100 edges a second at {start} ms");
    }
}

#[test]
fn the_fault_goes_ten_seconds_after_the_noise() {
    let mut judge = RateMonitor::new();
    judge.take(&EdgeSpan { edges: 900, first_at: at(100), last_at: at(200) });
    assert!(judge.is_implausible(at(200)) && judge.is_implausible(at(10_199)));
    assert!(!judge.is_implausible(at(10_200)));
}

/// What may be wrong with one edge.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Wrong {
    Nothing,
    /// Counted in its sample, stamped in the next.
    StampLate,
    /// Stamped in its sample, counted in the next.
    CountLate,
    StampMissing,
}

/// Runs edges (when, what is wrong with them) and stray stamps through the needle and the bursts, and sums up.
fn totals(edges: &[(u64, Wrong)], strays: &[u64], every: u64) -> (u64, u64, Mismatches) {
    let end = edges.iter().map(|it| it.0).chain(strays.iter().copied()).max().unwrap_or(0);
    let (mut needle, mut bursts) = (Needle::new(), Bursts::new());
    let (mut run, mut counted) = (0, 0);
    needle.update(at(0), &sample(0, None, None));
    let mut now = 0;
    while now < end + 4 * every + u64::from(IDLE_GAP_MS) {
        let (before, last) = (now, now.saturating_sub(every));
        now += every;
        let is_in = |ms: u64, from: u64, to: u64| ms > from && ms <= to;
        let count = edges.iter().filter(|(ms, wrong)| match wrong {
            Wrong::CountLate => *ms <= before,
            _ => *ms <= now,
        });
        let stamped = edges.iter().filter(|(ms, wrong)| match wrong {
            Wrong::StampLate => is_in(*ms, last, before),
            Wrong::StampMissing => false,
            _ => is_in(*ms, before, now),
        });
        let stamps =
            stamped.map(|it| it.0).chain(strays.iter().copied().filter(|ms| is_in(*ms, before, now)));
        let stamps: Vec<u64> = stamps.collect();
        let count = u16::try_from(count.count() % 65_536).unwrap();
        let sample = sample(count, stamps.iter().min().copied(), stamps.iter().max().copied());
        let told = needle.update(at(now), &sample);
        for moved in told.into_iter().flatten() {
            let advance = bursts.update(at(now), Some(moved), None, KNOB_STEP);
            run += advance.ran_ms;
            counted += u64::from(advance.edges);
        }
        bursts.update(at(now), None, None, KNOB_STEP);
    }
    (run, counted, needle.mismatches())
}

/// The needle's own account: from edge to edge, without the pauses.
fn truth(edges: &[(u64, Wrong)]) -> u64 {
    let gaps = edges.windows(2).map(|pair| pair[1].0 - pair[0].0);
    gaps.filter(|gap| *gap < u64::from(IDLE_GAP_MS)).sum()
}

/// Bursts of a machine at work (a stroke takes 22 to 200 ms) with rests between, in order.
fn work() -> impl Strategy<Value = Vec<u64>> {
    let gap = prop_oneof![30 => 22..200_u64, 1 => 2_000..700_000_u64];
    (1_000..2_000_u64, prop::collection::vec(gap, 1..150)).prop_map(|(first, gaps)| {
        let mut edges = std::vec![first];
        for gap in gaps {
            edges.push(edges.last().unwrap() + gap);
        }
        edges
    })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, failure_persistence: None, rng_seed: prop::test_runner::RngSeed::Fixed(0x6E65_6564), ..ProptestConfig::default() })]

    /// A sample falls on the edge's own millisecond, so that its two halves may come apart.
    #[test]
    fn halves_that_come_apart_at_a_sample_are_put_together_to_the_millisecond(
        edges in work(), wrongs in prop::collection::vec(any::<bool>(), 1..40), late_stamps in any::<bool>(),
    ) {
        let every = u64::from(SAMPLE_MS);
        let edges: Vec<_> = edges.iter().zip(wrongs.iter().cycle()).map(|(ms, wrong)| {
            // One edge to a sample at most, so that no stamp hides behind another.
            let near = ms.div_ceil(every) * every;
            let late = if late_stamps { Wrong::StampLate } else { Wrong::CountLate };
            (near, if *wrong { late } else { Wrong::Nothing })
        }).collect();
        let mut once = edges;
        once.dedup_by_key(|it| it.0);
        let (run, counted, mismatches) = totals(&once, &[], every);
        prop_assert_eq!(counted, once.len() as u64);
        prop_assert_eq!(run, truth(&once));
        prop_assert_eq!(mismatches, Mismatches::default());
    }

    #[test]
    fn no_edge_is_lost_and_each_wrong_one_costs_or_invents_a_sample_period_at_most(
        edges in work(),
        wrongs in prop::collection::vec(prop_oneof![
            6 => Just(Wrong::Nothing), 1 => Just(Wrong::StampLate), 1 => Just(Wrong::CountLate), 1 => Just(Wrong::StampMissing),
        ], 1..60),
        strays in prop::collection::vec(0..3_000_000_u64, 0..40),
        every in 20..=90_u64,
    ) {
        let edges: Vec<_> = edges.into_iter().zip(wrongs.into_iter().cycle()).collect();
        let end = edges.last().unwrap().0 + 2_000;
        let strays: Vec<_> = strays.into_iter().map(|ms| 1 + ms % end).collect();
        let wrong = edges.iter().filter(|it| it.1 != Wrong::Nothing).count() + strays.len();
        let (run, counted, _) = totals(&edges, &strays, every);
        prop_assert_eq!(counted, edges.len() as u64);
        let off = run.abs_diff(truth(&edges));
        prop_assert!(off <= every * wrong as u64, "{off} ms off with {wrong} wrong at {every} ms");
    }

    #[test]
    fn rest_with_stray_stamps_is_rest(strays in prop::collection::vec(0..20_000_000_u64, 1..60), every in 20..=90_u64) {
        let (run, counted, mismatches) = totals(&[], &strays, every);
        prop_assert_eq!((run, counted), (0, 0));
        prop_assert!(mismatches.stamps_alone > 0);
    }

    #[test]
    fn a_broken_link_loses_no_edge_and_a_sample_period_of_each_burst_at_most(edges in work(), every in 20..=90_u64) {
        let edges: Vec<_> = edges.into_iter().map(|ms| (ms, Wrong::StampMissing)).collect();
        let bursts = 1 + edges.windows(2).filter(|pair| pair[1].0 - pair[0].0 >= u64::from(IDLE_GAP_MS)).count();
        let (run, counted, mismatches) = totals(&edges, &[], every);
        prop_assert_eq!(counted, edges.len() as u64);
        prop_assert_eq!(u64::from(mismatches.counts_alone), counted);
        let off = run.abs_diff(truth(&edges));
        prop_assert!(off <= every * bursts as u64, "{off} ms off in {bursts} bursts at {every} ms");
    }
}
