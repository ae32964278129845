use super::*;
use crate::records::log_records::LogRecords;
use crate::studio::Studio;
use crate::test_facts::{HOUR, MINUTE, MONDAY_8, anchor, empty_log, entries, fitted, machine, segment};
use jiff::civil::date;
use jiff::tz::TimeZone;
use shared_types::log::ClockSource::Host;

const MACHINE: MachineTag = MachineTag(1);

/// One boot that starts at `utc`, with bursts at so many minutes of uptime, each so many minutes long.
fn days_of(zone: &TimeZone, utc: i64, bursts: &[(i64, i64)]) -> RunDays {
    let ms = |minutes: i64| u64::try_from(minutes * MINUTE).unwrap();
    let segments =
        (10..).zip(bursts).map(|(seq, (at, run))| segment(seq, 1, ms(*at), ms(*run), 100)).collect();
    let log = LogRecords { events: vec![anchor(1, 1, 0, utc, Host)], segments, ..empty_log() };
    let studio = Studio::of(&entries([machine(1), fitted(1, 0)]));
    let logs = [log];
    run_days(&Ledger::of(&studio, &logs), MACHINE, zone, |_| true)
}

#[test]
fn a_run_over_midnight_is_cut_there() {
    // Monday 8:00 UTC plus 15 h 50 min is ten minutes to midnight; 25 minutes are 10 on Monday and 15 on Tuesday.
    let days = days_of(&TimeZone::UTC, MONDAY_8, &[(950, 25)]);
    let minutes: Vec<_> = days.by_day.iter().map(|(day, run)| (*day, run / 60_000)).collect();
    assert_eq!(minutes, [(date(2026, 3, 2), 10), (date(2026, 3, 3), 15)]);
    assert_eq!(
        days,
        days_of(&TimeZone::UTC, MONDAY_8, &[(950, 4), (954, 6), (960, 15)]),
        "split as you like"
    );
}

#[test]
fn a_day_of_twenty_three_hours_ends_when_its_midnight_comes() {
    // Zone database, Europe/Berlin: clocks go from 02:00 to 03:00 on 29 March 2026, so that day runs from 28 March 23:00
    // UTC to 29 March 22:00 UTC. 28 March 23:00 UTC is 26 days and 15 hours after Monday 2 March 08:00.
    let berlin = TimeZone::get("Europe/Berlin").unwrap();
    let starts = MONDAY_8 + 26 * 24 * HOUR + 15 * HOUR;
    let days = days_of(&berlin, starts - 30 * MINUTE, &[(0, 60), (22 * 60, 120)]);
    let minutes: Vec<_> = days.by_day.iter().map(|(day, run)| (*day, run / 60_000)).collect();
    // The second run goes from 28 March 22:30 + 22 h = 29 March 20:30 to 22:30 UTC: 90 minutes before midnight, 30 after.
    assert_eq!(minutes, [(date(2026, 3, 28), 30), (date(2026, 3, 29), 30 + 90), (date(2026, 3, 30), 30)]);
}

#[test]
fn running_without_a_date_is_kept_apart() {
    let log = LogRecords { segments: vec![segment(10, 1, 0, 60_000, 100)], ..empty_log() };
    let studio = Studio::of(&entries([machine(1), fitted(1, 0)]));
    let logs = [log];
    let days = run_days(&Ledger::of(&studio, &logs), MACHINE, &TimeZone::UTC, |_| true);
    assert_eq!((days.by_day.len(), days.day_unknown_ms), (0, 60_000));
    let other = run_days(&Ledger::of(&studio, &logs), MachineTag(2), &TimeZone::UTC, |_| true);
    assert_eq!(other, RunDays::default());
}
