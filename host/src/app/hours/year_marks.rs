//! What the picture of a year shows beside the running: rugs, oiling, tears, and the days of which nothing is known.

use std::collections::BTreeSet;

use jiff::civil::Date;
use jiff::tz::TimeZone;
use serde::{Serialize, Serializer};
use shared_types::{MachineTag, UtcMillis};

use crate::app::whole_book::Book;
use host_core::cloth::harms;
use host_core::entries::{EntryBody, Harm, OILING};
use host_core::hours::year_days::YearReport;
use host_core::records::when::When;
use host_core::rugs::rug_work;
use host_core::sessions::ledger::{Ledger, LedgerLog};
use host_core::sessions::{day_of, local_day};

/// Days from a first to a last.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
pub struct Days {
    /// The first.
    #[serde(serialize_with = "as_text")]
    pub first: Date,
    /// The last, included.
    #[serde(serialize_with = "as_text")]
    pub last: Date,
}

/// A rug that was worked on in the year.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct RugDays {
    /// Its name.
    pub rug: String,
    /// From its first session to its last, in any year.
    #[serde(flatten)]
    pub days: Days,
}

/// The series of the picture `year`.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct YearPicture {
    /// The running by day.
    #[serde(flatten)]
    pub report: YearReport,
    /// The running of the longest day, in milliseconds.
    pub longest_run_time_ms: u64,
    /// By their first day.
    pub rugs: Vec<RugDays>,
    /// Days on which the machine was oiled.
    #[serde(serialize_with = "all_as_text")]
    pub oiled: Vec<Date>,
    /// Days on which cloth tore.
    #[serde(serialize_with = "all_as_text")]
    pub torn: Vec<Date>,
    /// Stretches of the year of which no logger and no entry tells anything, until today.
    pub not_known: Vec<Days>,
    /// The last day of the year that has come; null where none has.
    #[serde(serialize_with = "host_core::entries::day_as_text")]
    pub last_day: Option<Date>,
}

fn as_text<S: Serializer>(day: &Date, out: S) -> Result<S::Ok, S::Error> {
    out.collect_str(day)
}

fn all_as_text<S: Serializer>(days: &[Date], out: S) -> Result<S::Ok, S::Error> {
    out.collect_seq(days.iter().map(Date::to_string))
}

/// What the marks are made of.
pub(super) struct YearGrounds<'a> {
    pub(super) book: &'a Book,
    pub(super) ledger: &'a Ledger<'a>,
    /// Only this machine.
    pub(super) machine: Option<MachineTag>,
    pub(super) zone: &'a TimeZone,
    pub(super) today: Option<Date>,
}

impl YearGrounds<'_> {
    /// A year with its marks.
    pub(super) fn picture(&self, report: YearReport) -> YearPicture {
        let in_year = |day: &Date| day.year() == report.year;
        let days = |of: BTreeSet<Date>| of.into_iter().filter(in_year).collect();
        let last_day = self.last_day(report.year);
        let told: BTreeSet<Date> = report.days.iter().map(|on| on.day).collect();
        let heard = self.heard();
        let is_known =
            |day: Date| told.contains(&day) || heard.iter().any(|days| days.first <= day && day <= days.last);
        YearPicture {
            longest_run_time_ms: report.days.iter().map(|on| on.run_time_ms).max().unwrap_or(0),
            rugs: self.rugs(report.year),
            oiled: days(self.oiled()),
            torn: days(self.torn()),
            not_known: last_day.map(|last| not_known(last, is_known)).unwrap_or_default(),
            last_day,
            report,
        }
    }

    fn is_asked(&self, machine: Option<MachineTag>) -> bool {
        self.machine.is_none() || machine == self.machine
    }

    fn last_day(&self, year: i16) -> Option<Date> {
        let last = Date::new(year, 12, 31).ok()?;
        let first = Date::new(year, 1, 1).ok()?;
        let until = self.today.map_or(last, |today| today.min(last));
        (until >= first).then_some(until)
    }

    /// From the first dated run of each logger on the machine to the last time that its running was heard of.
    fn heard(&self) -> Vec<Days> {
        self.ledger.logs.iter().filter_map(|log| self.heard_of(log)).collect()
    }

    fn heard_of(&self, log: &LedgerLog<'_>) -> Option<Days> {
        let lines = || log.lines.iter().filter(|line| self.is_asked(line.machine));
        let dated = || lines().filter_map(|line| day_of(line.when, self.zone));
        let (first, last) = (dated().min()?, dated().max()?);
        // Where the logger went to another machine afterwards, what was heard later tells nothing of this one.
        let is_still_there = log.lines.last().is_some_and(|line| self.is_asked(line.machine));
        let read = self.book.heard.iter().filter(|heard| is_still_there && heard.log == log.facts.key);
        let read = read.filter_map(|heard| local_day(heard.at, self.zone)).max();
        Some(Days { first, last: read.map_or(last, |read| read.max(last)) })
    }

    fn rugs(&self, year: i16) -> Vec<RugDays> {
        let studio = &self.book.studio;
        let taken = rug_work::taken(studio, self.ledger, self.zone);
        let mut rugs: Vec<RugDays> = taken
            .iter()
            .filter_map(|(index, taken)| {
                let shares = || taken.sessions.iter().filter(|share| self.is_asked(share.machine));
                let days = || shares().filter_map(|share| share.day);
                Some(RugDays {
                    rug: studio.rug_at(*index)?.order.rug.0.clone(),
                    days: Days { first: days().min()?, last: days().max()? },
                })
            })
            .filter(|rug| rug.days.first.year() <= year && year <= rug.days.last.year())
            .collect();
        rugs.sort_by_key(|rug| rug.days);
        rugs
    }

    fn oiled(&self) -> BTreeSet<Date> {
        let done = self.book.entries.iter().filter_map(|entry| match &entry.body {
            EntryBody::CareDone(done) if done.task.0 == OILING && self.is_asked(Some(done.machine)) => {
                Some(done.at)
            }
            _ => None,
        });
        done.filter_map(|UtcMillis(at)| local_day(UtcMillis(at), self.zone)).collect()
    }

    fn torn(&self) -> BTreeSet<Date> {
        let harms = harms(&self.book.entries, &self.book.studio, self.ledger);
        let tears = harms.iter().filter(|harm| harm.counts() && harm.harm == Harm::Tear);
        tears
            .filter(|tear| self.is_asked(tear.machine))
            .filter_map(|tear| match tear.when {
                When::Dated(at) => local_day(at, self.zone),
                When::Between { .. } | When::Undated => None,
            })
            .collect()
    }
}

/// Stretches from the first of January to a day of which nothing is known.
fn not_known(last: Date, is_known: impl Fn(Date) -> bool) -> Vec<Days> {
    let mut stretches: Vec<Days> = Vec::new();
    let mut day = last.first_of_year();
    while day <= last {
        if !is_known(day) {
            match stretches.last_mut().filter(|days| days.last.tomorrow().is_ok_and(|next| next == day)) {
                Some(days) => days.last = day,
                None => stretches.push(Days { first: day, last: day }),
            }
        }
        match day.tomorrow() {
            Ok(next) => day = next,
            Err(_) => break,
        }
    }
    stretches
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    #[test]
    fn days_of_which_nobody_tells_are_stretches_until_today() {
        let known = [date(2026, 1, 3), date(2026, 1, 4), date(2026, 1, 6)];
        let stretches = not_known(date(2026, 1, 8), |day| known.contains(&day));
        let days: Vec<(i8, i8)> = stretches.iter().map(|days| (days.first.day(), days.last.day())).collect();
        assert_eq!(days, [(1, 2), (5, 5), (7, 8)]);
        assert!(not_known(date(2026, 1, 8), |_| true).is_empty());
    }
}
