#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    clippy::cast_possible_truncation,
    reason = "a test may stop at the first surprise"
)]
use heapless::Vec;
use proptest::collection::vec;
use proptest::option;
use proptest::prelude::*;
use shared_types::log::{
    Anchor, Ceiling, ClockSource, Fault, FaultChange, FirmwareVersion, Limits, Settings, StartReason,
    Started, TraceStep,
};
use shared_types::{Edges, MachineTag, Totals, UtcMillis};

use super::super::entry::{CHECK_SIZE, Shape, shape};
use super::*;

fn any_angle() -> impl Strategy<Value = RawAngle> {
    any::<u16>().prop_map(RawAngle::new)
}

fn any_trace() -> impl Strategy<Value = Trace> {
    let step = (
        prop_oneof![0..30_u16, any::<u16>()],
        option::of(prop_oneof![Just(RawAngle::new(700)), any_angle()]),
    )
        .prop_map(|(edges, angle)| TraceStep { edges, angle });
    (any::<u16>(), vec(step, 0..=TRACE_STEPS))
        .prop_map(|(newest_ms, steps)| Trace { newest_ms, steps: Vec::from_slice(&steps).unwrap() })
}

fn any_totals() -> impl Strategy<Value = Totals> {
    (any::<u64>(), any::<u64>()).prop_map(|(run, edges)| Totals { run: RunMillis(run), edges: Edges(edges) })
}

fn any_settings() -> impl Strategy<Value = Settings> {
    let run = || option::of(any::<u64>().prop_map(RunMillis));
    let ceiling = option::of((any_angle(), any_angle()).prop_map(|(from, to)| Ceiling { from, to }));
    (any::<u32>(), any::<u16>(), run(), run(), run(), run(), ceiling).prop_map(
        |(machine, knob_step, look_at, stop_at, retension_at, retension_every, ceiling)| Settings {
            machine: MachineTag(machine),
            knob_step,
            limits: Limits { look_at, stop_at, retension_at, retension_every, ceiling },
        },
    )
}

fn any_event() -> impl Strategy<Value = Event> {
    let press_kind = prop::sample::select(std::vec![
        PressKind::NearMiss,
        PressKind::Tear,
        PressKind::CareDone,
        PressKind::Retension
    ]);
    let number = || prop_oneof![0..200_u64, 0..40_000_u64, any::<u64>()];
    prop_oneof![
        4 => (number(), prop_oneof![0..600_u32, any::<u32>()], option::of(any_angle()), any::<bool>()).prop_map(
            |(run, edges, angle, continues)| Event::Segment(Segment { run: RunMillis(run), edges, angle, continues })
        ),
        2 => (press_kind, any::<u32>(), any_trace())
            .prop_map(|(kind, still_ms, trace)| Event::Press(Press { kind, still_ms, trace })),
        1 => any_trace().prop_map(Event::Control),
        1 => (any::<u32>(), any::<[u8; 3]>(), any_totals()).prop_map(|(place, [major, minor, patch], totals)| {
            let firmware = FirmwareVersion { major, minor, patch };
            Event::Started(Started { reason: StartReason::Panic { place }, firmware, totals })
        }),
        1 => any::<i64>()
            .prop_map(|utc| Event::Anchor(Anchor { utc: UtcMillis(utc), source: ClockSource::Host })),
        1 => any_settings().prop_map(Event::Settings),
        1 => any::<bool>()
            .prop_map(|present| Event::Fault(FaultChange { fault: Fault::FlashWrite, present })),
        1 => any::<u32>().prop_map(|tag| Event::Fitted(MachineTag(tag))),
    ]
}

/// Steps forward mostly, backward and to other boots at times.
fn any_records() -> impl Strategy<Value = std::vec::Vec<Record>> {
    let step = (
        prop_oneof![8 => Just(1_u32), 1 => any::<u32>()],
        prop_oneof![0..9_000_u64, any::<u64>()],
        any_event(),
    );
    vec(step, 1..40).prop_map(|steps| {
        let mut at = 0_u64;
        steps
            .into_iter()
            .map(|(boot, ahead, event)| {
                at = at.wrapping_add(ahead);
                Record { boot: BootId(boot), at: UptimeMillis(at), event }
            })
            .collect()
    })
}

proptest! {
    #[test]
    fn every_record_comes_back_as_it_was(records in any_records()) {
        let mut base = Base::at_head(BootId(1), UptimeMillis(0));
        for record in records {
            let mut entry = [0; MAX_ENTRY];
            let used = pack(&record, &base, &mut entry).unwrap();
            prop_assert_eq!(shape(&entry), Shape::Entry(used + CHECK_SIZE));
            prop_assert_eq!(unpack(&entry[..used], &base), Some(Packed::Record(record.clone())));
            base = base.after(&record);
        }
    }

    #[test]
    fn no_bytes_make_unpacking_panic(bytes in vec(any::<u8>(), 0..MAX_ENTRY), boot in any::<u32>(), at in any::<u64>()) {
        let base = Base::at_head(BootId(boot), UptimeMillis(at));
        if let Some(Packed::Record(record)) = unpack(&bytes, &base) {
            let mut entry = [0; MAX_ENTRY];
            prop_assert!(pack(&record, &base, &mut entry).is_some());
        }
    }
}

fn segment(at: u64, run: u64, edges: u32, angle: u16) -> Record {
    let angle = Some(RawAngle::new(angle));
    let segment = Segment { run: RunMillis(run), edges, angle, continues: false };
    Record { boot: BootId(1), at: UptimeMillis(at), event: Event::Segment(segment) }
}

#[test]
fn an_ordinary_burst_takes_nine_bytes_and_ten_after_a_small_knob_turn() {
    // By hand: head 1, gap of 4 s 2, run of 6 s 2, edges within 63 of the expected 1, knob still 0, check 3: 9 bytes.
    // With the knob moved by less than 64 steps: 1 more for the angle.
    let base = Base::at_head(BootId(1), UptimeMillis(0)).after(&segment(1_000, 6_000, 97, 700));
    let mut entry = [0; MAX_ENTRY];
    assert_eq!(pack(&segment(11_000, 6_100, 99, 700), &base, &mut entry).unwrap() + CHECK_SIZE, 9);
    assert_eq!(pack(&segment(11_000, 6_100, 99, 760), &base, &mut entry).unwrap() + CHECK_SIZE, 10);
}

#[test]
fn an_ordinary_trace_takes_twenty_four_bytes() {
    let base = Base::at_head(BootId(1), UptimeMillis(0)).after(&segment(1_000, 10_000, 161, 700));
    let steps = [8, 8, 9, 8, 7, 8, 8, 8, 9, 8, 8, 7, 8, 8, 8, 9, 8, 8, 8, 5]
        .map(|edges| TraceStep { edges, angle: Some(RawAngle::new(700)) });
    let trace = Trace { newest_ms: 310, steps: Vec::from_slice(&steps).unwrap() };
    let press = Press { kind: PressKind::Tear, still_ms: 2_500, trace };
    let record = Record { boot: BootId(1), at: UptimeMillis(13_500), event: Event::Press(press) };
    let mut entry = [0; MAX_ENTRY];
    // By hand: head 2, moment 2, still 1, newest 2, count 1, changes 3, halves 10, check 3: 24 bytes.
    assert_eq!(pack(&record, &base, &mut entry).unwrap() + CHECK_SIZE, 24);
}
