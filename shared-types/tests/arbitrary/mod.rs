//! Any record there can be, for property tests.

use proptest::prelude::*;
use shared_types::log::{
    Anchor, Ceiling, ClockSource, Event, Fault, FaultChange, FirmwareVersion, Limits, Press, PressKind,
    Record, Segment, Settings, StartReason, Started, Trace, TraceStep,
};
use shared_types::{BootId, Edges, MachineTag, RawAngle, RunMillis, Totals, UptimeMillis, UtcMillis};

fn angle() -> impl Strategy<Value = Option<RawAngle>> {
    proptest::option::of(any::<u16>().prop_map(RawAngle::new))
}

pub fn any_trace() -> impl Strategy<Value = Trace> {
    let step = (any::<u16>(), angle()).prop_map(|(edges, angle)| TraceStep { edges, angle });
    (any::<u16>(), proptest::collection::vec(step, 0..=20))
        .prop_map(|(newest_ms, steps)| Trace { newest_ms, steps: steps.into_iter().collect() })
}

fn started() -> impl Strategy<Value = Event> {
    let reason = prop_oneof![
        Just(StartReason::PowerOn),
        Just(StartReason::Watchdog),
        any::<u32>().prop_map(|place| StartReason::Panic { place }),
        Just(StartReason::Requested),
    ];
    (reason, any::<[u8; 3]>(), any::<u64>(), any::<u64>()).prop_map(
        |(reason, [major, minor, patch], run, edges)| {
            Event::Started(Started {
                reason,
                firmware: FirmwareVersion { major, minor, patch },
                totals: Totals { run: RunMillis(run), edges: Edges(edges) },
            })
        },
    )
}

fn settings() -> impl Strategy<Value = Event> {
    let run = || proptest::option::of(any::<u64>().prop_map(RunMillis));
    let ceiling = proptest::option::of(
        any::<[u16; 2]>().prop_map(|[from, to]| Ceiling { from: RawAngle::new(from), to: RawAngle::new(to) }),
    );
    (any::<u32>(), any::<u16>(), run(), run(), run(), run(), ceiling).prop_map(
        |(machine, knob_step, look_at, stop_at, retension_at, retension_every, ceiling)| {
            let limits = Limits { look_at, stop_at, retension_at, retension_every, ceiling };
            Event::Settings(Settings { machine: MachineTag(machine), knob_step, limits })
        },
    )
}

fn fault() -> impl Strategy<Value = Fault> {
    proptest::sample::select(Fault::ALL.to_vec())
}

pub fn any_event() -> impl Strategy<Value = Event> {
    let segment =
        (any::<u64>(), any::<u32>(), angle(), any::<bool>()).prop_map(|(run, edges, angle, continues)| {
            Event::Segment(Segment { run: RunMillis(run), edges, angle, continues })
        });
    let kind = prop_oneof![
        Just(PressKind::NearMiss),
        Just(PressKind::Tear),
        Just(PressKind::CareDone),
        Just(PressKind::Retension)
    ];
    let press = (kind, any::<u32>(), any_trace())
        .prop_map(|(kind, still_ms, trace)| Event::Press(Press { kind, still_ms, trace }));
    let anchor = (any::<i64>(), any::<bool>()).prop_map(|(utc, chip)| {
        let source = if chip { ClockSource::ClockChip } else { ClockSource::Host };
        Event::Anchor(Anchor { utc: UtcMillis(utc), source })
    });
    prop_oneof![
        started(),
        segment,
        press,
        any_trace().prop_map(Event::Control),
        anchor,
        settings(),
        (fault(), any::<bool>()).prop_map(|(fault, present)| Event::Fault(FaultChange { fault, present })),
        any::<u32>().prop_map(|machine| Event::Fitted(MachineTag(machine))),
    ]
}

pub fn any_record() -> impl Strategy<Value = Record> {
    (any::<u32>(), any::<u64>(), any_event()).prop_map(|(boot, at, event)| Record {
        boot: BootId(boot),
        at: UptimeMillis(at),
        event,
    })
}
