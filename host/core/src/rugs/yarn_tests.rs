use std::collections::BTreeMap;

use shared_types::UtcMillis;
use shared_types::log::ClockSource::Host;

use super::*;
use crate::entries::{EntryBody, RugName, WorkChange, YarnMove, YarnWeighed};
use crate::records::log_records::LogRecords;
use crate::records::when::When;
use crate::rugs::own_rugs::OwnRugs;
use crate::rugs::progress::{Pace, ProgressBasis};
use crate::rugs::rug_work::{Run, SessionShare};
use crate::studio::RugState;
use crate::test_facts::{HOUR, MONDAY_8, anchor, empty_log, entries, fitted, machine, rug, segment, work};

fn weighed(colour: &str, moved: YarnMove, grams: u64, at: i64) -> EntryBody {
    EntryBody::YarnWeighed(YarnWeighed {
        rug: RugName("Fox".to_owned()),
        colour: colour.to_owned(),
        moved,
        weight_mg: grams * 1_000,
        at: UtcMillis(at),
    })
}

/// Fox had 10,000 strokes by nine and 12,000 by ten; `left` strokes are left with a range.
fn of(said: Vec<EntryBody>, left: [f64; 3]) -> YarnReport {
    let [low, estimate, high] = left.map(Some);
    of_left(said, Estimate { estimate, low, high }, false)
}

/// The same, where it may not be known what is left.
fn of_left(said: Vec<EntryBody>, left: Estimate, is_typed: bool) -> YarnReport {
    let segments = vec![segment(10, 1, 60_000, 600_000, 10_000), segment(11, 1, 5_400_000, 60_000, 2_000)];
    let logs = [LogRecords { events: vec![anchor(1, 1, 0, MONDAY_8, Host)], segments, ..empty_log() }];
    let start = work("Fox", None, WorkChange::Started, MONDAY_8);
    let said = entries([machine(1), fitted(1, 0), rug("Fox"), start].into_iter().chain(said));
    let studio = Studio::of(&said);
    let progress = Progress {
        rug: "Fox".to_owned(),
        state: RugState::OnTheFrame,
        style: None,
        area_m2: None,
        strokes: 12_000,
        tufting_hours: None,
        partly_typed: is_typed,
        basis: ProgressBasis::OwnRugs,
        why_not: None,
        own_rugs: 4,
        own_rugs_needed: 4,
        sample_squares: 0,
        level: Some(0.8),
        strokes_expected: Estimate::default(),
        share_done: Estimate::default(),
        strokes_left: left,
        tufting_hours_left: Estimate::default(),
        run_hours_left: Estimate::default(),
        pace: Pace::None,
    };
    let commissions = Commissions::of(&said);
    let typed = SessionShare {
        starts: When::Undated,
        ends: When::Undated,
        day: None,
        machine: None,
        run: Run::default(),
        tufting_ms: None,
        is_confirmed: true,
        is_typed,
    };
    let taken = BTreeMap::from([(RugIndex::of(0), RugTaken { sessions: vec![typed] })]);
    let own = OwnRugs::default();
    let known = Known {
        studio: &studio,
        commissions: &commissions,
        taken: &taken,
        own: &own,
        samples: &[],
        own_yarn: &[],
    };
    report(known, &Ledger::of(&studio, &logs), RugIndex::of(0), Some(&progress), Level::USUAL)
}

#[test]
fn the_colour_that_runs_out_first_is_named_from_weights_and_strokes() {
    // By hand: red took 200 g of 10,000 strokes, 20 g a thousand; 100 g were left at nine, 2,000 strokes later 60 g: good for
    // 3,000 strokes. Blue took 50 g, 5 g a thousand; 150 left, 140 now: 28,000 strokes.
    let found = of(
        vec![
            weighed("red", YarnMove::Out, 300, MONDAY_8),
            weighed("blue", YarnMove::Out, 200, MONDAY_8),
            weighed("red", YarnMove::Left, 100, MONDAY_8 + HOUR),
            weighed("blue", YarnMove::Left, 150, MONDAY_8 + HOUR),
            weighed("green", YarnMove::Out, 80, MONDAY_8),
        ],
        [4_000.0, 8_000.0, 12_000.0],
    );
    let lines: Vec<_> = found
        .colours
        .iter()
        .map(|line| (line.weighed.colour.as_str(), line.strokes_until_weighed, line.lasts))
        .collect();
    assert_eq!(
        lines,
        [
            ("red", Some(10_000), Lasts::Short),
            ("blue", Some(10_000), Lasts::Enough),
            ("green", None, Lasts::CannotTell)
        ]
    );
    assert!((found.colours[0].grams_per_1000_strokes.unwrap() - 20.0).abs() < 1e-9);
    assert!((found.colours[0].strokes_until_out.unwrap() - 3_000.0).abs() < 1e-6);
    assert!((found.colours[1].strokes_until_out.unwrap() - 28_000.0).abs() < 1e-6);
    assert_eq!(found.runs_out_first.as_deref(), Some("red"));
}

#[test]
fn a_colour_between_the_ends_of_the_range_is_tight() {
    let found = of(
        vec![
            weighed("red", YarnMove::Out, 300, MONDAY_8),
            weighed("red", YarnMove::Left, 100, MONDAY_8 + HOUR),
        ],
        [1_000.0, 2_000.0, 4_000.0],
    );
    assert_eq!((found.colours[0].lasts, found.runs_out_first.as_deref()), (Lasts::Tight, Some("red")));
}

#[test]
fn a_colour_weighed_before_a_thousand_strokes_tells_nothing() {
    let found = of(
        vec![weighed("red", YarnMove::Out, 300, MONDAY_8), weighed("red", YarnMove::Left, 299, MONDAY_8 + 1)],
        [1_000.0, 2_000.0, 4_000.0],
    );
    assert_eq!(found.colours[0].grams_per_1000_strokes, None);
    assert_eq!(found.colours[0].lasts, Lasts::CannotTell);
    assert_eq!((found.own_rugs_weighed, found.needed_g.estimate), (0, None));
}

#[test]
fn what_runs_out_first_is_told_from_the_logged_strokes_where_some_running_was_written_by_hand() {
    // How much is left to do cannot be told then, but the scales still can: red for 3,000 strokes, blue for 28,000.
    let found = of_left(
        vec![
            weighed("blue", YarnMove::Out, 200, MONDAY_8),
            weighed("red", YarnMove::Out, 300, MONDAY_8),
            weighed("red", YarnMove::Left, 100, MONDAY_8 + HOUR),
            weighed("blue", YarnMove::Left, 150, MONDAY_8 + HOUR),
        ],
        Estimate::default(),
        true,
    );
    assert_eq!(found.runs_out_first.as_deref(), Some("red"));
    assert!(found.some_by_hand);
    assert!(found.colours.iter().all(|line| line.lasts == Lasts::CannotTell));
    assert!((found.colours[1].strokes_until_out.unwrap() - 3_000.0).abs() < 1e-6);
}

#[test]
fn no_colour_runs_out_first_where_all_will_do() {
    let found = of(
        vec![
            weighed("red", YarnMove::Out, 300, MONDAY_8),
            weighed("red", YarnMove::Left, 100, MONDAY_8 + HOUR),
        ],
        [500.0, 600.0, 700.0],
    );
    assert_eq!((found.colours[0].lasts, found.runs_out_first), (Lasts::Enough, None));
}
