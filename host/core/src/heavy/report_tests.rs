#![allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a test may stop at the first surprise"
)]
use super::*;
use crate::entries::{Certainty, HeavyLimit, HeavyLimitSet, KnobMarks, Owner};
use crate::records::log_records::{EventFact, LogRecords, SegmentRecord};
use crate::test_facts::{
    MONDAY_8, anchor, assigned, empty_log, entries, event, fitted, machine, segment, started,
};
use jiff::civil::date;
use proptest::prelude::*;
use shared_types::RawAngle;
use shared_types::log::ClockSource::Host;
use shared_types::log::FaultChange;

const MINUTE: u64 = 60_000;
const ONE: MachineTag = MachineTag(1);

/// Per mille and angle are the same number: marks at 0 and 1000.
fn marks() -> EntryBody {
    EntryBody::KnobMarked(KnobMarks {
        machine: ONE,
        slow: RawAngle::new(0),
        fast: RawAngle::new(1000),
        rising: true,
    })
}

fn limit(limit: HeavyLimit, thousandths: u32) -> EntryBody {
    EntryBody::HeavyLimitSet(HeavyLimitSet { machine: ONE, limit, thousandths })
}

fn rated(rating: &str) -> EntryBody {
    EntryBody::DutyRated(DutyRated { machine: ONE, rating: Some(rating.parse().unwrap()) })
}

/// A burst of one segment: its start and length in milliseconds of uptime, its strokes a second, its angle.
fn burst(seq: u32, at: u64, run: u64, per_second: u64, angle: u16) -> SegmentRecord {
    let edges = u32::try_from(run * per_second / 1_000 + 1).unwrap();
    SegmentRecord { angle: Some(RawAngle::new(angle)), ..segment(seq, 1, at, run, edges) }
}

fn look(segments: Vec<SegmentRecord>, events: Vec<EventFact>, said: Vec<EntryBody>) -> MachineHeavy {
    look_since(segments, events, said, None)
}

fn look_since(
    segments: Vec<SegmentRecord>,
    events: Vec<EventFact>,
    said: Vec<EntryBody>,
    since: Option<i64>,
) -> MachineHeavy {
    let mut all = vec![anchor(1, 1, 0, MONDAY_8, Host)];
    all.extend(events);
    let said = entries([machine(1), fitted(1, 0), marks()].into_iter().chain(said));
    let studio = Studio::of(&said);
    let logs = [LogRecords { events: all, segments, ..empty_log() }];
    let ledger = Ledger::of(&studio, &logs);
    let cards: Vec<&MachineCard> = studio.machines.iter().collect();
    let since = since.map(UtcMillis);
    heavy_report(&said, &studio, &ledger, &cards, since, UtcMillis(MONDAY_8), &TimeZone::UTC)
        .machines
        .remove(0)
}

fn find(machine: &MachineHeavy, looked_at: Looked) -> &Finding {
    machine.findings.iter().find(|finding| finding.looked_at == looked_at).unwrap()
}

fn judgement(machine: &MachineHeavy, looked_at: Looked) -> Judgement {
    find(machine, looked_at).judgement
}

/// Twelve cycles of so much running in ten minutes.
fn cycles(run_ms: u64) -> Vec<SegmentRecord> {
    (0..12).map(|cycle| burst(10 + cycle, u64::from(cycle) * 10 * MINUTE, run_ms, 12, 500)).collect()
}

#[test]
fn without_a_rating_the_factor_is_shown_and_not_judged() {
    let found = look(cycles(4 * MINUTE), vec![], vec![]);
    assert_eq!(found.duty.cyclic_duration_factor, Some(0.4));
    assert_eq!((found.duty.window_minutes, found.duty.rating.clone()), (10.0, None));
    assert_eq!(judgement(&found, Looked::DutyFactor), Judgement::NotJudged);
    assert!(!found.is_anything_too_much);
}

/// IEC 60034-1: 4 min of load in a cycle of 10 min are a cyclic duration factor of 40 %.
#[test]
fn a_rating_is_passed_only_above_it() {
    let at = look(cycles(4 * MINUTE), vec![], vec![rated("S3 40 %")]);
    assert_eq!(judgement(&at, Looked::DutyFactor), Judgement::Fine);
    let above = look(cycles(4 * MINUTE + 1), vec![], vec![rated("S3 40 %")]);
    let finding = find(&above, Looked::DutyFactor);
    assert_eq!((finding.judgement, finding.times, finding.limit), (Judgement::TooMuch, 12, Some(40.0)));
    assert_eq!(finding.when, Some(When::Dated(UtcMillis(MONDAY_8))));
    assert_eq!(finding.source, Source::DutyRating);
    assert!(above.is_anything_too_much && !finding.what_to_do.is_empty());
}

#[test]
fn a_rating_with_a_cycle_of_its_own_is_held_against_that_cycle() {
    // By hand: 10 min in 40 are 25 %; in 10 they are all of it.
    let runs: Vec<SegmentRecord> =
        (0..3).map(|cycle| burst(10 + cycle, u64::from(cycle) * 40 * MINUTE, 10 * MINUTE, 12, 500)).collect();
    let own = look(runs.clone(), vec![], vec![rated("S3 25 % 40 min")]);
    assert_eq!((own.duty.cyclic_duration_factor, own.duty.window_minutes), (Some(0.25), 40.0));
    assert_eq!(judgement(&own, Looked::DutyFactor), Judgement::Fine);
    let usual = look(runs, vec![], vec![rated("S3 25 %")]);
    assert_eq!(usual.duty.cyclic_duration_factor, Some(1.0));
    assert_eq!(judgement(&usual, Looked::DutyFactor), Judgement::TooMuch);
}

#[test]
fn a_short_time_rating_is_held_against_the_longest_stretch_and_a_continuous_one_asks_for_no_rest() {
    // Runs of 15 min with a pause of 30 s between: 30 min 30 s together; the pause limit is 30 s.
    let runs =
        vec![burst(10, 0, 15 * MINUTE, 12, 500), burst(11, 15 * MINUTE + 30_000, 15 * MINUTE, 12, 500)];
    for (rating, expected) in
        [("S2 30 min", Judgement::TooMuch), ("S2 31 min", Judgement::Fine), ("S1", Judgement::Fine)]
    {
        let found = look(runs.clone(), vec![], vec![rated(rating)]);
        assert_eq!(judgement(&found, Looked::DutyFactor), expected, "{rating}");
    }
    // The run of 15 min is over the start value of 10: a hint for a motor rated S1, too much by the maker's own limit.
    let rated_s1 = look(runs.clone(), vec![], vec![rated("S1")]);
    assert_eq!(find(&rated_s1, Looked::DutyFactor).limit, Some(100.0));
    assert_eq!(judgement(&rated_s1, Looked::LongestRun), Judgement::Hint);
    assert!(!rated_s1.is_anything_too_much && !find(&rated_s1, Looked::LongestRun).what_to_do.is_empty());
    let own = look(runs.clone(), vec![], vec![rated("S1"), limit(HeavyLimit::RunMinutes, 10_000)]);
    assert_eq!(judgement(&own, Looked::LongestRun), Judgement::TooMuch);
    let taken_back = vec![rated("S2 30 min"), EntryBody::DutyRated(DutyRated { machine: ONE, rating: None })];
    assert_eq!(judgement(&look(runs, vec![], taken_back), Looked::DutyFactor), Judgement::NotJudged);
}

#[test]
fn a_run_is_as_long_as_its_edges_and_a_stretch_goes_over_short_pauses() {
    let runs = |pause: u64| {
        vec![burst(10, 0, 6 * MINUTE, 12, 500), burst(11, 6 * MINUTE + pause, 8 * MINUTE, 12, 500)]
    };
    let short = look(runs(30_000), vec![], vec![limit(HeavyLimit::StretchMinutes, 14_000)]);
    assert_eq!(find(&short, Looked::LongestRun).found, Some(8.0));
    assert_eq!(find(&short, Looked::LongestStretch).found, Some(14.5));
    assert_eq!(judgement(&short, Looked::LongestStretch), Judgement::TooMuch);
    assert_eq!(find(&short, Looked::LongestStretch).source, Source::SetByYou);
    let long = look(runs(30_001), vec![], vec![]);
    assert_eq!(find(&long, Looked::LongestStretch).found, Some(8.0));
}

#[rstest::rstest]
#[case::below(599_999, Judgement::Fine, 0)]
#[case::at(600_000, Judgement::Fine, 0)]
#[case::above(600_001, Judgement::TooMuch, 1)]
fn the_longest_run_passes_its_limit_by_a_millisecond(
    #[case] run: u64,
    #[case] expected: Judgement,
    #[case] times: u64,
) {
    let found = look(vec![burst(10, 0, run, 12, 500)], vec![], vec![]);
    let finding = find(&found, Looked::LongestRun);
    assert_eq!((finding.judgement, finding.times), (expected, times));
    let off = look(vec![burst(10, 0, run, 12, 500)], vec![], vec![limit(HeavyLimit::RunMinutes, 0)]);
    assert_eq!(judgement(&off, Looked::LongestRun), Judgement::NotJudged);
}

#[rstest::rstest]
#[case::no_ceiling(None, 1_000, Judgement::NotJudged)]
#[case::at_the_ceiling(Some(80_000), 800, Judgement::Fine)]
#[case::above(Some(80_000), 801, Judgement::TooMuch)]
fn the_knob_is_held_against_the_accepted_ceiling(
    #[case] ceiling: Option<u32>,
    #[case] angle: u16,
    #[case] expected: Judgement,
) {
    let said: Vec<EntryBody> =
        ceiling.map(|percent| limit(HeavyLimit::KnobCeilingPercent, percent)).into_iter().collect();
    let found = look(vec![burst(10, 0, 3_001, 12, angle)], vec![], said.clone());
    let finding = find(&found, Looked::KnobAboveCeiling);
    assert_eq!(finding.judgement, expected);
    if expected == Judgement::TooMuch {
        assert_eq!((finding.run_time_above_ms, finding.found), (Some(3_001), Some(80.1)));
        let brief = look(vec![burst(10, 0, 3_000, 12, angle)], vec![], said);
        assert_eq!(
            judgement(&brief, Looked::KnobAboveCeiling),
            Judgement::Fine,
            "the lamp waits three seconds too"
        );
    }
}

#[test]
fn a_long_day_is_one_local_day() {
    // Monday from 8:00: 3 h, then from 13:00 2 h and a millisecond; Tuesday one hour. The limit is five hours.
    let hour = 60 * MINUTE;
    let runs = vec![
        burst(10, 0, 3 * hour, 12, 500),
        burst(11, 5 * hour, 2 * hour + 1, 12, 500),
        burst(12, 24 * hour, hour, 12, 500),
    ];
    let found = look(runs.clone(), vec![], vec![]);
    let finding = find(&found, Looked::LongDay);
    assert_eq!(
        (finding.judgement, finding.times, finding.day),
        (Judgement::TooMuch, 1, Some(date(2026, 3, 2)))
    );
    let tuesday = look_since(runs, vec![], vec![], Some(MONDAY_8 + 16 * 3_600_000));
    assert_eq!(tuesday.run_time_ms, hour);
    assert_eq!(judgement(&tuesday, Looked::LongDay), Judgement::Fine);
}

#[test]
fn very_slow_running_is_a_habit_only_from_two_hours_and_half_the_time_on() {
    let hour = 60 * MINUTE;
    let runs = |slow: u64, fast: u64| vec![burst(10, 0, slow, 5, 100), burst(11, 5 * hour, fast, 12, 500)];
    let slow = |runs| find(&look(runs, vec![], vec![]), Looked::SlowRunning).clone();
    assert_eq!(slow(runs(hour, hour - 1_000)).judgement, Judgement::CannotTellYet);
    let half = slow(runs(hour, hour));
    assert_eq!((half.judgement, half.found), (Judgement::Fine, Some(50.0)));
    let more = slow(runs(hour + 36_000, hour));
    assert_eq!((more.judgement, more.source), (Judgement::TooMuch, Source::CarbonBuildup));
}

#[test]
fn a_fallen_stroke_rate_is_the_verdict_of_slowing_and_a_hint_at_most() {
    let sag = |well: u32, last_rate: u64| {
        let dry_run = |place: u32, rate| burst(10 + place, u64::from(place) * 60 * MINUTE, 30_000, rate, 500);
        let runs = (0..well).map(|place| dry_run(place, 20)).chain([dry_run(well, last_rate)]);
        let care = vec![assigned(10, 10 + well, Owner::Care, Certainty::Explicit)];
        find(&look(runs.collect(), vec![], care), Looked::StrokeRateSag).clone()
    };
    // Five dry runs alike: the limit is exp(-5.951373 * 0.01 * sqrt(1.2)) = 0.937 of them; 17 of 20 are 15 % less.
    let fallen = sag(5, 17);
    assert_eq!((fallen.judgement, fallen.slowing), (Judgement::Hint, Some(Verdict::Slower)));
    assert!((fallen.found.unwrap() - 15.0).abs() < 1e-6 && fallen.limit.is_none(), "{fallen:?}");
    assert!(fallen.what_to_do.contains("oil the points"), "{fallen:?}");
    let fine = sag(5, 19);
    assert_eq!((fine.judgement, fine.found, fine.slowing), (Judgement::Fine, None, Some(Verdict::Fine)));
    let few = sag(4, 17);
    assert_eq!((few.judgement, few.slowing), (Judgement::CannotTellYet, Some(Verdict::CannotTell)));
}

#[test]
fn faults_of_sensors_are_counted_and_those_of_the_clock_are_not() {
    let fault =
        |seq, at, fault, present| event(seq, 1, at, LoggedEvent::Fault(FaultChange { fault, present }));
    let events = vec![
        fault(20, 5_000, Fault::MagnetMissing, true),
        fault(21, 6_000, Fault::MagnetMissing, false),
        fault(22, 7_000, Fault::MagnetMissing, true),
        fault(23, 8_000, Fault::ClockLost, true),
        fault(24, 9_000, Fault::KnobSilent, true),
        fault(25, 9_500, Fault::KnobSilent, false),
    ];
    let found = look(vec![burst(10, 0, 1_000, 12, 500)], events, vec![]);
    let finding = find(&found, Looked::SensorFaults);
    assert_eq!((finding.judgement, finding.times), (Judgement::TooMuch, 3));
    let seen: Vec<_> =
        finding.faults.iter().map(|seen| (seen.fault, seen.times, seen.is_still_there)).collect();
    assert_eq!(seen, [(Fault::MagnetMissing, 2, true), (Fault::KnobSilent, 1, false)]);
    assert_eq!(finding.faults[0].last, When::Dated(UtcMillis(MONDAY_8 + 7_000)));
    let none = look(vec![burst(10, 0, 1_000, 12, 500)], vec![], vec![]);
    assert_eq!(judgement(&none, Looked::SensorFaults), Judgement::Fine);
}

#[test]
fn a_machine_that_never_ran_cannot_be_told_anything_of() {
    let found = look(vec![], vec![], vec![rated("S3 25 %")]);
    for looked_at in [
        Looked::LongestRun,
        Looked::LongestStretch,
        Looked::DutyFactor,
        Looked::LongDay,
        Looked::KnobAboveCeiling,
    ] {
        assert_eq!(judgement(&found, looked_at), Judgement::CannotTellYet, "{looked_at:?}");
    }
    assert_eq!((found.run_time_ms, found.duty.cyclic_duration_factor), (0, None));
}

#[test]
fn a_pause_over_a_restart_is_known_only_from_two_dates() {
    // Boot 1 ends at 8:06; boot 2 starts at 8:10, dated or not: 12 min of running in 16, or two runs of six.
    let runs = vec![
        burst(10, 0, 6 * MINUTE, 12, 500),
        SegmentRecord { boot: shared_types::BootId(2), ..burst(12, 0, 6 * MINUTE, 12, 500) },
    ];
    let dated = vec![started(11, 2, 0, 0), anchor(13, 2, 0, MONDAY_8 + 600_000, Host)];
    let known = look(runs.clone(), dated, vec![limit(HeavyLimit::PauseSeconds, 240_000)]);
    assert_eq!(find(&known, Looked::LongestStretch).found, Some(16.0));
    let unknown = look(runs, vec![started(11, 2, 0, 0)], vec![limit(HeavyLimit::PauseSeconds, 240_000)]);
    assert_eq!(find(&unknown, Looked::LongestStretch).found, Some(6.0));
    assert_eq!(unknown.duty.cyclic_duration_factor, Some(0.6));
}

/// Steady bursts that begin and end with whole periods, and the same ones cut in two where an edge fell.
fn whole_and_cut() -> impl Strategy<Value = (Vec<SegmentRecord>, Vec<SegmentRecord>)> {
    let one = (1_u64..90_000, 2_u64..400, 0_u16..1000, 0.0_f64..1.0);
    prop::collection::vec(one, 1..25).prop_map(|parts| {
        let (mut at, mut whole, mut cut) = (0, Vec::new(), Vec::new());
        for (index, (pause, periods, angle, share)) in (0_u32..).zip(parts) {
            at += pause;
            // A period of 80 ms is 12.5 strokes a second.
            let (run, first) = (periods * 80, 1 + (share * (periods - 1) as f64).floor() as u64);
            let piece = |seq, at, periods: u64, continues| SegmentRecord {
                angle: Some(RawAngle::new(angle)),
                continues,
                ..segment(seq, 1, at, periods * 80, u32::try_from(periods + u64::from(!continues)).unwrap())
            };
            whole.push(piece(10 + 2 * index, at, periods, false));
            cut.push(piece(10 + 2 * index, at, first, false));
            if first < periods {
                cut.push(piece(11 + 2 * index, at + first * 80, periods - first, true));
            }
            at += run;
        }
        (whole, cut)
    })
}

proptest! {
    #[test]
    fn splitting_a_burst_changes_nothing((whole, cut) in whole_and_cut()) {
        let said = vec![rated("S3 25 %"), limit(HeavyLimit::KnobCeilingPercent, 50_000)];
        let (whole, cut) = (look(whole, vec![], said.clone()), look(cut, vec![], said));
        prop_assert_eq!(whole, cut);
    }

    #[test]
    fn the_factor_is_a_share((whole, _) in whole_and_cut(), window in 1_u32..60) {
        let found = look(whole, vec![], vec![limit(HeavyLimit::WindowMinutes, window * 1_000)]);
        let factor = found.duty.cyclic_duration_factor.unwrap();
        prop_assert!((0.0..=1.0).contains(&factor));
    }
}
