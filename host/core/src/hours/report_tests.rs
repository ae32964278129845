use jiff::civil::date;
use jiff::tz::TimeZone;
use proptest::prelude::*;
use shared_types::log::ClockSource::Host;
use shared_types::{BootId, Edges, MachineTag, RunMillis, Totals, UtcMillis};

use super::{Entered, HoursReport, MachineHours};
use crate::entries::WorkChange::{Finished, Paused, Started};
use crate::entries::{Certainty, EdgeRatio, EntryBody, HandHours, Owner, RugName};
use crate::records::log_records::LogRecords;
use crate::sessions::ledger::Ledger;
use crate::studio::Studio;
use crate::test_facts::{
    HOUR, MINUTE, MONDAY_8, anchor, assigned, empty_log, entries, fitted, machine, rug, segment, started,
    work,
};

fn report(logs: &[LogRecords], said: Vec<EntryBody>) -> HoursReport {
    let studio = Studio::of(&entries(said));
    HoursReport::of(&studio, &Ledger::of(&studio, logs), &TimeZone::UTC)
}

fn totals(run: u64, edges: u64) -> Totals {
    Totals { run: RunMillis(run), edges: Edges(edges) }
}

/// The equation that must hold for every machine; returns total run time and edges.
fn parts_make_the_total(hours: &MachineHours) -> (u64, u64) {
    let sums = hours.rugs.iter().flat_map(|rug| [rug.assumed, rug.confirmed]).chain([
        hours.care,
        hours.unassigned,
        hours.undated,
    ]);
    let (run, edges) = sums.fold((0, 0), |(run, edges), sum| (run + sum.run_time_ms, edges + sum.edges));
    assert_eq!(hours.total.run_time_ms, run + hours.not_recorded.run_time_ms);
    assert_eq!(hours.total.edges, edges + hours.not_recorded.edges);
    (hours.total.run_time_ms, hours.total.edges)
}

#[test]
fn a_small_studio_adds_up_as_computed_by_hand() {
    // Monday at eight: 60 s for Fox; at 08:20 30 s for Fox, said to be care; at 09:00 100 s for nobody.
    // The logger counted 200 s and 2,500 edges; the records hold 190 s and 2,300.
    let log = LogRecords {
        events: vec![anchor(1, 1, 0, MONDAY_8, Host)],
        segments: vec![
            segment(10, 1, 0, 60_000, 721),
            segment(20, 1, 1_200_000, 30_000, 361),
            segment(30, 1, 3_600_000, 100_000, 1_218),
        ],
        formatted_with: totals(1_000, 50),
        last_totals: totals(201_000, 2_550),
        ..empty_log()
    };
    let hours = report(
        &[log],
        vec![
            machine(1),
            fitted(1, 0),
            EntryBody::EdgeRatioSet(EdgeRatio { machine: MachineTag(1), edges: 2, strokes: 1 }),
            rug("Fox"),
            work("Fox", None, Started, MONDAY_8),
            work("Fox", None, Paused, MONDAY_8 + 30 * MINUTE),
            assigned(20, 20, Owner::Care, Certainty::Explicit),
        ],
    );
    let machine = &hours.machines[0];
    assert_eq!(machine.rugs.len(), 1);
    assert_eq!((machine.rugs[0].assumed.run_time_ms, machine.rugs[0].assumed.edges), (60_000, 721));
    assert_eq!(machine.rugs[0].assumed.strokes, 360, "two edges make a stroke; the odd one does not count");
    assert_eq!((machine.rugs[0].assumed.sessions, machine.rugs[0].assumed.bursts), (1, 1));
    assert_eq!(machine.rugs[0].first_day, Some(date(2026, 3, 2)));
    assert_eq!((machine.care.run_time_ms, machine.unassigned.run_time_ms), (30_000, 100_000));
    assert_eq!((machine.not_recorded.run_time_ms, machine.not_recorded.edges), (10_000, 200));
    assert_eq!(
        (machine.total.run_time_ms, machine.total.edges, machine.total.strokes),
        (200_000, 2_500, 1_250)
    );
    assert_eq!(machine.total.sessions, 3, "the stops are 19 and 39.5 minutes long");
    parts_make_the_total(machine);
    assert_eq!(hours.no_machine, None);
}

#[test]
fn confirmed_hours_stand_apart_from_assumed_ones() {
    let log = LogRecords {
        events: vec![anchor(1, 1, 0, MONDAY_8, Host)],
        segments: vec![segment(10, 1, 0, 60_000, 700), segment(20, 1, 100_000, 40_000, 500)],
        last_totals: totals(100_000, 1_200),
        ..empty_log()
    };
    let fox = Owner::Rug(RugName("Fox".to_owned()));
    let hours = report(
        &[log],
        vec![
            machine(1),
            fitted(1, 0),
            rug("Fox"),
            work("Fox", None, Started, MONDAY_8),
            assigned(20, 20, fox, Certainty::Confirmed),
        ],
    );
    let rug = &hours.machines[0].rugs[0];
    assert_eq!(
        (rug.assumed.run_time_ms, rug.confirmed.run_time_ms, rug.total.run_time_ms),
        (60_000, 40_000, 100_000)
    );
    assert_eq!(rug.total.sessions, 1, "one session holds both");
}

#[test]
fn hours_of_a_logger_on_no_machine_are_shown_under_no_machine() {
    let log = LogRecords {
        segments: vec![segment(10, 1, 0, 60_000, 700)],
        last_totals: totals(60_000, 700),
        ..empty_log()
    };
    let hours = report(&[log], vec![machine(1)]);
    assert_eq!(hours.machines[0].total.run_time_ms, 0);
    assert_eq!(hours.no_machine.unwrap().total.run_time_ms, 60_000);
}

#[test]
fn a_machine_that_was_never_entered_still_shows_its_hours() {
    let log = LogRecords {
        segments: vec![segment(10, 1, 0, 60_000, 700)],
        last_totals: totals(60_000, 700),
        ..empty_log()
    };
    let hours = report(&[log], vec![fitted(7, 0)]);
    assert_eq!((hours.machines[0].machine, hours.machines[0].name.clone()), (Some(7), None));
    assert_eq!(hours.machines[0].total.run_time_ms, 60_000);
}

#[test]
fn more_records_than_the_logger_ever_counted_take_nothing_away_and_are_flagged() {
    let log = LogRecords {
        segments: vec![segment(10, 1, 0, 60_000, 700)],
        last_totals: totals(50_000, 900),
        ..empty_log()
    };
    let machine = &report(&[log], vec![machine(1), fitted(1, 0)]).machines[0];
    assert!(machine.not_recorded.records_exceed_totals);
    assert_eq!((machine.not_recorded.run_time_ms, machine.not_recorded.edges), (0, 200));
    assert_eq!((machine.total.run_time_ms, machine.total.edges), (60_000, 900));
}

#[test]
fn a_loss_is_placed_on_the_machine_on_which_the_logger_sat_when_it_happened() {
    // On machine 1 (records 0 to 29) 50 s are held of 58 s; from the start at record 30 on, on machine 2, 20 of 21 s.
    let log = LogRecords {
        segments: vec![segment(10, 1, 0, 50_000, 500), segment(40, 2, 0, 20_000, 200)],
        events: vec![started(5, 1, 0, 0), started(30, 2, 58_000, 580)],
        last_totals: totals(79_000, 790),
        ..empty_log()
    };
    let hours = report(&[log], vec![machine(1), machine(2), fitted(1, 0), fitted(2, 30)]);
    let lost: Vec<_> = hours.machines.iter().map(|machine| machine.not_recorded.run_time_ms).collect();
    assert_eq!(lost, [8_000, 1_000]);
    assert_eq!(hours.machines.iter().map(|machine| machine.total.edges).collect::<Vec<_>>(), [580, 210]);
}

#[test]
fn typed_in_sessions_are_in_the_total_and_stand_beside_the_counted_ones() {
    let hand = |rug: Option<&str>, run: Option<u64>, tufting_ms| {
        EntryBody::HandHours(HandHours {
            machine: MachineTag(1),
            rug: rug.map(|name| RugName(name.to_owned())),
            at: UtcMillis(MONDAY_8),
            run: run.map(RunMillis),
            tufting_ms,
            knob_per_mille: None,
        })
    };
    let said = vec![
        machine(1),
        rug("Fox"),
        hand(Some("fox"), Some(90_000), None),
        hand(Some("Fox"), None, Some(120_000)),
        hand(None, Some(5_000), Some(6_000)),
    ];
    let machine = &report(&[], said).machines[0];
    // Two minutes at the frame alone: the motor ran for 27 of 60 minutes, as is taken until anybody says otherwise: 54 s.
    assert_eq!((machine.total.run_time_ms, machine.counted_run_time_ms()), (149_000, 0));
    let fox = &machine.rugs[0];
    let entered =
        Entered { run_time_ms: 144_000, frame_time_ms: 210_000, sessions: 2, strokes: None, about: true };
    assert_eq!((fox.entered, fox.total.run_time_ms, fox.total.sessions), (entered, 144_000, 2));
    assert_eq!((machine.entered_unassigned.run_time_ms, machine.entered_unassigned.about), (5_000, false));
    let sums: Vec<_> = machine
        .by_hand
        .iter()
        .map(|sum| (sum.rug.as_deref(), sum.run_time_ms, sum.tufting_time_ms))
        .collect();
    assert_eq!(sums, [(Some("Fox"), 144_000, 120_000), (None, 5_000, 6_000)]);
}

#[test]
fn the_report_names_its_units_and_writes_days_as_text() {
    let log = LogRecords {
        events: vec![anchor(1, 1, 0, MONDAY_8, Host)],
        segments: vec![segment(10, 1, 0, 60_000, 700)],
        last_totals: totals(60_000, 700),
        ..empty_log()
    };
    let said = vec![machine(1), fitted(1, 0), rug("Fox"), work("Fox", None, Started, MONDAY_8)];
    let value = serde_json::to_value(report(&[log], said)).unwrap();
    assert_eq!(value["machines"][0]["rugs"][0]["first_day"], "2026-03-02");
    assert_eq!(value["machines"][0]["rugs"][0]["total"]["run_time_ms"], 60_000);
    assert!(value["machines"][0]["before_logger_run_time_ms"].is_null());
}

fn any_said() -> impl Strategy<Value = EntryBody> {
    let name = || prop_oneof![Just("Fox"), Just("Bear"), Just("Owl")];
    let owner = prop_oneof![
        name().prop_map(|name| Owner::Rug(RugName(name.to_owned()))),
        Just(Owner::Care),
        Just(Owner::Nobody),
    ];
    let change = prop_oneof![Just(Started), Just(Paused), Just(Finished)];
    let certainty = prop_oneof![Just(Certainty::Explicit), Just(Certainty::Confirmed)];
    prop_oneof![
        (0u32..4, 0u32..300).prop_map(|(tag, from)| fitted(tag, from)),
        (1u32..4).prop_map(machine),
        name().prop_map(rug),
        (name(), prop::option::of(1u32..4), change, 0i64..200).prop_map(|(name, on, change, hour)| work(
            name,
            on,
            change,
            MONDAY_8 + hour * HOUR
        )),
        (0u32..300, 0u32..300, owner, certainty)
            .prop_map(|(from, to, owner, certainty)| assigned(from, to, owner, certainty)),
        (1u32..4, 1u32..6, 1u32..6).prop_map(|(tag, edges, strokes)| EntryBody::EdgeRatioSet(EdgeRatio {
            machine: MachineTag(tag),
            edges,
            strokes
        })),
    ]
}

prop_compose! {
    /// A log whose records come in any sizes, some dated, some lost.
    fn any_log()(
        pieces in prop::collection::vec((0u64..3_000_000, 0u64..20_000, 0u32..300, any::<bool>(), 0u8..10), 0..40),
        lost in (0u64..100_000, 0u64..1_000),
        before in (0u64..1_000_000, 0u64..1_000_000),
    ) -> (LogRecords, u64, u64) {
        let mut log = LogRecords { formatted_with: totals(before.0, before.1), ..empty_log() };
        let (mut seq, mut boot, mut at) = (0, 1, 0);
        let (mut run, mut edges) = (0, 0);
        for (gap, length, count, continues, dice) in pieces {
            seq += 5;
            match dice {
                0 => { boot += 1; at = 0; log.events.push(started(seq, boot, before.0 + run, before.1 + edges)); }
                1 => log.events.push(anchor(seq, boot, at, MONDAY_8 + i64::from(boot) * 9 * HOUR + at.cast_signed(), Host)),
                _ => {
                    at += if continues { 0 } else { gap };
                    let mut next = segment(seq, boot, at, length, count);
                    next.continues = continues;
                    next.boot = BootId(boot);
                    at += length;
                    run += length;
                    edges += u64::from(count);
                    log.segments.push(next);
                }
            }
        }
        log.last_totals = totals(before.0 + run + lost.0, before.1 + edges + lost.1);
        (log, run + lost.0, edges + lost.1)
    }
}

proptest! {
    #[test]
    fn every_machine_adds_up_and_all_machines_hold_what_the_logger_counted(
        (log, run, edges) in any_log(),
        said in prop::collection::vec(any_said(), 0..25),
    ) {
        let hours = report(&[log], said);
        let sums: Vec<_> = hours.all().map(parts_make_the_total).collect();
        prop_assert_eq!(sums.iter().map(|sum| sum.0).sum::<u64>(), run);
        prop_assert_eq!(sums.iter().map(|sum| sum.1).sum::<u64>(), edges);
    }
}
