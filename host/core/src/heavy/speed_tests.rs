use super::*;
use crate::entries::EntryId;
use crate::test_facts::entries;

const ONE: MachineTag = MachineTag(1);

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
    let last = |bodies| ceiling_said(&entries(bodies), ONE);
    assert_eq!(last(vec![]), None);
    assert_eq!(last(vec![by_heavy(80_000), by_cloth(Some(600))]), Some(CeilingSaid::At(600)));
    assert_eq!(last(vec![by_cloth(Some(600)), by_heavy(80_000)]), Some(CeilingSaid::At(800)));
    assert_eq!(last(vec![by_heavy(80_000), by_cloth(None)]), Some(CeilingSaid::Off));
    let withdrawn = EntryBody::Withdrawn { entry: EntryId(2), reason: "no".to_owned() };
    assert_eq!(last(vec![by_heavy(80_000), by_cloth(None), withdrawn]), Some(CeilingSaid::At(800)));
    assert_eq!(ceiling_said(&entries(vec![by_heavy(80_000)]), MachineTag(2)), None);
}
