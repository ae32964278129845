use jiff::civil::{Date, date};
use jiff::tz::{TimeZone, offset};
use shared_types::log::ClockSource::{ClockChip, Host};
use shared_types::{MachineTag, RecordSeq, UtcMillis};

use super::ledger::Ledger;
use super::{Session, day_of, of_log};
use crate::entries::EntryBody;
use crate::records::log_records::{LogRecords, SegmentRecord};
use crate::records::when::When;
use crate::studio::Studio;
use crate::test_facts::{self, HOUR, MINUTE, MONDAY_8, anchor, empty_log, entries, fitted, machine, segment};

fn sessions_of(log: LogRecords, said: Vec<EntryBody>, zone: &TimeZone) -> Vec<Session> {
    let studio = Studio::of(&entries(said));
    let logs = [log];
    let ledger = Ledger::of(&studio, &logs);
    of_log(&ledger.logs[0], zone)
}

fn in_one_boot(segments: Vec<SegmentRecord>) -> LogRecords {
    LogRecords { events: vec![anchor(1, 1, 0, MONDAY_8, Host)], segments, ..empty_log() }
}

#[test]
fn ten_minutes_without_running_are_still_the_same_session_and_a_millisecond_more_is_not() {
    let log = in_one_boot(vec![
        segment(10, 1, 0, 5_000, 60),
        segment(20, 1, 605_000, 5_000, 60),
        segment(30, 1, 1_210_001, 5_000, 60),
    ]);
    let sessions = sessions_of(log, vec![], &TimeZone::UTC);
    let ranges: Vec<_> = sessions.iter().map(|session| (session.first.0, session.last.0)).collect();
    assert_eq!(ranges, [(10, 20), (30, 30)]);
    assert_eq!((sessions[0].run.0, sessions[0].edges), (10_000, 120));
    assert_eq!(sessions[0].ends, When::Dated(UtcMillis(MONDAY_8 + 610_000)));
}

#[test]
fn a_session_goes_on_over_a_start_of_the_logger_only_when_both_sides_are_dated() {
    let segments = vec![segment(10, 1, 0, 60_000, 700), segment(20, 2, 60_000, 60_000, 700)];
    let second_at = |utc| anchor(15, 2, 0, utc, ClockChip);
    let with = |events| LogRecords { events, segments: segments.clone(), ..empty_log() };
    // Boot 1 runs to 08:01; boot 2 starts at 08:09 and runs from 08:10 on: nine minutes' stop.
    let both = with(vec![anchor(1, 1, 0, MONDAY_8, ClockChip), second_at(MONDAY_8 + 9 * MINUTE)]);
    assert_eq!(sessions_of(both, vec![], &TimeZone::UTC).len(), 1);
    // An hour later it is another session.
    let later = with(vec![anchor(1, 1, 0, MONDAY_8, ClockChip), second_at(MONDAY_8 + HOUR)]);
    assert_eq!(sessions_of(later, vec![], &TimeZone::UTC).len(), 2);
    let one = with(vec![second_at(MONDAY_8 + 9 * MINUTE)]);
    assert_eq!(sessions_of(one, vec![], &TimeZone::UTC).len(), 2, "the first side has no date");
}

#[test]
fn a_logger_moved_to_another_machine_begins_another_session() {
    let log = in_one_boot(vec![segment(10, 1, 0, 5_000, 60), segment(20, 1, 10_000, 5_000, 60)]);
    let said = vec![machine(1), machine(2), fitted(1, 0), fitted(2, 20)];
    let machines: Vec<_> =
        sessions_of(log, said, &TimeZone::UTC).into_iter().map(|session| session.machine).collect();
    assert_eq!(machines, [Some(MachineTag(1)), Some(MachineTag(2))]);
}

#[test]
fn a_session_belongs_to_the_makers_day_on_which_it_starts() {
    // 23:30 in UTC+2 is 21:30 UTC; the session runs on past local midnight.
    let half_past_nine = 13 * HOUR + 30 * MINUTE;
    let log = LogRecords {
        events: vec![anchor(1, 1, 0, MONDAY_8 + half_past_nine, Host)],
        segments: vec![segment(10, 1, 0, 1_800_000, 9), segment(20, 1, 1_900_000, 60_000, 9)],
        ..empty_log()
    };
    let day = |zone: &TimeZone| -> Vec<Option<Date>> {
        sessions_of(log.clone(), vec![], zone).into_iter().map(|session| session.day).collect()
    };
    assert_eq!(day(&TimeZone::fixed(offset(2))), [Some(date(2026, 3, 2))]);
    assert_eq!(day(&TimeZone::fixed(offset(3))), [Some(date(2026, 3, 3))], "half past midnight in UTC+3");
}

#[test]
fn a_moment_of_uncertain_date_has_a_day_only_when_all_of_it_lies_on_that_day() {
    let between = |from: i64, to: i64| When::Between {
        earliest: UtcMillis(MONDAY_8 + from * HOUR),
        latest: UtcMillis(MONDAY_8 + to * HOUR),
    };
    assert_eq!(day_of(between(0, 15), &TimeZone::UTC), Some(date(2026, 3, 2)));
    assert_eq!(day_of(between(0, 16), &TimeZone::UTC), None);
    assert_eq!(day_of(When::Undated, &TimeZone::UTC), None);
}

#[test]
fn a_session_counted_to_two_holders_has_two_parts_that_add_up_to_it() {
    use crate::entries::{Certainty, Owner};
    let log = in_one_boot(vec![
        segment(10, 1, 0, 5_000, 60),
        segment(20, 1, 10_000, 6_000, 70),
        segment(30, 1, 20_000, 7_000, 80),
    ]);
    let studio = Studio::of(&entries([test_facts::assigned(30, 30, Owner::Care, Certainty::Explicit)]));
    let logs = [log];
    let ledger = Ledger::of(&studio, &logs);
    let session = &of_log(&ledger.logs[0], &TimeZone::UTC)[0];
    let parts: Vec<_> = session
        .parts(&ledger.logs[0])
        .into_iter()
        .map(|part| (part.first, part.last, part.run.0, part.edges, part.bursts))
        .collect();
    assert_eq!(
        parts,
        [(RecordSeq(10), RecordSeq(20), 11_000, 130, 2), (RecordSeq(30), RecordSeq(30), 7_000, 80, 1)]
    );
}

/// Moments at which clocks change, by the tz database: Europe/Berlin forward at 01:00 UTC on 29 March 2026 and back at 01:00
/// UTC on 25 October 2026 (Directive 2000/84/EC); Australia/Lord_Howe by half an hour, back at 15:00 UTC on 4 April 2026 and
/// forward at 15:30 UTC on 3 October 2026; Africa/Cairo at midnight, forward at 22:00 UTC on 23 April 2026, and back at 21:00 UTC
/// on 29 October 2026, when it became 23:00 of the same day again; America/New_York forward at 07:00 UTC on 8 March 2026 and back at 06:00
/// UTC on 1 November 2026 (Energy Policy Act of 2005, section 110).
#[test]
fn a_session_over_a_clock_change_keeps_its_run_time_and_lies_on_the_local_day_on_which_it_began() {
    for (zone, changes, day) in [
        ("Europe/Berlin", "2026-03-29T01:00:00Z", date(2026, 3, 29)),
        ("Europe/Berlin", "2026-10-25T01:00:00Z", date(2026, 10, 25)),
        ("Australia/Lord_Howe", "2026-04-04T15:00:00Z", date(2026, 4, 5)),
        ("Australia/Lord_Howe", "2026-10-03T15:30:00Z", date(2026, 10, 4)),
        ("Africa/Cairo", "2026-04-23T22:00:00Z", date(2026, 4, 23)),
        ("Africa/Cairo", "2026-10-29T21:00:00Z", date(2026, 10, 29)),
        ("America/New_York", "2026-03-08T07:00:00Z", date(2026, 3, 8)),
        ("America/New_York", "2026-11-01T06:00:00Z", date(2026, 11, 1)),
    ] {
        let change: jiff::Timestamp = changes.parse().unwrap();
        // Half an hour before the change the session begins; it runs ten minutes, rests nine, and runs on over the change.
        let begins = change.as_millisecond() - 1_800_000;
        let log = LogRecords {
            events: vec![anchor(1, 1, 0, begins, Host)],
            segments: vec![segment(10, 1, 0, 600_000, 9), segment(20, 1, 1_140_000, 1_800_000, 9)],
            ..empty_log()
        };
        let zone_of_the_maker = TimeZone::get(zone).unwrap();
        let found = sessions_of(log, vec![], &zone_of_the_maker);
        let told: Vec<_> = found.iter().map(|session| (session.day, session.run.0)).collect();
        assert_eq!(told, [(Some(day), 2_400_000)], "{zone} {changes}");
    }
}

/// The hour that the clocks show twice: 00:30 UTC and 01:30 UTC on 25 October 2026 are both half past two in Berlin.
#[test]
fn two_sessions_in_the_hour_that_comes_twice_stay_two_and_in_order() {
    let first: jiff::Timestamp = "2026-10-25T00:30:00Z".parse().unwrap();
    let log = LogRecords {
        events: vec![anchor(1, 1, 0, first.as_millisecond(), Host)],
        segments: vec![segment(10, 1, 0, 60_000, 9), segment(20, 1, 3_600_000, 60_000, 9)],
        ..empty_log()
    };
    let found = sessions_of(log, vec![], &TimeZone::get("Europe/Berlin").unwrap());
    let told: Vec<_> = found.iter().map(|session| (session.day, session.starts)).collect();
    let at = |minutes: i64| When::Dated(UtcMillis(first.as_millisecond() + minutes * 60_000));
    assert_eq!(told, [(Some(date(2026, 10, 25)), at(0)), (Some(date(2026, 10, 25)), at(60))]);
}
