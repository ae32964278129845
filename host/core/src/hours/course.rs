//! How a machine's running hours grew, with the care that was given on the way.

use jiff::tz::TimeZone;
use serde::Serialize;
use shared_types::MachineTag;

use crate::entries::{EntryBody, InForce};
use crate::records::when::When;
use crate::sessions;
use crate::sessions::ledger::Ledger;
use crate::studio::{MachineCard, Studio};

/// A session's end, and the running until then.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct CoursePoint {
    /// When the session began, in milliseconds UTC.
    pub from_utc_ms: i64,
    /// When it ended, in milliseconds UTC.
    pub to_utc_ms: i64,
    /// Running of all dated sessions until its end, in milliseconds.
    pub run_time_ms: u64,
}

/// Care that was given.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct CareMark {
    /// When, in milliseconds UTC.
    pub at_utc_ms: i64,
    /// Which task.
    pub task: String,
    /// Running of all dated sessions until then, in milliseconds.
    pub run_time_ms: u64,
}

/// The series of the picture `hours`.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct HoursCourse {
    /// The machine's number.
    pub machine: u32,
    /// Its name.
    pub machine_name: String,
    /// In the order of time.
    pub points: Vec<CoursePoint>,
    /// In the order of time.
    pub care: Vec<CareMark>,
    /// The part of the running that was typed in, in milliseconds.
    pub entered_run_time_ms: u64,
    /// Running of sessions that cannot be dated well enough, in milliseconds; not in the points.
    pub not_dated_run_time_ms: u64,
}

impl HoursCourse {
    /// The course of one machine.
    #[must_use]
    pub fn of(
        entries: &InForce<'_>,
        studio: &Studio,
        ledger: &Ledger<'_>,
        machine: &MachineCard,
        zone: &TimeZone,
    ) -> Self {
        let mut dated: Vec<(i64, i64, u64)> = Vec::new();
        let mut not_dated_run_time_ms: u64 = 0;
        for session in ledger.logs.iter().flat_map(|log| sessions::of_log(log, zone)) {
            if session.machine != Some(machine.tag) {
                continue;
            }
            match (session.starts, session.ends) {
                (When::Dated(from), When::Dated(to)) => dated.push((from.0, to.0, session.run.0)),
                _ => not_dated_run_time_ms = not_dated_run_time_ms.saturating_add(session.run.0),
            }
        }
        let mut entered_run_time_ms: u64 = 0;
        for session in studio.worked.iter().filter(|session| session.said.machine == machine.tag) {
            // Of a day alone the running stands at its noon.
            let ends = if session.said.is_day { session.said.at } else { session.span().1 };
            dated.push((session.said.at.0, ends.0, session.run_ms));
            entered_run_time_ms = entered_run_time_ms.saturating_add(session.run_ms);
        }
        dated.sort_unstable();
        let mut sum: u64 = 0;
        let mut points = Vec::with_capacity(dated.len());
        for (from_utc_ms, to_utc_ms, run) in dated {
            sum = sum.saturating_add(run);
            points.push(CoursePoint { from_utc_ms, to_utc_ms, run_time_ms: sum });
        }
        let care = care(entries, machine.tag, &points);
        Self {
            machine: machine.tag.0,
            machine_name: machine.name.clone(),
            points,
            care,
            entered_run_time_ms,
            not_dated_run_time_ms,
        }
    }
}

fn care(entries: &InForce<'_>, machine: MachineTag, points: &[CoursePoint]) -> Vec<CareMark> {
    let mut marks: Vec<CareMark> = entries
        .iter()
        .filter_map(|entry| match &entry.body {
            EntryBody::CareDone(done) if done.machine == machine => Some(CareMark {
                at_utc_ms: done.at.0,
                task: done.task.0.clone(),
                run_time_ms: run_until(points, done.at.0),
            }),
            _ => None,
        })
        .collect();
    marks.sort_by_key(|mark| mark.at_utc_ms);
    marks
}

fn run_until(points: &[CoursePoint], at: i64) -> u64 {
    let next = points.partition_point(|point| point.to_utc_ms <= at);
    next.checked_sub(1).and_then(|last| points.get(last)).map_or(0, |point| point.run_time_ms)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::entries::{CareDone, CareTaskName};
    use crate::records::log_records::LogRecords;
    use crate::test_facts::{HOUR, MONDAY_8, anchor, empty_log, entries, fitted, machine, segment};
    use shared_types::UtcMillis;
    use shared_types::log::ClockSource::Host;

    #[test]
    fn hours_grow_from_session_to_session_and_care_stands_where_it_was_given() {
        let done = EntryBody::CareDone(CareDone {
            machine: MachineTag(1),
            task: CareTaskName("oiling".to_owned()),
            at: UtcMillis(MONDAY_8 + HOUR),
            finding: None,
            note: None,
        });
        let said = entries([machine(1), fitted(1, 0), done]);
        // Boot 2 has no clock reading and nobody heard the logger later: its session cannot be dated.
        let segments = vec![
            segment(10, 1, 0, 60_000, 9),
            segment(11, 1, 7_200_000, 30_000, 9),
            segment(20, 2, 0, 5_000, 9),
        ];
        let logs = [LogRecords { events: vec![anchor(1, 1, 0, MONDAY_8, Host)], segments, ..empty_log() }];
        let studio = Studio::of(&said);
        let course = studio
            .machine(MachineTag(1))
            .map(|card| HoursCourse::of(&said, &studio, &Ledger::of(&studio, &logs), card, &TimeZone::UTC));
        let sums = course.as_ref().map(|course| {
            let sums: Vec<u64> = course.points.iter().map(|point| point.run_time_ms).collect();
            (sums, course.care.first().map(|mark| mark.run_time_ms), course.not_dated_run_time_ms)
        });
        assert_eq!(sums, Some((vec![60_000, 90_000], Some(60_000), 5_000)));
    }
}
