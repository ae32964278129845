use jiff::tz::TimeZone;
use shared_types::log::ClockSource::Host;
use shared_types::{LogId, LoggerId};

use super::*;
use crate::entries::{EntryBody, Fitting, InForce};
use crate::records::log_records::{LogKey, LogRecords};
use crate::studio::loans::loans;
use crate::test_facts::{HOUR, MONDAY_8, anchor, empty_log, entries, segment};
use shared_types::RecordSeq;

fn added(tag: u32, pile: Pile, before: Option<u64>) -> EntryBody {
    // As an older program wrote it, so that what is added to a machine later does not matter here.
    serde_json::from_value(serde_json::json!({
        "kind": "machine_added", "machine": tag, "name": format!("machine {tag}"), "pile": pile,
        "before_logger": before, "since": MONDAY_8,
    }))
    .unwrap()
}

fn fitted(tag: u32) -> EntryBody {
    EntryBody::LoggerFitted(Fitting {
        machine: MachineTag(tag),
        logger: LoggerId(tag.into()),
        log: LogId(tag),
        from: RecordSeq(0),
    })
}

/// A logger of its own number, with bursts at so many hours after eight, of so many seconds.
fn log(tag: u32, bursts: &[(u64, u64)]) -> LogRecords {
    let segments = (2..)
        .zip(bursts)
        .map(|(seq, (hour, seconds))| segment(seq, 1, hour * 3_600_000, seconds * 1_000, 1))
        .collect();
    LogRecords {
        key: LogKey { logger: LoggerId(tag.into()), log: LogId(tag) },
        events: vec![anchor(1, 1, 0, MONDAY_8, Host)],
        segments,
        ..empty_log()
    }
}

fn report(said: &InForce<'_>, logs: &[LogRecords], period: Period) -> SpreadReport {
    let studio = Studio::of(said);
    let ledger = Ledger::of(&studio, logs);
    let hours = HoursReport::of(&studio, &ledger, &TimeZone::UTC);
    spread(&studio, &ledger, &hours, &loans(said), period)
}

#[test]
fn shares_are_of_the_same_pile_and_the_least_used_comes_next() {
    let said = entries([
        added(1, Pile::Cut, None),
        added(2, Pile::Cut, None),
        added(3, Pile::Loop, None),
        fitted(1),
        fitted(2),
        fitted(3),
    ]);
    let logs = [log(1, &[(0, 300)]), log(2, &[(0, 100)]), log(3, &[(0, 7)])];
    let report = report(&said, &logs, Period::default());
    let shares: Vec<_> = report
        .groups
        .iter()
        .map(|group| group.machines.iter().map(|line| line.share).collect::<Vec<_>>())
        .collect();
    assert_eq!(shares, [vec![Some(0.75), Some(0.25)], vec![Some(1.0)]]);
    assert_eq!(report.groups[0].take_next, Some(MachineTag(2)));
    assert_eq!(report.groups[1].take_next, None, "there is no other to take");
}

#[test]
fn only_the_period_counts_and_its_ends_are_exact() {
    let said = entries([added(1, Pile::Cut, None), added(2, Pile::Cut, None), fitted(1), fitted(2)]);
    let logs = [log(1, &[(0, 5), (1, 7), (2, 11)]), log(2, &[(1, 1)])];
    let period =
        Period { since: Some(UtcMillis(MONDAY_8 + HOUR)), until: Some(UtcMillis(MONDAY_8 + 2 * HOUR)) };
    let report = report(&said, &logs, period);
    assert_eq!(report.groups[0].machines[0].run_time_ms, 7_000);
    assert_eq!(report.groups[0].machines[0].measured_ever_ms, 23_000);
    assert_eq!(report.groups[0].machines[0].share, Some(7.0 / 8.0));
}

#[test]
fn of_machines_that_ran_alike_the_one_with_fewer_hours_ever_comes_next_and_nothing_has_no_share() {
    let said = entries([added(1, Pile::Cut, Some(3_600_000)), added(2, Pile::Cut, None)]);
    let report = report(&said, &[], Period::default());
    assert_eq!(report.groups[0].take_next, Some(MachineTag(2)));
    assert_eq!(report.groups[0].machines[0].share, None);
}

#[test]
fn what_may_have_been_in_the_period_is_in_no_share() {
    let said = entries([added(1, Pile::Cut, None), added(2, Pile::Cut, None), fitted(1)]);
    let undated = LogRecords { events: vec![], ..log(1, &[(0, 5)]) };
    let period = Period { since: Some(UtcMillis(MONDAY_8)), until: None };
    let report = report(&said, &[undated], period);
    let line = &report.groups[0].machines[0];
    assert_eq!((line.run_time_ms, line.perhaps_run_time_ms, line.share), (0, 5_000, None));
}
