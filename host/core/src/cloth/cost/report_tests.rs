use super::*;
use crate::cloth::exposure_sequence::{Hurt, Ran};
use crate::entries::amount::Money;
use crate::entries::{Drive, Entry, EntryId, Harm, InForce, Pile, TearCosts};
use shared_types::{MachineTag, UtcMillis};

const HOUR: u64 = 3_600_000;
const COSTS: Costs = Costs { tear: 60.0, hour: 20.0 };

fn card() -> MachineCard {
    MachineCard {
        tag: MachineTag(1),
        name: "Rosie".to_owned(),
        pile: Pile::Cut,
        drive: Drive::Electric,
        before_logger: None,
        since: UtcMillis(0),
        has_logger: None,
        is_second_hand: false,
        resting: None,
        marks: None,
        ratio: StrokeRatio::ONE,
    }
}

/// A rug of a lot: two hours at 30 % with 8 strokes a second, two at 80 % with 16, and tears.
fn rug(rug: usize, lot: usize, slow_tears: usize, fast_tears: usize) -> Vec<Step> {
    let ran = |knob, tenths: u32| {
        Step::Ran(Ran {
            rug: Some(RugIndex::of(rug)),
            lot: Some(LotIndex::of(lot)),
            knob: Some(knob),
            rate: Some(tenths),
            run_ms: 2 * HOUR,
            edges: 720 * u64::from(tenths),
        })
    };
    let tear = |knob| {
        Step::Hurt(Hurt {
            id: None,
            harm: Harm::Tear,
            rug: Some(RugIndex::of(rug)),
            lot: Some(LotIndex::of(lot)),
            knob: Some(knob),
        })
    };
    let mut steps = vec![ran(300, 80), ran(800, 160)];
    steps.extend(vec![tear(300); slow_tears]);
    steps.extend(vec![tear(800); fast_tears]);
    steps
}

fn report(steps: Vec<Step>, lots: &[&str], verdict: Verdict, costs: Option<Costs>) -> CostReport {
    let course = ExposureSequence { steps, lots: lots.iter().map(|lot| (*lot).to_owned()).collect() };
    let card = card();
    let grounds = Grounds { machine: &card, course: &course, verdict, costs, accepted_per_mille: None };
    cost_report(grounds, Level::USUAL)
}

fn much_torn_while_fast() -> Vec<Step> {
    (0..4).flat_map(|at| rug(at, at / 3, 0, 8)).collect()
}

#[test]
fn a_ceiling_is_proposed_where_fast_tears_often_and_dearly() {
    let found = report(much_torn_while_fast(), &["a", "b"], Verdict::FasterTearsMore, Some(COSTS));
    assert_eq!(found.because, Because::ItPays);
    let proposal = found.proposal.unwrap();
    assert!(proposal.probability_saves >= 0.9 && proposal.saving_per_rug > 0.0, "{proposal:?}");
    assert_eq!(proposal.knob_per_mille, 300);
    let prior = found.from_the_prior_alone.unwrap();
    assert!(prior.proposal.is_none() && prior.surest_probability_saves < 0.5, "{prior:?}");
}

#[test]
fn no_ceiling_is_proposed_while_speed_is_not_shown_to_matter() {
    for verdict in [Verdict::CannotTellYet, Verdict::DoublingIsUnlikely, Verdict::SlowerTearsMore] {
        let found = report(much_torn_while_fast(), &["a", "b"], verdict, Some(COSTS));
        assert_eq!((found.proposal, found.because), (None, Because::SpeedNotShownToMatter), "{verdict:?}");
        assert!(found.cloth_lots.iter().all(|lot| lot.proposal.is_none()));
    }
}

#[test]
fn no_ceiling_is_proposed_where_none_is_sure_enough_to_pay() {
    let dear_hour = Costs { tear: 1.0, hour: 100.0 };
    let found = report(much_torn_while_fast(), &["a", "b"], Verdict::FasterTearsMore, Some(dear_hour));
    assert_eq!((found.proposal, found.because), (None, Because::NotSureEnough));
    let few = report(rug(0, 0, 1, 4), &["a"], Verdict::FasterTearsMore, Some(COSTS));
    assert_eq!((few.proposal, few.because), (None, Because::NotSureEnough));
}

#[test]
fn a_cloth_lot_has_its_own_advice_from_ten_tears_on() {
    let found = report(much_torn_while_fast(), &["a", "b"], Verdict::FasterTearsMore, Some(COSTS));
    // Lot a holds three rugs with 24 tears, lot b one with 8.
    let lots: Vec<_> = found.cloth_lots.iter().map(|lot| (lot.cloth_lot.as_str(), lot.tears)).collect();
    assert_eq!(lots, vec![("a", 24)]);
    assert!(found.cloth_lots[0].proposal.is_some());
}

#[test]
fn without_costs_or_running_it_says_so() {
    let found = report(much_torn_while_fast(), &["a", "b"], Verdict::FasterTearsMore, None);
    assert_eq!((found.because, found.proposal), (Because::NoCosts, None));
    assert!(found.effect.is_some() && found.speeds.is_empty());
    let idle = report(Vec::new(), &[], Verdict::CannotTellYet, Some(COSTS));
    assert_eq!((idle.because, idle.strokes_per_rug), (Because::NoRunning, None));
}

#[test]
fn a_speed_is_hardly_run_at_below_one_stroke_in_twenty() {
    let mut found = report(much_torn_while_fast(), &["a", "b"], Verdict::FasterTearsMore, Some(COSTS));
    let speed = found.speeds[0];
    let at = |strokes| SpeedCost { strokes, ..speed };
    // By hand: of 10,000 strokes a twentieth is 500.
    found.speeds = vec![at(9_400.0), at(500.0), at(100.0), at(0.0)];
    let hardly: Vec<bool> = found.speeds.iter().map(|speed| found.hardly_ran_at(speed)).collect();
    assert_eq!(hardly, [false, false, true, true]);
    // 499 of 9,999 are just below: 20 times 499 are 9,980.
    found.speeds = vec![at(9_500.0), at(499.0)];
    assert!(found.hardly_ran_at(&found.speeds[1]) && !found.hardly_ran_at(&found.speeds[0]));
    found.speeds = vec![at(0.0)];
    assert!(!found.hardly_ran_at(&found.speeds[0]), "of nothing nobody knows");
}

#[test]
fn the_short_way_proposes_what_the_report_does() {
    for steps in [much_torn_while_fast(), rug(0, 0, 1, 4), rug(0, 0, 3, 6)] {
        for verdict in [Verdict::FasterTearsMore, Verdict::CannotTellYet] {
            let whole = report(steps.clone(), &["a", "b"], verdict, Some(COSTS)).proposal;
            assert_eq!(proposed(&steps, StrokeRatio::ONE, verdict, COSTS), whole);
        }
    }
}

#[test]
fn the_last_word_on_each_cost_counts_and_both_are_needed() {
    let entry = |id, tear, hour| Entry {
        id: EntryId(id),
        entered_at: UtcMillis(0),
        body: EntryBody::TearCosts(TearCosts { tear, hour }),
    };
    let money = |units: u64| Some(Money(units * 1_000_000));
    assert_eq!(costs_of(&InForce::of(vec![entry(1, money(40), None)])), None);
    let said = vec![entry(1, money(40), None), entry(2, None, money(25)), entry(3, money(50), None)];
    assert_eq!(costs_of(&InForce::of(said)), Some(Costs { tear: 50.0, hour: 25.0 }));
}
