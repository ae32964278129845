use jiff::tz::TimeZone;
use shared_types::log::ClockSource::Host;
use shared_types::{RunMillis, UtcMillis};

use super::{Known, Pace, Progress, ProgressBasis, WhyNot, progress};
use crate::entries::WorkChange::{Finished, Started};
use crate::entries::{
    Certainty, EntryBody, HandHours, Owner, RugDescribed, RugName, RugOrdered, SampleSquare, Style,
};
use crate::records::log_records::LogRecords;
use crate::rugs::commission::Commissions;
use crate::rugs::{own_rugs, rug_work};
use crate::sessions::ledger::Ledger;
use crate::stats::{Estimate, Level};
use crate::studio::Studio;
use crate::test_facts::{
    HOUR, MONDAY_8, anchor, assigned, empty_log, entries, fitted, machine, segment, work,
};
use shared_types::MachineTag;

fn sized(name: &str, size: Option<(u32, u32)>) -> EntryBody {
    EntryBody::RugOrdered(RugOrdered {
        rug: RugName(name.to_owned()),
        width_mm: size.map(|size| size.0),
        height_mm: size.map(|size| size.1),
        cloth_lot: None,
        at: UtcMillis(MONDAY_8),
    })
}

fn described(name: &str, style: Style) -> EntryBody {
    let rug = RugName(name.to_owned());
    EntryBody::RugDescribed(RugDescribed {
        rug,
        style: Some(style),
        pile_height_tenths_mm: None,
        colours: vec![],
    })
}

/// Finished rugs of a tenth of a square metre with so many thousand strokes each, made in one session;
/// then Fox, `size`, with `fox` thousand strokes in another.
fn ask(
    own: &[u32],
    fox: u32,
    size: Option<(u32, u32)>,
    more: Vec<EntryBody>,
    samples: &[SampleSquare],
) -> Progress {
    let mut said = vec![machine(1), fitted(1, 0)];
    let mut segments = Vec::new();
    let mut give = |said: &mut Vec<EntryBody>, name: &str, thousands: u32, half_ms: u64| {
        let first = 10 + u32::try_from(segments.len()).unwrap();
        let at = u64::from(first) * 10_000_000;
        segments.push(segment(first, 1, at, half_ms / 2, thousands * 500));
        segments.push(segment(first + 1, 1, at + half_ms * 3 / 2, half_ms / 2, thousands * 500));
        // A stop longer than ten minutes would end the session, so the middle is filled with stops of ten minutes.
        let owner = Owner::Rug(RugName(name.to_owned()));
        said.push(assigned(first, first + 1, owner, Certainty::Explicit));
    };
    for (number, thousands) in own.iter().enumerate() {
        let name = format!("Own {number}");
        said.push(sized(&name, Some((400, 250))));
        said.push(work(&name, None, Started, MONDAY_8 + HOUR));
        said.push(work(&name, None, Finished, MONDAY_8 + 2 * HOUR));
        give(&mut said, &name, *thousands, 600_000);
    }
    said.push(sized("Fox", size));
    if fox > 0 {
        give(&mut said, "Fox", fox, 600_000);
    }
    said.extend(more);
    let said = entries(said);
    let logs = [LogRecords { events: vec![anchor(1, 1, 0, MONDAY_8, Host)], segments, ..empty_log() }];
    let studio = Studio::of(&said);
    let ledger = Ledger::of(&studio, &logs);
    let commissions = Commissions::of(&said);
    let taken = rug_work::taken(&studio, &ledger, &TimeZone::UTC);
    let own = own_rugs::finished(&studio, &commissions, &taken);
    let known = Known {
        studio: &studio,
        commissions: &commissions,
        taken: &taken,
        own: &own,
        samples,
        own_yarn: &[],
    };
    let place = studio.rug_index(&RugName("Fox".to_owned())).unwrap();
    progress(known, place, studio.rug_at(place).unwrap(), Level::new(0.8).unwrap())
}

fn near(found: Option<f64>, expected: f64) {
    let found = found.unwrap();
    assert!((found - expected).abs() <= 1e-6 * expected.abs().max(1.0), "{found} is not {expected}");
}

const FOX: Option<(u32, u32)> = Some((500, 400));

#[test]
fn the_share_done_and_what_is_left_are_as_computed_outside() {
    // 8 to 12 thousand strokes on a tenth of a square metre each; Fox has twice the area and 20 thousand strokes so far, so
    // 10 thousand for a tenth: the cut prediction of scipy 1.17.1 for 8, 9, 10, 11, 12 above 10 (see `stats/log_normal.rs`)
    // times 2,000.
    let found = ask(&[8, 9, 10, 11, 12], 20, FOX, vec![], &[]);
    assert_eq!((found.basis, found.why_not, found.own_rugs), (ProgressBasis::OwnRugs, None, 5));
    near(found.strokes_expected.estimate, 22_707.606_908_916);
    near(found.strokes_expected.low, 20_457.478_933_414);
    near(found.strokes_expected.high, 28_982.981_540_352);
    near(found.share_done.estimate, 20_000.0 / 22_707.606_908_916);
    near(found.share_done.low, 20_000.0 / 28_982.981_540_352);
    near(found.strokes_left.estimate, 2_707.606_908_916);
}

#[test]
fn hours_left_follow_the_own_rugs_pace_until_the_rug_has_one_of_its_own() {
    // Each own rug ran ten minutes in 20 at the frame for 10 thousand strokes: 2 ms of frame and 1 ms of running a thousandth.
    let found = ask(&[10, 10, 10, 10, 11], 2, FOX, vec![], &[]);
    assert_eq!(found.pace, Pace::OwnRugs);
    let strokes = 51_000.0;
    near(
        found.run_hours_left.estimate,
        found.strokes_left.estimate.unwrap() * (5.0 * 600_000.0 / strokes) / 3.6e6,
    );
    near(
        found.tufting_hours_left.estimate,
        found.strokes_left.estimate.unwrap() * (5.0 * 1_200_000.0 / strokes) / 3.6e6,
    );
}

#[test]
fn three_own_rugs_are_too_few_and_a_sample_square_with_strokes_helps_without_a_range() {
    let thin = ask(&[8, 9, 10], 5, FOX, vec![], &[]);
    assert_eq!((thin.basis, thin.why_not), (ProgressBasis::None, Some(WhyNot::HistoryTooThin)));
    assert_eq!((thin.own_rugs, thin.own_rugs_needed, thin.share_done.estimate), (3, 4, None));
    let sample = SampleSquare {
        style: None,
        width_mm: 100,
        height_mm: 100,
        run: RunMillis(60_000),
        strokes: Some(1_000),
        tufting_ms: None,
        at: UtcMillis(MONDAY_8),
    };
    // A hundredth of a square metre took 1,000 strokes; Fox is twenty times that.
    let found = ask(
        &[8, 9, 10],
        5,
        FOX,
        vec![described("Fox", Style::Cut)],
        &[SampleSquare { style: Some(Style::Cut), ..sample }],
    );
    assert_eq!(found.basis, ProgressBasis::SampleSquare);
    near(found.share_done.estimate, 0.25);
    assert_eq!((found.share_done.low, found.share_done.high), (None, None));
}

#[test]
fn only_rugs_of_the_same_style_count() {
    let more = vec![described("Own 0", Style::Loop), described("Fox", Style::Cut)];
    let found = ask(&[8, 9, 10, 11], 5, FOX, more, &[]);
    assert_eq!((found.own_rugs, found.why_not), (3, Some(WhyNot::HistoryTooThin)));
    assert_eq!(found.style, Some(Style::Cut));
}

#[test]
fn a_rug_far_beyond_the_own_ones_gets_no_answer_and_none_is_ever_said_to_be_done_before_it_is() {
    let beyond = ask(&[8, 8, 8, 9], 200, FOX, vec![], &[]);
    assert_eq!(beyond.why_not, Some(WhyNot::BeyondOwnRugs));
    let late = ask(&[8, 9, 10, 11, 12], 24, FOX, vec![], &[]);
    assert!(late.share_done.high.unwrap() < 1.0 && late.strokes_left.low.unwrap() > 0.0, "{late:?}");
}

#[test]
fn without_a_size_or_when_it_is_done_it_says_so() {
    assert_eq!(ask(&[8, 9, 10, 11], 5, None, vec![], &[]).why_not, Some(WhyNot::NoSize));
    let done = vec![work("Fox", None, Started, MONDAY_8), work("Fox", None, Finished, MONDAY_8 + HOUR)];
    assert_eq!(ask(&[8, 9, 10, 11], 5, FOX, done, &[]).why_not, Some(WhyNot::Done));
}

#[test]
fn where_some_running_was_typed_in_the_hours_at_the_frame_tell_how_far_along_it_is() {
    let typed = |minutes: u64| {
        EntryBody::HandHours(HandHours {
            machine: MachineTag(1),
            rug: Some(RugName("fox".to_owned())),
            at: UtcMillis(MONDAY_8),
            run: None,
            tufting_ms: Some(minutes * 60_000),
            knob_per_mille: None,
        })
    };
    // Each of the four own rugs took a session of twenty minutes for half the size: ten are a quarter, and thirty are left.
    let quarter = ask(&[8, 9, 10, 11], 0, FOX, vec![typed(10)], &[]);
    assert_eq!((quarter.why_not, quarter.basis), (None, ProgressBasis::OwnHours));
    near(quarter.share_done.estimate, 0.25);
    near(quarter.tufting_hours_left.estimate, 0.5);
    assert_eq!((quarter.tufting_hours, quarter.strokes_expected), (Some(10.0 / 60.0), Estimate::default()));
    let beyond = ask(&[8, 9, 10, 11], 0, FOX, vec![typed(90)], &[]);
    assert_eq!(beyond.why_not, Some(WhyNot::BeyondOwnRugs));
    let few = ask(&[8, 9, 10], 0, FOX, vec![typed(5)], &[]);
    assert_eq!(few.why_not, Some(WhyNot::HistoryTooThin));
}
