use shared_types::{MachineTag, UtcMillis};

use super::{RugState, StrokeRatio, Studio, nearest_names};
use crate::entries::WorkChange::{Finished, Paused, Started};
use crate::entries::{EdgeRatio, EntryBody, MachineAdded, MachineRested, RugName};
use crate::test_facts::{HOUR, MONDAY_8, entries, fitted, machine, renamed, rug, work};

fn periods(studio: &Studio, name: &str, on: Option<u32>) -> Vec<(i64, Option<i64>)> {
    let rug = studio.rug(name).unwrap();
    let hours = |at: UtcMillis| (at.0 - MONDAY_8) / HOUR;
    rug.active_periods(on.map(MachineTag))
        .into_iter()
        .map(|(from, to)| (hours(from), to.map(hours)))
        .collect()
}

#[test]
fn a_rug_is_active_from_its_start_to_its_next_pause_or_end_in_the_order_of_time_not_of_entry() {
    let studio = Studio::of(&entries([
        rug("Fox"),
        work("Fox", None, Finished, MONDAY_8 + 9 * HOUR),
        work("Fox", None, Started, MONDAY_8 + HOUR),
        work("fox", None, Paused, MONDAY_8 + 3 * HOUR),
        work("Fox", None, Started, MONDAY_8 + 5 * HOUR),
        work("Fox", None, Started, MONDAY_8 + 6 * HOUR),
    ]));
    assert_eq!(periods(&studio, "Fox", None), [(1, Some(3)), (5, Some(9))]);
    assert_eq!(studio.rug("Fox").unwrap().state(), RugState::Finished);
}

#[test]
fn work_on_one_machine_is_no_work_on_another_but_a_pause_for_all_ends_it() {
    let studio = Studio::of(&entries([
        rug("Fox"),
        work("Fox", Some(1), Started, MONDAY_8),
        work("Fox", None, Started, MONDAY_8 + 2 * HOUR),
        work("Fox", Some(1), Paused, MONDAY_8 + 4 * HOUR),
    ]));
    assert_eq!(periods(&studio, "Fox", Some(1)), [(0, Some(4))]);
    assert_eq!(periods(&studio, "Fox", Some(2)), [(2, None)]);
}

#[test]
fn the_last_ratio_holds_and_an_impossible_one_is_passed_over() {
    let set = |edges, strokes| EntryBody::EdgeRatioSet(EdgeRatio { machine: MachineTag(1), edges, strokes });
    let studio = Studio::of(&entries([machine(1), set(2, 1), set(5, 2), set(0, 1)]));
    // By hand: 11 edges at two strokes for five edges are 4.4 strokes.
    assert_eq!(studio.ratio(Some(MachineTag(1))).strokes(11), 4);
    assert_eq!(studio.ratio(None), StrokeRatio::ONE);
    assert_eq!(StrokeRatio::ONE.strokes(u64::MAX), u64::MAX);
}

#[test]
fn an_unknown_rug_is_answered_with_the_nearest_names() {
    let studio = Studio::of(&entries([rug("Fox"), rug("Heron"), rug("Harbour at Night")]));
    assert_eq!(studio.rug("  fOX ").unwrap().order.rug, RugName("Fox".to_owned()));
    assert_eq!(studio.rug("Fxo").unwrap_err().nearest, ["Fox"]);
    assert_eq!(studio.rug("Herno").unwrap_err().nearest, ["Heron"]);
    assert_eq!(studio.rug("harbour").unwrap_err().nearest, ["Harbour at Night"]);
    let unlike = studio.rug("zzzzzzzz").unwrap_err();
    assert_eq!(unlike.nearest, [] as [&str; 0]);
    assert_eq!(unlike.known, ["Fox", "Heron", "Harbour at Night"]);
}

#[test]
fn the_nearest_name_comes_first() {
    // kitten to sitting is the textbook distance of 3; kitten to mitten is 1.
    assert_eq!(nearest_names("kitten", &["sitting", "mitten"]), ["mitten", "sitting"]);
}

#[test]
fn an_order_entered_again_corrects_the_first_and_keeps_its_work() {
    let studio = Studio::of(&entries([rug("Fox"), work("Fox", None, Started, MONDAY_8), rug("FOX")]));
    assert_eq!(studio.rugs.len(), 1);
    assert_eq!(studio.rugs[0].order.rug.0, "FOX");
    assert_eq!(studio.rugs[0].state(), RugState::OnTheFrame);
}

#[test]
fn all_that_was_said_by_any_name_of_a_rug_counts_to_it() {
    let studio = Studio::of(&entries([
        rug("Fox"),
        rug("Cat"),
        work("Fox", None, Started, MONDAY_8),
        renamed("Fox", "Bear"),
        work("Bear", None, Paused, MONDAY_8 + HOUR),
        work("Fox", None, Started, MONDAY_8 + 2 * HOUR),
        renamed("Bear", "Owl"),
        work("Owl", None, Finished, MONDAY_8 + 3 * HOUR),
    ]));
    assert_eq!(studio.rugs.len(), 2);
    for name in ["Fox", "bear", "Owl"] {
        assert_eq!(studio.rug(name).unwrap().order.rug.0, "Owl");
        assert_eq!(periods(&studio, name, None), [(0, Some(1)), (2, Some(3))]);
    }
    let former: Vec<&str> =
        studio.rug("Owl").unwrap().former_names.iter().map(|name| name.0.as_str()).collect();
    assert_eq!(former, ["Bear", "Fox"]);
    assert_eq!(studio.rug("Cat").unwrap().former_names, []);
}

fn said(tag: u32, has_logger: Option<bool>) -> EntryBody {
    match machine(tag) {
        EntryBody::MachineAdded(added) => EntryBody::MachineAdded(MachineAdded { has_logger, ..added }),
        other => other,
    }
}

#[test]
fn a_machine_is_without_a_logger_only_by_its_owners_word_and_until_one_is_fitted() {
    let of = |bodies: Vec<EntryBody>| Studio::of(&entries(bodies)).is_without_logger(MachineTag(1));
    assert!(of(vec![said(1, Some(false))]));
    assert!(!of(vec![said(1, None)]) && !of(vec![said(1, Some(true))]) && !of(vec![]));
    assert!(!of(vec![said(1, Some(false)), fitted(1, 0)]));
    // It had one, though the logger went to another machine later.
    assert!(!of(vec![said(1, Some(false)), fitted(1, 0), fitted(2, 5)]));
    assert!(of(vec![said(1, Some(false)), fitted(2, 0)]));
}

#[test]
fn one_machine_that_may_have_a_logger_is_enough_for_all_and_no_machine_is_without_one() {
    let of = |bodies: Vec<EntryBody>| {
        let studio = Studio::of(&entries(bodies));
        studio.are_without_logger(&studio.machines)
    };
    assert!(of(vec![said(1, Some(false)), said(2, Some(false))]));
    assert!(!of(vec![said(1, Some(false)), said(2, None)]));
    assert!(!of(vec![]));
}

#[test]
fn the_last_word_on_rest_counts_in_the_order_of_time_and_survives_a_change_of_the_machine() {
    let rested = |rests: bool, at| {
        let reason = rests.then(|| "gear".to_owned());
        EntryBody::MachineRested(MachineRested { machine: MachineTag(1), at: UtcMillis(at), rests, reason })
    };
    let resting = |bodies: Vec<EntryBody>| {
        let studio = Studio::of(&entries(bodies));
        studio.machine(MachineTag(1)).unwrap().resting.clone()
    };
    let rest = resting(vec![machine(1), rested(true, 5), machine(1)]).unwrap();
    assert_eq!((rest.since_utc_ms, rest.reason.as_deref()), (UtcMillis(5), Some("gear")));
    assert_eq!(resting(vec![machine(1), rested(true, 5), rested(false, 6)]), None);
    assert!(resting(vec![machine(1), rested(false, 6), rested(true, 5), rested(true, 7)]).is_some());
    assert_eq!(resting(vec![machine(1), rested(false, 6), rested(true, 5)]), None);
}
