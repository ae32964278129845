#![allow(clippy::cast_possible_truncation, reason = "a test may stop at the first surprise")]
use super::*;
use crate::care::done::{CareNotes, Evidence};
use crate::care::tasks::task;
use crate::entries::{self, CareDone, CareTaskName, EntryBody, HandHours, InForce, WorkChange};
use crate::records::log_records::LogRecords;
use crate::test_facts as facts;
use shared_types::log::{ClockSource, PressKind};
use shared_types::{Edges, Totals};

const ONE: MachineTag = MachineTag(1);
const MONDAY: i64 = facts::MONDAY_8;
const MINUTE: u64 = 60_000;

/// Machine 1 with the logger from its first record on.
fn entries(more: Vec<EntryBody>) -> InForce<'static> {
    facts::entries([facts::machine(1), facts::fitted(1, 0)].into_iter().chain(more))
}

fn gathered(entries: &InForce<'_>, logs: &[LogRecords]) -> History {
    let studio = Studio::of(entries);
    History::of(&studio, &Ledger::of(&studio, logs), &[], ONE, &TimeZone::UTC)
}

/// Boot 1 begins on Monday at eight (its clock says so at uptime 0) and runs 10 minutes from minute 5 on.
fn dated_log() -> LogRecords {
    let mut log = facts::empty_log();
    log.events = vec![facts::started(1, 1, 0, 0), facts::anchor(2, 1, 0, MONDAY, ClockSource::ClockChip)];
    log.segments = vec![facts::segment(3, 1, 5 * MINUTE, 10 * MINUTE, 7200)];
    log.last_totals = Totals { run: RunMillis(10 * MINUTE), edges: Edges(7200) };
    log
}

fn minutes_in(minutes: i64) -> Moment {
    Moment::dated(UtcMillis(MONDAY + minutes * 60_000))
}

#[test]
fn a_moment_inside_a_burst_splits_it_to_the_millisecond() {
    let history = gathered(&entries(vec![]), &[dated_log()]);
    let since = |moment| (history.run_since(moment).at_least_ms, history.run_since(moment).at_most_ms);
    assert_eq!(since(minutes_in(0)), (10 * MINUTE, 10 * MINUTE));
    assert_eq!(since(minutes_in(5)), (10 * MINUTE, 10 * MINUTE));
    assert_eq!(since(Moment::dated(UtcMillis(MONDAY + 300_001))), (10 * MINUTE - 1, 10 * MINUTE - 1));
    assert_eq!(since(minutes_in(9)), (6 * MINUTE, 6 * MINUTE));
    assert_eq!(since(minutes_in(15)), (0, 0));
}

#[test]
fn a_burst_without_a_clock_may_lie_on_either_side() {
    // Boot 1 has no clock reading; boot 2 has one on Monday at eight. The burst of boot 1 was over by then, but it may have run
    // before or after a moment on Sunday.
    let mut log = facts::empty_log();
    log.events = vec![
        facts::started(1, 1, 0, 0),
        facts::started(3, 2, 10 * MINUTE, 7200),
        facts::anchor(4, 2, 0, MONDAY, ClockSource::Host),
    ];
    log.segments = vec![facts::segment(2, 1, 0, 10 * MINUTE, 7200)];
    log.last_totals = Totals { run: RunMillis(10 * MINUTE), edges: Edges(7200) };
    let history = gathered(&entries(vec![]), &[log]);
    let sunday = history.run_since(minutes_in(-24 * 60));
    assert_eq!((sunday.at_least_ms, sunday.at_most_ms), (0, 10 * MINUTE));
    let tuesday = history.run_since(minutes_in(24 * 60));
    assert_eq!((tuesday.at_least_ms, tuesday.at_most_ms), (0, 0));
}

#[test]
fn what_a_logger_without_a_clock_had_recorded_when_heard_had_run_by_then() {
    let mut log = facts::empty_log();
    log.segments =
        vec![facts::segment(1, 1, 0, 10 * MINUTE, 7200), facts::segment(2, 1, 20 * MINUTE, MINUTE, 720)];
    log.last_totals = Totals { run: RunMillis(11 * MINUTE), edges: Edges(7920) };
    let (all, logs) = (entries(vec![]), [log]);
    let studio = Studio::of(&all);
    let ledger = Ledger::of(&studio, &logs);
    let heard = |next, at| HeardAt { log: facts::LOG, next: RecordSeq(next), at: UtcMillis(at) };
    let at_most = |heard: &[HeardAt], moment| {
        History::of(&studio, &ledger, heard, ONE, &TimeZone::UTC).run_since(moment).at_most_ms
    };
    // Heard on Monday at eight with the first burst, at nine with both; cared for at half past eight.
    let both = [heard(2, MONDAY), heard(3, MONDAY + facts::HOUR)];
    assert_eq!(at_most(&both, minutes_in(30)), MINUTE);
    assert_eq!(at_most(&both, minutes_in(90)), 0);
    assert_eq!(at_most(&[], minutes_in(90)), 11 * MINUTE);
}

#[test]
fn a_press_splits_its_own_log_exactly_without_any_clock() {
    // No clock at all: 10 minutes, the press 4 minutes into the next 10, then a boot with 3 minutes more.
    let mut log = facts::empty_log();
    log.segments = vec![
        facts::segment(1, 1, 0, 10 * MINUTE, 7200),
        facts::segment(3, 1, 20 * MINUTE, 10 * MINUTE, 7200),
        facts::segment(4, 2, 0, 3 * MINUTE, 2160),
    ];
    log.events = vec![facts::press(2, 1, 24 * MINUTE, PressKind::Retension)];
    log.last_totals = Totals { run: RunMillis(23 * MINUTE), edges: Edges(16_560) };
    let all = entries(vec![]);
    let studio = Studio::of(&all);
    let logs = [log];
    let ledger = Ledger::of(&studio, &logs);
    let history = History::of(&studio, &ledger, &[], ONE, &TimeZone::UTC);
    let last = CareNotes::of(&all, &studio, &ledger, ONE).last(
        task("re-tension").unwrap(),
        &history,
        UtcMillis(MONDAY),
    );
    assert_eq!(last.evidence, Evidence::Pressed);
    let since = history.run_since(last.moment);
    assert_eq!((since.at_least_ms, since.at_most_ms), (9 * MINUTE, 9 * MINUTE));
}

#[test]
fn what_is_not_recorded_counts_as_run_since_only_where_it_can_have_been_since() {
    // The totals at the second start say 25 minutes, the records of the first boot 10: 15 are lost, between Monday at eight and
    // nine. Care on Tuesday is after that, care on Sunday before it.
    let mut log = dated_log();
    log.events.push(facts::started(4, 2, 25 * MINUTE, 18_000));
    log.events.push(facts::anchor(5, 2, 0, MONDAY + facts::HOUR, ClockSource::ClockChip));
    log.last_totals = Totals { run: RunMillis(25 * MINUTE), edges: Edges(18_000) };
    let history = gathered(&entries(vec![]), &[log]);
    let sunday = history.run_since(minutes_in(-24 * 60));
    assert_eq!((sunday.at_most_ms, sunday.not_recorded_ms), (25 * MINUTE, 15 * MINUTE));
    let tuesday = history.run_since(minutes_in(24 * 60));
    assert_eq!((tuesday.at_most_ms, tuesday.not_recorded_ms), (0, 0));
    assert_eq!(history.run_ever().at_most_ms, 25 * MINUTE);
}

#[test]
fn of_time_at_the_frame_alone_the_share_reaches_care_for_which_the_motor_runs() {
    let by_hand = |run: Option<u64>, tufting_ms| {
        EntryBody::HandHours(HandHours {
            machine: ONE,
            rug: None,
            at: UtcMillis(MONDAY),
            run: run.map(RunMillis),
            tufting_ms,
            knob_per_mille: None,
        })
    };
    let history =
        gathered(&entries(vec![by_hand(Some(MINUTE), None), by_hand(None, Some(90 * MINUTE))]), &[]);
    // 27 of 60 minutes, until anybody says otherwise: of 90 minutes 40.5.
    assert_eq!(history.run_since(minutes_in(-1)).by_hand_ms, MINUTE + 81 * MINUTE / 2);
    assert_eq!(history.run_since(minutes_in(1)).by_hand_ms, 0);
}

#[test]
fn the_session_during_which_care_was_given_does_not_count_as_begun_since() {
    // Runs at minutes 5 to 15; care at minute 16; a dry run at minute 17; the next session an hour later.
    let mut log = dated_log();
    log.segments.push(facts::segment(4, 1, 17 * MINUTE, MINUTE / 2, 360));
    let history = gathered(&entries(vec![]), &[log.clone()]);
    assert_eq!(history.sessions_since(minutes_in(16)), 0);
    assert_eq!(history.sessions_since(minutes_in(0)), 1);
    log.segments.push(facts::segment(5, 1, 77 * MINUTE, MINUTE, 720));
    assert_eq!(gathered(&entries(vec![]), &[log]).sessions_since(minutes_in(16)), 1);
}

#[test]
fn days_worked_are_days_of_the_makers_clock_however_many_sessions_they_had() {
    let mut log = dated_log();
    // Two sessions on Monday, one on Tuesday at 23:30 UTC.
    log.segments.push(facts::segment(4, 1, 77 * MINUTE, MINUTE, 720));
    log.segments.push(facts::segment(5, 1, (24 * 60 + 930) * MINUTE, MINUTE, 720));
    let wednesday = EntryBody::HandHours(HandHours {
        machine: ONE,
        rug: None,
        at: UtcMillis(MONDAY + 2 * 86_400_000),
        run: Some(RunMillis(MINUTE)),
        tufting_ms: None,
        knob_per_mille: None,
    });
    let history = gathered(&entries(vec![wednesday]), &[log]);
    let days = |moment, zone: &TimeZone| history.days_worked_since(moment, zone);
    assert_eq!(history.sessions_since(minutes_in(-1)), 4);
    assert_eq!(days(minutes_in(-1), &TimeZone::UTC), 3);
    assert_eq!(days(minutes_in(100), &TimeZone::UTC), 2);
    // An hour further east the late session was on Wednesday already, as was what was typed in.
    assert_eq!(days(minutes_in(-1), &TimeZone::fixed(jiff::tz::offset(1))), 2);
}

#[test]
fn the_longest_standstill_is_found_even_when_it_is_over() {
    let day = 24 * 60;
    let mut log = dated_log();
    log.segments.push(facts::segment(4, 1, 21 * 1440 * MINUTE, MINUTE, 720));
    let history = gathered(&entries(vec![]), &[log]);
    let now = UtcMillis(MONDAY + 22 * 86_400_000);
    // From minute 15 of Monday to day 21 after it.
    let rest = history.longest_rest_ms(UtcMillis(MONDAY), now);
    assert_eq!(rest, 21 * 86_400_000 - 15 * MINUTE);
    // Cared for on day 21.5, after the last run: half a day of rest since.
    assert_eq!(history.longest_rest_ms(UtcMillis(MONDAY + 21 * day * 60_000 + 43_200_000), now), 43_200_000);
}

fn done(name: &str, at: i64) -> EntryBody {
    EntryBody::CareDone(CareDone {
        machine: ONE,
        task: CareTaskName(name.to_owned()),
        at: UtcMillis(at),
        finding: None,
        note: None,
    })
}

fn with_notes<T>(more: Vec<EntryBody>, log: LogRecords, look: impl Fn(&CareNotes, &History) -> T) -> T {
    let all = entries(more);
    let studio = Studio::of(&all);
    let logs = [log];
    let ledger = Ledger::of(&studio, &logs);
    let history = History::of(&studio, &ledger, &[], ONE, &TimeZone::UTC);
    look(&CareNotes::of(&all, &studio, &ledger, ONE), &history)
}

#[test]
fn a_care_press_is_asked_about_once_and_sets_no_task_back() {
    let mut log = dated_log();
    log.events.push(facts::press(4, 1, 16 * MINUTE, PressKind::CareDone));
    let (open, oiled) = with_notes(vec![], log.clone(), |notes, history| {
        let last = notes.last(task("oiling").unwrap(), history, UtcMillis(MONDAY));
        (notes.open_questions().len(), last.evidence)
    });
    assert_eq!((open, oiled), (1, Evidence::Never));
    let answered = vec![done("oiling", MONDAY + facts::HOUR)];
    assert_eq!(with_notes(answered, log.clone(), |notes, _| notes.open_questions().len()), 0);
    let long_after = vec![done("oiling", MONDAY + 48 * facts::HOUR)];
    assert_eq!(with_notes(long_after, log, |notes, _| notes.open_questions().len()), 1);
}

#[test]
fn a_corrected_care_entry_counts_no_more() {
    let withdrawn = vec![
        done("oiling", MONDAY),
        EntryBody::Withdrawn { entry: entries::EntryId(3), reason: "wrong machine".to_owned() },
    ];
    let evidence = with_notes(withdrawn, dated_log(), |notes, history| {
        notes.last(task("oiling").unwrap(), history, UtcMillis(MONDAY)).evidence
    });
    assert_eq!(evidence, Evidence::Never);
}

#[test]
fn a_new_cloth_on_the_frame_is_a_stretched_cloth_and_no_cloth_needs_nothing() {
    let minute = facts::MINUTE;
    let fox = |more: Vec<EntryBody>| {
        [facts::rug("Fox"), facts::work("Fox", None, WorkChange::Started, MONDAY + 10 * minute)]
            .into_iter()
            .chain(more)
            .collect::<Vec<_>>()
    };
    let retension = |notes: &CareNotes, history: &History| {
        let last = notes.last(task("re-tension").unwrap(), history, UtcMillis(MONDAY));
        (last.evidence, history.run_since(last.moment).at_most_ms, notes.cloth_is_on)
    };
    // The cloth came on at minute 10 of a run from 5 to 15.
    assert_eq!(
        with_notes(fox(vec![]), dated_log(), retension),
        (Evidence::ClothPutOn, 5 * MINUTE, Some(true))
    );
    let off = vec![facts::work("Fox", None, WorkChange::Finished, MONDAY + 20 * minute)];
    assert_eq!(with_notes(fox(off), dated_log(), retension).2, Some(false));
    assert_eq!(with_notes(vec![], dated_log(), retension).2, None);
}
