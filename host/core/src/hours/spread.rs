//! How running is spread over machines that can take each other's place: those that make the same pile.

use serde::Serialize;
use shared_types::{MachineTag, UtcMillis};

use super::report::{HoursReport, MachineHours};
use crate::entries::Pile;
use crate::records::when::When;
use crate::sessions::ledger::Ledger;
use crate::stats::number;
use crate::studio::loans::Loan;
use crate::studio::{MachineCard, Studio};

/// One machine of a group.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SpreadLine {
    /// Its number.
    pub machine: MachineTag,
    /// Its name.
    pub machine_name: String,
    /// Recorded run time in the period, in milliseconds.
    pub run_time_ms: u64,
    /// Run time written by hand for days in the period, in milliseconds.
    pub by_hand_run_time_ms: u64,
    /// Recorded run time that may have been in the period, in milliseconds; in no share.
    pub perhaps_run_time_ms: u64,
    /// Its share of what the group ran in the period, measured and by hand; none where nothing ran.
    pub share: Option<f64>,
    /// All that was ever counted on it, in milliseconds, with what is not recorded.
    pub measured_ever_ms: u64,
    /// The owner's estimate of run time before any logger was fitted, in milliseconds.
    pub before_logger_run_time_ms: Option<u64>,
    /// Whether it is lent out now.
    pub is_lent: bool,
    /// Whether it is out of use now.
    pub is_resting: bool,
}

impl SpreadLine {
    /// Measured and by hand, in the period.
    #[must_use]
    pub const fn in_period_ms(&self) -> u64 {
        self.run_time_ms.saturating_add(self.by_hand_run_time_ms)
    }

    /// Whether it can be taken: neither lent out nor out of use.
    #[must_use]
    pub const fn is_at_hand(&self) -> bool {
        !self.is_lent && !self.is_resting
    }
}

/// Machines that can take each other's place.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SpreadGroup {
    /// What they make.
    pub pile: Pile,
    /// The machines, in the order of their numbers.
    pub machines: Vec<SpreadLine>,
    /// The machine to take next: of those at hand the one that ran least in the period, of equal ones the one that ran
    /// least ever; none where there is no choice.
    pub take_next: Option<MachineTag>,
}

/// The answer of `machine spread`.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SpreadReport {
    /// The period's start, included, in milliseconds UTC; none: from the first record on.
    pub since_utc_ms: Option<UtcMillis>,
    /// The period's end, excluded, in milliseconds UTC; none: until now.
    pub until_utc_ms: Option<UtcMillis>,
    /// The groups.
    pub groups: Vec<SpreadGroup>,
}

/// A period of time; an open side is none.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Period {
    /// The first moment.
    pub since: Option<UtcMillis>,
    /// The first moment after it.
    pub until: Option<UtcMillis>,
}

impl Period {
    fn has(self, at: UtcMillis) -> bool {
        self.since.is_none_or(|since| at >= since) && self.until.is_none_or(|until| at < until)
    }

    /// Whether something was in it: surely, surely not, or perhaps (none).
    fn had(self, when: When) -> Option<bool> {
        if self == Self::default() {
            return Some(true);
        }
        let (earliest, latest) = when.earliest().zip(when.latest())?;
        match (self.has(earliest), self.has(latest)) {
            (true, true) => Some(true),
            (false, false) if self.has_none_between(earliest, latest) => Some(false),
            _ => None,
        }
    }

    fn has_none_between(self, earliest: UtcMillis, latest: UtcMillis) -> bool {
        self.since.is_some_and(|since| latest < since) || self.until.is_some_and(|until| earliest >= until)
    }
}

/// Adds up. `hours` are all machines' sums.
#[must_use]
pub fn spread(
    studio: &Studio,
    ledger: &Ledger<'_>,
    hours: &HoursReport,
    loans: &[Loan],
    period: Period,
) -> SpreadReport {
    let mut groups: Vec<SpreadGroup> = Vec::new();
    for card in &studio.machines {
        let line = line(card, studio, ledger, hours, loans, period);
        match groups.iter_mut().find(|group| group.pile == card.pile) {
            Some(group) => group.machines.push(line),
            None => groups.push(SpreadGroup { pile: card.pile, machines: vec![line], take_next: None }),
        }
    }
    for group in &mut groups {
        let all = group.machines.iter().fold(0, |sum: u64, line| sum.saturating_add(line.in_period_ms()));
        for line in &mut group.machines {
            line.share = (all > 0).then(|| number(line.in_period_ms()) / number(all));
        }
        let least = group.machines.iter().filter(|line| line.is_at_hand()).min_by_key(|line| {
            let ever = line.measured_ever_ms.saturating_add(line.before_logger_run_time_ms.unwrap_or(0));
            (line.in_period_ms(), ever, line.machine)
        });
        group.take_next = least.filter(|_| group.machines.len() > 1).map(|line| line.machine);
    }
    SpreadReport { since_utc_ms: period.since, until_utc_ms: period.until, groups }
}

fn line(
    card: &MachineCard,
    studio: &Studio,
    ledger: &Ledger<'_>,
    hours: &HoursReport,
    loans: &[Loan],
    period: Period,
) -> SpreadLine {
    let (mut run_time_ms, mut perhaps_run_time_ms) = (0_u64, 0_u64);
    let lines = ledger.logs.iter().flat_map(|log| &log.lines);
    for line in lines.filter(|line| line.machine == Some(card.tag)) {
        match period.had(line.when) {
            Some(true) => run_time_ms = run_time_ms.saturating_add(line.burst.run.0),
            Some(false) => {}
            None => perhaps_run_time_ms = perhaps_run_time_ms.saturating_add(line.burst.run.0),
        }
    }
    let by_hand = studio.worked.iter().filter(|one| one.said.machine == card.tag && period.has(one.said.at));
    let of_machine = hours.machines.iter().find(|hours| hours.machine == Some(card.tag.0));
    SpreadLine {
        machine: card.tag,
        machine_name: card.name.clone(),
        run_time_ms,
        by_hand_run_time_ms: by_hand.map(|session| session.run_ms).sum(),
        perhaps_run_time_ms,
        share: None,
        measured_ever_ms: of_machine.map_or(0, MachineHours::counted_run_time_ms),
        before_logger_run_time_ms: card.before_logger.map(|run| run.0),
        is_lent: loans.iter().any(|loan| loan.machine == card.tag && loan.is_away()),
        is_resting: card.resting.is_some(),
    }
}

#[cfg(test)]
#[path = "spread_tests.rs"]
mod tests;
