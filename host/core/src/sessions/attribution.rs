//! Whose bursts are whose: what the maker moved or confirmed, else a dry run after care, else the commission that was
//! active at that time, else nobody's.

use std::collections::{BTreeMap, BTreeSet};

use shared_types::log::PressKind;
use shared_types::{MachineTag, RecordSeq, UtcMillis};

use super::dry_run::{self, Run};
use super::holder::{Attribution, Basis, Holder};
use crate::entries::{Certainty, Owner};
use crate::records::bursts::Burst;
use crate::records::log_records::{LogKey, LogRecords, LoggedEvent};
use crate::records::timeline::Timeline;
use crate::records::when::When;
use crate::studio::loans::Loan;
use crate::studio::{RugIndex, Studio};

/// A dry run starts at most this long after the care button was pressed, in milliseconds.
pub const DRY_RUN_STARTS_WITHIN_MS: u64 = 120_000;
/// A dry run lasts at most this long, in milliseconds.
pub const DRY_RUN_LASTS_AT_MOST_MS: u64 = 90_000;

/// Attributes the bursts of one log.
#[derive(Debug)]
pub struct Attributor {
    claims: Claims,
    active: BTreeMap<Option<MachineTag>, ActiveTimes>,
    dry_runs: Vec<RecordSeq>,
}

impl Attributor {
    /// Prepares what the maker said about one log and its machines. `bursts` are all of the log's, in order.
    #[must_use]
    pub fn of(studio: &Studio, log: &LogRecords, bursts: &[Burst], timeline: &Timeline) -> Self {
        let mut dry_runs = dry_runs(studio, log, bursts);
        dry_runs.extend(dry_runs_of_entries(studio, log, bursts, timeline));
        dry_runs.sort_unstable();
        let machines = studio.machines.iter().map(|machine| Some(machine.tag)).chain([None]);
        Self {
            claims: Claims::of(studio, log.key),
            active: machines.map(|machine| (machine, ActiveTimes::of(studio, machine))).collect(),
            dry_runs,
        }
    }

    /// To whom a burst is counted.
    #[must_use]
    pub fn attribute(&self, burst: &Burst, machine: Option<MachineTag>, when: When) -> Attribution {
        if let Some(claimed) = self.claims.at(burst.first) {
            return claimed;
        }
        if self.dry_runs.binary_search(&burst.first).is_ok() {
            return Attribution { holder: Holder::Care, basis: Basis::Assumed };
        }
        // A machine that was never entered has no commissions of its own, only those for every machine.
        match self.active.get(&machine).or_else(|| self.active.get(&None)) {
            Some(times) => times.attribute(when),
            None => Attribution { holder: Holder::Unassigned, basis: Basis::NothingActive },
        }
    }
}

/// The first burst after each press of the care button, where it comes soon and is short.
fn dry_runs(studio: &Studio, log: &LogRecords, bursts: &[Burst]) -> Vec<RecordSeq> {
    log.events
        .iter()
        .filter(|event| matches!(&event.what, LoggedEvent::Press(press) if press.kind == PressKind::CareDone))
        .filter(|event| !studio.withdrawn_presses.contains(&(log.key, event.seq)))
        .filter_map(|event| {
            let next = bursts.get(bursts.partition_point(|burst| burst.first < event.seq))?;
            let soon = next.boot == event.boot
                && next.at >= event.at
                && next.at.0 - event.at.0 <= DRY_RUN_STARTS_WITHIN_MS;
            (soon && next.run.0 <= DRY_RUN_LASTS_AT_MOST_MS).then_some(next.first)
        })
        .collect()
}

/// The dry runs after the oilings that the maker entered; see [`dry_run`] for the rule.
fn dry_runs_of_entries(
    studio: &Studio,
    log: &LogRecords,
    bursts: &[Burst],
    timeline: &Timeline,
) -> Vec<RecordSeq> {
    let mut found = Vec::new();
    for machine in &studio.machines {
        let mut oiled =
            studio.oilings.iter().filter(|(tag, _)| *tag == machine.tag).map(|(_, at)| *at).peekable();
        if oiled.peek().is_none() {
            continue;
        }
        let here = bursts
            .iter()
            .filter(|burst| studio.fittings.machine_of(log.key, burst.first) == Some(machine.tag));
        let mut dates = timeline.in_order();
        let dated = |burst: &Burst| Run::of(burst.first, dates.when(burst.boot, burst.at), burst.run.0);
        let mut runs: Vec<Run> = here.filter_map(dated).collect();
        // A clock that was set back can put a later boot before an earlier one.
        runs.sort_by_key(|run| run.start_utc_ms);
        found.extend(oiled.flat_map(|at| dry_run::find(&runs, at)));
    }
    found
}

/// Ranges of record numbers that the maker gave to somebody, without overlap.
#[derive(Debug, Default)]
struct Claims {
    from: BTreeMap<u32, (u32, Attribution)>,
}

impl Claims {
    /// Lays the confirmed ones down first and the explicit ones over them, each in the order of entry, so that an
    /// explicit one always wins and among equals the later one.
    fn of(studio: &Studio, log: LogKey) -> Self {
        let mut claims = Self::default();
        for certainty in [Certainty::Confirmed, Certainty::Explicit] {
            let of_log = studio.assignments.iter().filter(|claim| {
                claim.certainty == certainty && claim.logger == log.logger && claim.log == log.log
            });
            for claim in of_log {
                let basis = match certainty {
                    Certainty::Explicit => Basis::Explicit,
                    Certainty::Confirmed => Basis::Confirmed,
                };
                let attribution = match &claim.owner {
                    Owner::Care => Attribution { holder: Holder::Care, basis },
                    Owner::Nobody => Attribution { holder: Holder::Unassigned, basis },
                    Owner::Rug(name) => match studio.rug_index(name) {
                        Some(index) => Attribution { holder: Holder::Rug(index), basis },
                        None => Attribution { holder: Holder::Unassigned, basis: Basis::RugIsGone },
                    },
                };
                claims.lay(claim.from.0, claim.to.0, attribution);
            }
        }
        claims
    }

    fn lay(&mut self, from: u32, to: u32, attribution: Attribution) {
        if from > to {
            return;
        }
        let covered: Vec<u32> = self
            .from
            .range(..=to)
            .rev()
            .take_while(|(_, (end, _))| *end >= from)
            .map(|(start, _)| *start)
            .collect();
        for start in covered {
            let Some((end, before)) = self.from.remove(&start) else { continue };
            if let Some(left_end) = from.checked_sub(1).filter(|_| start < from) {
                self.from.insert(start, (left_end, before));
            }
            if let Some(right_start) = to.checked_add(1).filter(|_| end > to) {
                self.from.insert(right_start, (end, before));
            }
        }
        self.from.insert(from, (to, attribution));
    }

    fn at(&self, seq: RecordSeq) -> Option<Attribution> {
        let (_, (end, attribution)) = self.from.range(..=seq.0).next_back()?;
        (*end >= seq.0).then_some(*attribution)
    }
}

/// Who was active, from each change on until the next. While the machine is lent out no commission is.
#[derive(Debug)]
struct ActiveTimes {
    slots: Vec<(UtcMillis, Active)>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Active {
    Nobody,
    One(RugIndex),
    Several,
    Lent,
}

/// Subject of an active interval.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Spell {
    Work(RugIndex),
    Loan,
}

impl ActiveTimes {
    fn of(studio: &Studio, machine: Option<MachineTag>) -> Self {
        let mut changes: Vec<(UtcMillis, bool, Spell)> = Vec::new();
        let mut add = |start, end: Option<UtcMillis>, spell| {
            changes.push((start, true, spell));
            changes.extend(end.map(|end| (end, false, spell)));
        };
        for (index, rug) in studio.rugs.iter().enumerate() {
            for (start, end) in rug.active_periods(machine) {
                add(start, end, Spell::Work(RugIndex::of(index)));
            }
        }
        let is_a_time = |loan: &&Loan| loan.back_utc_ms.is_none_or(|back| loan.out_utc_ms < back);
        for loan in studio.loans.iter().filter(|loan| Some(loan.machine) == machine).filter(is_a_time) {
            add(loan.out_utc_ms, loan.back_utc_ms, Spell::Loan);
        }
        changes.sort_by_key(|(at, ..)| *at);
        let mut now: BTreeSet<Spell> = BTreeSet::new();
        let mut slots: Vec<(UtcMillis, Active)> = Vec::new();
        for at_once in changes.chunk_by(|one, next| one.0 == next.0) {
            // Ends come first, so that a rug that pauses and starts at the same moment stays.
            for (_, _, spell) in at_once.iter().filter(|(_, starts, _)| !starts) {
                now.remove(spell);
            }
            now.extend(at_once.iter().filter(|(_, starts, _)| *starts).map(|(_, _, spell)| *spell));
            let active = match (now.first(), now.len()) {
                _ if now.contains(&Spell::Loan) => Active::Lent,
                (Some(Spell::Work(one)), 1) => Active::One(*one),
                (None | Some(Spell::Loan), _) => Active::Nobody,
                _ => Active::Several,
            };
            slots.extend(at_once.first().map(|(at, ..)| (*at, active)));
        }
        Self { slots }
    }

    fn attribute(&self, when: When) -> Attribution {
        let (earliest, latest) = match when {
            When::Dated(at) => (at, at),
            When::Between { earliest, latest } => (earliest, latest),
            When::Undated => return Attribution { holder: Holder::Undated, basis: Basis::TimeUncertain },
        };
        let first = self.slots.partition_point(|(from, _)| *from <= earliest);
        let last = self.slots.partition_point(|(from, _)| *from <= latest);
        let before_all = (first == 0).then_some(Active::Nobody);
        let during = self.slots.get(first.saturating_sub(1)..last).unwrap_or_default();
        let mut kinds = before_all.into_iter().chain(during.iter().map(|(_, active)| *active));
        let start = kinds.next().unwrap_or(Active::Nobody);
        if kinds.any(|active| active != start) {
            return Attribution { holder: Holder::Undated, basis: Basis::TimeUncertain };
        }
        match start {
            Active::One(rug) => Attribution { holder: Holder::Rug(rug), basis: Basis::Assumed },
            Active::Nobody => Attribution { holder: Holder::Unassigned, basis: Basis::NothingActive },
            Active::Several => Attribution { holder: Holder::Unassigned, basis: Basis::SeveralActive },
            Active::Lent => Attribution { holder: Holder::Unassigned, basis: Basis::LentOut },
        }
    }
}

/// Which commission a machine's work belonged to at a moment, from what was active then alone.
#[must_use]
pub fn active_at(studio: &Studio, machine: MachineTag, when: When) -> Attribution {
    ActiveTimes::of(studio, Some(machine)).attribute(when)
}

#[cfg(test)]
#[path = "attribution_tests.rs"]
mod tests;
