use heapless::Vec;
use proptest::collection::vec;
use proptest::option;
use proptest::prelude::*;
use shared_types::limits::TRACE_STEPS;
use shared_types::log::{
    Anchor, Ceiling, ClockSource, Fault, FaultChange, FirmwareVersion, Limits, Settings, StartReason,
    Started, Trace, TraceStep,
};
use shared_types::{Edges, MachineTag, RawAngle, Totals, UtcMillis};

use super::super::entry::{Shape, check_size, shape};
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
        1 => (prop::sample::select(Fault::ALL.to_vec()), any::<bool>())
            .prop_map(|(fault, present)| Event::Fault(FaultChange { fault, present })),
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
        let mut base = DeltaBase::at_head(BootId(1), UptimeMillis(0));
        for record in records {
            let mut entry = [0; MAX_ENTRY];
            let used = pack(&record, &base, &mut entry).unwrap();
            prop_assert_eq!(shape(&entry), Shape::Entry(used + check_size(entry[0])));
            prop_assert_eq!(unpack(&entry[..used], &base), Some(Packed::Record(record.clone())));
            base = base.after(&record);
        }
    }

    #[test]
    fn no_bytes_make_unpacking_panic(bytes in vec(any::<u8>(), 0..MAX_ENTRY), boot in any::<u32>(), at in any::<u64>()) {
        let base = DeltaBase::at_head(BootId(boot), UptimeMillis(at));
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

fn size(record: &Record, base: &DeltaBase) -> usize {
    let mut entry = [0; MAX_ENTRY];
    let used = pack(record, base, &mut entry).unwrap();
    used + check_size(entry[0])
}

#[test]
fn an_ordinary_burst_takes_six_bytes_and_eight_after_a_knob_turn() {
    // By hand: head 1, check 1; gap of 4 s 14 bits, run of 6.1 s 14, edges 1 off the expected 4: 32 bits, 6 bytes in all.
    // With the knob turned, 12 bits for the angle and room for the edges: 14 + 14 + 8 + 12 = 48 bits, 8 bytes.
    let base = DeltaBase::at_head(BootId(1), UptimeMillis(0)).after(&segment(1_000, 6_000, 97, 700));
    assert_eq!(size(&segment(11_000, 6_100, 99, 700), &base), 6);
    assert_eq!(size(&segment(11_000, 6_100, 99, 1_760), &base), 8);
}

#[test]
fn a_segment_closed_by_time_takes_five_bytes_and_three_to_four_when_it_goes_on() {
    // By hand: head 1, check 1; gap 14 bits, run beyond 9.8 s 6, edges 4: 24 bits. Going on: 6 + 2 bits or 6 + 10.
    let base = DeltaBase::at_head(BootId(1), UptimeMillis(0)).after(&segment(1_000, 6_000, 97, 700));
    assert_eq!(size(&segment(11_000, 9_830, 158, 700), &base), 5);
    let goes_on = |edges| {
        let segment =
            Segment { run: RunMillis(9_830), edges, angle: Some(RawAngle::new(700)), continues: true };
        Record { boot: BootId(1), at: base.end, event: Event::Segment(segment) }
    };
    // 16 strokes a second: 157.28 in 9.83 s.
    assert_eq!(size(&goes_on(158), &base), 3);
    assert_eq!(size(&goes_on(161), &base), 4);
}

#[test]
fn an_ordinary_trace_takes_sixteen_bytes() {
    let base = DeltaBase::at_head(BootId(1), UptimeMillis(0)).after(&segment(1_000, 10_000, 161, 700));
    let steps = [8, 8, 9, 8, 7, 8, 8, 8, 9, 8, 8, 7, 8, 8, 8, 9, 8, 8, 8, 5]
        .map(|edges| TraceStep { edges, angle: Some(RawAngle::new(700)) });
    let trace = Trace { newest_ms: 310, steps: Vec::from_slice(&steps).unwrap() };
    let press = Press { kind: PressKind::Tear, still_ms: 2_500, trace };
    let record = Record { boot: BootId(1), at: UptimeMillis(13_500), event: Event::Press(press) };
    // By hand: moment 6 + 12 bits, still 1, newest 6 + 9, full 1, edges 4 + 14 of 1 + 3 of 3 + 2 of 2 + 1 of 6 bits, angles
    // 4 + 20: 96 bits, 12 bytes; head 2, check 2.
    assert_eq!(size(&record, &base), 16);
}
