#![allow(clippy::unwrap_used, reason = "a test may stop at the first surprise")]
use super::*;
use crate::core::entries::EntryId;
use crate::core::knob::place;
use proptest::prelude::*;
use shared_types::UtcMillis;

const ONE: MachineTag = MachineTag(1);

fn said(bodies: Vec<EntryBody>) -> Vec<Entry> {
    let entry = |(id, body)| Entry { id: EntryId(id), entered_at: UtcMillis(0), body };
    (1..).zip(bodies).map(entry).collect()
}

fn by_heavy(thousandths: u32) -> EntryBody {
    EntryBody::HeavyLimitSet(HeavyLimitSet {
        machine: ONE,
        limit: HeavyLimit::KnobCeilingPercent,
        thousandths,
    })
}

fn by_cloth(knob_per_mille: Option<u16>) -> EntryBody {
    EntryBody::CeilingSet(CeilingSet { machine: ONE, knob_per_mille, was_proposed: true })
}

#[test]
fn there_is_one_ceiling_whichever_command_said_it_last() {
    let last = |bodies| ceiling_said(&said(bodies), ONE);
    assert_eq!(last(vec![]), None);
    assert_eq!(last(vec![by_heavy(80_000), by_cloth(Some(600))]), Some(CeilingSaid::At(600)));
    assert_eq!(last(vec![by_cloth(Some(600)), by_heavy(80_000)]), Some(CeilingSaid::At(800)));
    assert_eq!(last(vec![by_heavy(80_000), by_cloth(None)]), Some(CeilingSaid::Off));
    let withdrawn = EntryBody::Withdrawn { entry: EntryId(2), reason: "no".to_owned() };
    assert_eq!(last(vec![by_heavy(80_000), by_cloth(None), withdrawn]), Some(CeilingSaid::At(800)));
    assert_eq!(ceiling_said(&said(vec![by_heavy(80_000)]), MachineTag(2)), None);
}

#[test]
fn nothing_lies_above_the_end_of_the_travel() {
    let marks = KnobMarks { machine: ONE, slow: RawAngle::new(0), fast: RawAngle::new(1000), rising: true };
    assert_eq!(arc_above(&marks, 1_000), None);
    // By hand: 600 of 1000 steps is 60 %; 601 is the first above it; half of the 3096 steps beyond are 1548.
    let arc = arc_above(&marks, 600).unwrap();
    assert_eq!((arc.from.steps(), arc.to.steps()), (601, 2548));
}

proptest! {
    #[test]
    fn the_lamp_and_the_report_call_the_same_angles_too_fast(
        slow in 0_u16..4096, fast in 0_u16..4096, rising: bool, ceiling in 0_u32..1000,
    ) {
        prop_assume!(slow != fast);
        let marks = KnobMarks { machine: ONE, slow: RawAngle::new(slow), fast: RawAngle::new(fast), rising };
        let arc = arc_above(&marks, ceiling).unwrap();
        // The arc runs upwards from its first angle to its last, over the wrap: the contract's words.
        let up = |to: u16| (u32::from(to) + 4096 - u32::from(arc.from.steps())) % 4096;
        for angle in 0..4096_u16 {
            let too_fast = u32::from(place(&marks, RawAngle::new(angle)).unwrap().per_mille.get()) > ceiling;
            prop_assert_eq!(up(angle) <= up(arc.to.steps()), too_fast, "angle {}, arc {:?}", angle, arc);
        }
    }
}
