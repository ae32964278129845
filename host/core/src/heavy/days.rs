//! Run time by local day, cut at midnight to the millisecond, so that it does not matter how records divide a run.

use std::collections::BTreeMap;

use jiff::civil::Date;
use jiff::tz::TimeZone;
use shared_types::{MachineTag, UtcMillis};

use crate::records::when::When;
use crate::sessions::ledger::{Ledger, LedgerLine, LedgerLog};
use crate::sessions::local_day;
use crate::studio::worked::Worked;

/// A machine's run time by day.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct RunDays {
    /// Run time on each day on which it ran, in milliseconds.
    pub by_day: BTreeMap<Date, u64>,
    /// Run time of which the day is not certain, in milliseconds.
    pub day_unknown_ms: u64,
    /// The part of it that was typed in, in milliseconds.
    pub entered_ms: u64,
}

/// Sorts a machine's running by day. `counts` leaves bursts out.
#[must_use]
pub fn run_days(
    ledger: &Ledger<'_>,
    machine: MachineTag,
    zone: &TimeZone,
    counts: impl Fn(&LedgerLine) -> bool,
) -> RunDays {
    run_days_of(ledger, machine, zone, |_, line| counts(line))
}

/// The same, where it matters in which log a burst is.
#[must_use]
pub fn run_days_of(
    ledger: &Ledger<'_>,
    machine: MachineTag,
    zone: &TimeZone,
    counts: impl Fn(&LedgerLog<'_>, &LedgerLine) -> bool,
) -> RunDays {
    let mut days = RunDays::default();
    let mut calendar = Calendar { zone, today: None };
    for log in &ledger.logs {
        for line in log.lines.iter().filter(|line| line.machine == Some(machine) && counts(log, line)) {
            let run_ms = line.burst.run.0;
            match line.when {
                When::Dated(at) => calendar.add(&mut days, at, run_ms),
                When::Between { earliest, latest } => {
                    let ends = UtcMillis(latest.0.saturating_add(signed(run_ms)));
                    match (calendar.day_of(earliest), calendar.day_of(ends)) {
                        (Some(first), Some(last)) if first.date == last.date => {
                            days.add_to(first.date, run_ms);
                        }
                        _ => days.day_unknown_ms = days.day_unknown_ms.saturating_add(run_ms),
                    }
                }
                When::Undated => days.day_unknown_ms = days.day_unknown_ms.saturating_add(run_ms),
            }
        }
    }
    days
}

impl RunDays {
    /// Adds sessions that were typed in, each to the local day on which it began.
    #[must_use]
    pub fn with_typed<'s>(mut self, sessions: impl Iterator<Item = &'s Worked>, zone: &TimeZone) -> Self {
        for session in sessions {
            self.entered_ms = self.entered_ms.saturating_add(session.run_ms);
            match local_day(session.said.at, zone) {
                Some(day) => self.add_to(day, session.run_ms),
                None => self.day_unknown_ms = self.day_unknown_ms.saturating_add(session.run_ms),
            }
        }
        self
    }

    fn add_to(&mut self, date: Date, run_ms: u64) {
        let sum = self.by_day.entry(date).or_default();
        *sum = sum.saturating_add(run_ms);
    }
}

/// A local day and its limits; a day may have 23 or 25 hours.
#[derive(Clone, Copy, Debug)]
struct Day {
    date: Date,
    starts: i64,
    ends: i64,
}

impl Day {
    fn of(date: Date, zone: &TimeZone) -> Option<Self> {
        let start = |date: Date| {
            date.at(0, 0, 0, 0)
                .to_zoned_datetime(zone.clone())
                .ok()
                .map(|midnight| midnight.timestamp().as_millisecond())
        };
        Some(Self { date, starts: start(date)?, ends: start(date.tomorrow().ok()?)? })
    }
}

/// Knows the day looked at last, because bursts come in order and a day has thousands of them.
struct Calendar<'zone> {
    zone: &'zone TimeZone,
    today: Option<Day>,
}

impl Calendar<'_> {
    fn day_of(&mut self, at: UtcMillis) -> Option<Day> {
        if let Some(day) = self.today.filter(|day| (day.starts..day.ends).contains(&at.0)) {
            return Some(day);
        }
        self.today = Day::of(local_day(at, self.zone)?, self.zone);
        self.today
    }

    /// Adds a run from a known moment on, cut at each midnight.
    fn add(&mut self, days: &mut RunDays, at: UtcMillis, run_ms: u64) {
        let (mut from, mut left) = (at.0, run_ms);
        loop {
            let Some(day) = self.day_of(UtcMillis(from)) else {
                days.day_unknown_ms = days.day_unknown_ms.saturating_add(left);
                return;
            };
            let until_midnight = u64::try_from(day.ends.saturating_sub(from)).unwrap_or(0).max(1);
            let here = left.min(until_midnight);
            days.add_to(day.date, here);
            left -= here;
            if left == 0 {
                return;
            }
            from = from.saturating_add(signed(here));
        }
    }
}

fn signed(ms: u64) -> i64 {
    i64::try_from(ms).unwrap_or(i64::MAX)
}

#[cfg(test)]
#[path = "days_tests.rs"]
mod tests;
