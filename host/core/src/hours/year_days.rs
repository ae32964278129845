//! A year of running by the maker's days. A session belongs to the local day on which it began.

use std::collections::BTreeMap;

use jiff::civil::Date;
use jiff::tz::TimeZone;
use serde::{Serialize, Serializer};
use shared_types::MachineTag;

use crate::sessions;
use crate::sessions::ledger::Ledger;
use crate::studio::Studio;

/// One day on which a machine ran.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct DayUse {
    /// The local day.
    #[serde(serialize_with = "as_text")]
    pub day: Date,
    /// Motor moving, in milliseconds.
    pub run_time_ms: u64,
    /// The part of it that was typed in, in milliseconds.
    pub entered_run_time_ms: u64,
    /// Sessions that began on it.
    pub sessions: u64,
}

fn as_text<S: Serializer>(day: &Date, out: S) -> Result<S::Ok, S::Error> {
    out.collect_str(day)
}

/// The series of the picture `year`.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct YearReport {
    /// The year.
    pub year: i16,
    /// The days on which something ran, in order.
    pub days: Vec<DayUse>,
    /// All of them together, in milliseconds.
    pub run_time_ms: u64,
    /// Their sessions.
    pub sessions: u64,
    /// Running of sessions whose day is not certain, of any year, in milliseconds; not in the days.
    pub day_not_known_run_time_ms: u64,
}

impl YearReport {
    /// A year of all machines or of one. Without a year: that of the last day on which something ran, else `this_year`.
    #[must_use]
    pub fn of(
        studio: &Studio,
        ledger: &Ledger<'_>,
        machine: Option<MachineTag>,
        year: Option<i16>,
        this_year: i16,
        zone: &TimeZone,
    ) -> Self {
        let mut by_day: BTreeMap<Date, DayUse> = BTreeMap::new();
        let mut day_not_known_run_time_ms: u64 = 0;
        for session in ledger.logs.iter().flat_map(|log| sessions::of_log(log, zone)) {
            if machine.is_some() && session.machine != machine {
                continue;
            }
            match session.day {
                Some(day) => add(&mut by_day, day, session.run.0, 0),
                None => {
                    day_not_known_run_time_ms = day_not_known_run_time_ms.saturating_add(session.run.0);
                }
            }
        }
        for session in &studio.worked {
            if machine.is_none() || machine == Some(session.said.machine) {
                match sessions::local_day(session.said.at, zone) {
                    Some(day) => add(&mut by_day, day, session.run_ms, session.run_ms),
                    None => {
                        day_not_known_run_time_ms = day_not_known_run_time_ms.saturating_add(session.run_ms);
                    }
                }
            }
        }
        let last = by_day.last_key_value().map(|(day, _)| day.year());
        let year = year.or(last).unwrap_or(this_year);
        let days: Vec<DayUse> = by_day.into_values().filter(|on| on.day.year() == year).collect();
        Self {
            year,
            run_time_ms: days.iter().fold(0, |sum, on| sum.saturating_add(on.run_time_ms)),
            sessions: days.iter().map(|on| on.sessions).sum(),
            days,
            day_not_known_run_time_ms,
        }
    }
}

/// Adds a session to its day.
fn add(by_day: &mut BTreeMap<Date, DayUse>, day: Date, run_ms: u64, entered_ms: u64) {
    let nothing = DayUse { day, run_time_ms: 0, entered_run_time_ms: 0, sessions: 0 };
    let on = by_day.entry(day).or_insert(nothing);
    on.run_time_ms = on.run_time_ms.saturating_add(run_ms);
    on.entered_run_time_ms = on.entered_run_time_ms.saturating_add(entered_ms);
    on.sessions += 1;
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::records::log_records::LogRecords;
    use crate::test_facts::{HOUR, MONDAY_8, anchor, empty_log, entries, fitted, machine, segment};
    use jiff::civil::date;
    use shared_types::log::ClockSource::Host;

    #[test]
    fn sessions_are_added_by_the_local_day_on_which_they_began() {
        let said = entries([machine(1), fitted(1, 0)]);
        let hour = HOUR.unsigned_abs();
        // Monday at eight, at ten, and at half past eleven in the evening, in UTC.
        let segments = vec![
            segment(10, 1, 0, 60_000, 9),
            segment(11, 1, 2 * hour, 30_000, 9),
            segment(12, 1, 15 * hour + hour / 2, 7_000, 9),
        ];
        let logs = [LogRecords { events: vec![anchor(1, 1, 0, MONDAY_8, Host)], segments, ..empty_log() }];
        let studio = Studio::of(&said);
        let ledger = Ledger::of(&studio, &logs);
        let days = |zone: &TimeZone| -> Vec<(Date, u64, u64)> {
            let report = YearReport::of(&studio, &ledger, None, None, 1999, zone);
            report.days.iter().map(|on| (on.day, on.run_time_ms, on.sessions)).collect()
        };
        assert_eq!(days(&TimeZone::UTC), [(date(2026, 3, 2), 97_000, 3)]);
        let east = TimeZone::fixed(jiff::tz::offset(1));
        assert_eq!(days(&east), [(date(2026, 3, 2), 90_000, 2), (date(2026, 3, 3), 7_000, 1)]);
        let other = YearReport::of(&studio, &ledger, None, Some(2025), 1999, &TimeZone::UTC);
        assert_eq!((other.year, other.days.len(), other.run_time_ms), (2025, 0, 0));
        let nothing = YearReport::of(&studio, &ledger, Some(MachineTag(2)), None, 1999, &TimeZone::UTC);
        assert_eq!((nothing.year, nothing.days.len()), (1999, 0));
    }
}
