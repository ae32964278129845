//! How long parts ran, from when they were fitted and taken off.
//!
//! A life goes from a fitting to the wear that ended it. A part that was taken off still good, or as a precaution, and is fitted
//! again under the same mark goes on with its old life. What was struck, broken, lost, taken off early or still runs is cut
//! short: it lasted at least so long.

use serde::Serialize;
use shared_types::{MachineTag, UtcMillis};

use super::running::{RunMeter, RunRange};
use crate::care::history::History;
use crate::entries::{EntryBody, EntryId, InForce, PartFitted, PartName, PartTakenOff, TakenOff};
use crate::stats::{DAY_MS, Life};

/// A machine's running, as far as parts need it.
#[derive(Clone, Debug)]
pub struct Grounds {
    /// The machine.
    pub machine: MachineTag,
    /// Its running.
    pub meter: RunMeter,
    /// The first moment of which anything is recorded or written by hand.
    pub first: Option<UtcMillis>,
}

impl Grounds {
    /// Gathers them.
    #[must_use]
    pub fn of(machine: MachineTag, history: &History) -> Self {
        let recorded = history.pieces.iter().filter_map(|piece| piece.earliest);
        let first = recorded.chain(history.by_hand.iter().map(|(at, _)| *at)).min();
        Self { machine, meter: RunMeter::of(history), first }
    }

    /// Whether a moment lies so long before the first record that the machine may have run unseen.
    #[must_use]
    pub fn is_before_records(&self, at: UtcMillis) -> bool {
        self.first.is_some_and(|first| at.0.saturating_add(DAY_MS.cast_signed()) < first.0)
    }
}

/// A part on a machine, from its fitting to its taking off.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PartPeriod {
    /// The entry of the fitting.
    pub entry: EntryId,
    /// The entry of the taking off.
    pub off_entry: Option<EntryId>,
    /// The machine.
    pub machine: MachineTag,
    /// The kind of part.
    pub part: PartName,
    /// Its mark.
    pub serial: Option<String>,
    /// When it was fitted.
    pub fitted_utc_ms: UtcMillis,
    /// When it was taken off; none while it is on.
    pub off_utc_ms: Option<UtcMillis>,
    /// Why.
    pub why: Option<TakenOff>,
    /// The machine's recorded run hours when it was fitted: the middle of what is possible.
    pub machine_hours_at_fitting: f64,
    /// Likewise when it was taken off, or now.
    pub machine_hours_at_end: f64,
    /// At least so many run hours on it.
    pub hours_at_least: f64,
    /// At most so many.
    pub hours_at_most: f64,
    /// Whether it was fitted long before anything was recorded, or came with its machine, so that hours are missing.
    pub began_before_records: bool,
    #[serde(skip)]
    run: RunRange,
}

impl PartPeriod {
    /// Run time on it.
    #[must_use]
    pub const fn run(&self) -> RunRange {
        self.run
    }
}

/// All parts that ever were on machines, in the order of fitting; `now` ends those still on.
#[must_use]
pub fn part_periods(entries: &InForce<'_>, grounds: &[Grounds], now: UtcMillis) -> Vec<PartPeriod> {
    enum Change<'a> {
        Off(&'a PartTakenOff),
        On(&'a PartFitted),
    }
    let mut changes: Vec<(UtcMillis, EntryId, Change<'_>)> = entries
        .iter()
        .filter_map(|entry| match &entry.body {
            EntryBody::PartFitted(fitted) => Some((fitted.at, entry.id, Change::On(fitted))),
            EntryBody::PartTakenOff(off) => Some((off.at, entry.id, Change::Off(off))),
            _ => None,
        })
        .collect();
    changes.sort_by_key(|(at, id, _)| (*at, *id));
    let mut periods: Vec<PartPeriod> = Vec::new();
    // Taken off without having been fitted: they came with a machine, and may come back under their marks.
    let mut unfitted: Vec<&PartTakenOff> = Vec::new();
    for (at, id, change) in changes {
        match change {
            Change::On(fitted) => {
                let is_it = |off: &&PartTakenOff| off.part == fitted.part && off.serial == fitted.serial;
                let began_unseen = fitted.serial.is_some() && unfitted.iter().any(is_it);
                periods.push(PartPeriod { began_before_records: began_unseen, ..opened(id, fitted) });
            }
            Change::Off(off) => {
                let is_meant = |period: &&mut PartPeriod| {
                    period.off_utc_ms.is_none()
                        && period.machine == off.machine
                        && period.part == off.part
                        && (off.serial.is_none() || off.serial == period.serial)
                };
                if let Some(period) = periods.iter_mut().find(is_meant) {
                    (period.off_entry, period.off_utc_ms, period.why) = (Some(id), Some(at), Some(off.why));
                } else if matches!(off.why, TakenOff::StillGood | TakenOff::Precaution) {
                    unfitted.push(off);
                }
            }
        }
    }
    for period in &mut periods {
        if let Some(grounds) = grounds.iter().find(|grounds| grounds.machine == period.machine) {
            measure(period, grounds, now);
        }
    }
    periods
}

fn opened(entry: EntryId, fitted: &PartFitted) -> PartPeriod {
    PartPeriod {
        entry,
        off_entry: None,
        machine: fitted.machine,
        part: fitted.part.clone(),
        serial: fitted.serial.clone(),
        fitted_utc_ms: fitted.at,
        off_utc_ms: None,
        why: None,
        machine_hours_at_fitting: 0.0,
        machine_hours_at_end: 0.0,
        hours_at_least: 0.0,
        hours_at_most: 0.0,
        began_before_records: false,
        run: RunRange::default(),
    }
}

fn measure(period: &mut PartPeriod, grounds: &Grounds, now: UtcMillis) {
    let (from, to) = (period.fitted_utc_ms, period.off_utc_ms.unwrap_or(now));
    period.run = grounds.meter.between(from, to);
    period.hours_at_least = period.run.at_least_hours();
    period.hours_at_most = period.run.at_most_hours();
    period.machine_hours_at_fitting = grounds.meter.until(from).middle_hours();
    period.machine_hours_at_end = grounds.meter.until(to).middle_hours();
    period.began_before_records |= grounds.is_before_records(period.fitted_utc_ms);
}

/// Whether a life enters the statistics.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum LifeCounts {
    /// It does.
    Counted,
    /// It began before anything was recorded, so its hours are not known.
    BeganBeforeRecords,
    /// Bursts without a date leave its hours too uncertain.
    HoursUncertain,
    /// It wore out without any running, as far as is recorded.
    NothingRan,
}

/// One part's life.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PartLife {
    /// Its mark.
    pub serial: Option<String>,
    /// When it was first fitted.
    pub fitted_utc_ms: UtcMillis,
    /// How often it was fitted.
    pub fittings: u64,
    /// At least so many run hours.
    pub hours_at_least: f64,
    /// At most so many.
    pub hours_at_most: f64,
    /// Why it was last taken off; none while it is on.
    pub why: Option<TakenOff>,
    /// Whether it wore out; otherwise it lasted at least so long.
    pub worn_out: bool,
    /// Whether it enters the statistics.
    pub counts: LifeCounts,
    #[serde(skip)]
    run: RunRange,
}

/// The lives of all parts of a kind, on all machines given.
#[must_use]
pub fn part_lives(periods: &[PartPeriod], part: &PartName) -> Vec<PartLife> {
    let mut lives: Vec<PartLife> = Vec::new();
    for period in periods.iter().filter(|period| period.part == *part) {
        let goes_on = |life: &&mut PartLife| {
            let may_return = matches!(life.why, Some(TakenOff::StillGood | TakenOff::Precaution));
            period.serial.is_some() && life.serial == period.serial && may_return
        };
        let Some(life) = lives.iter_mut().rev().find(goes_on) else {
            lives.push(begun(period));
            continue;
        };
        life.run = life.run.plus(period.run);
        life.fittings += 1;
        life.why = period.why;
        if period.began_before_records {
            life.counts = LifeCounts::BeganBeforeRecords;
        }
    }
    for life in &mut lives {
        (life.hours_at_least, life.hours_at_most) = (life.run.at_least_hours(), life.run.at_most_hours());
        life.worn_out = life.why == Some(TakenOff::WornOut);
        life.counts = match life.counts {
            LifeCounts::Counted if life.worn_out && life.run.at_most_ms == 0 => LifeCounts::NothingRan,
            LifeCounts::Counted if !life.run.is_known() => LifeCounts::HoursUncertain,
            as_it_is => as_it_is,
        };
    }
    lives
}

fn begun(period: &PartPeriod) -> PartLife {
    PartLife {
        serial: period.serial.clone(),
        fitted_utc_ms: period.fitted_utc_ms,
        fittings: 1,
        hours_at_least: 0.0,
        hours_at_most: 0.0,
        why: period.why,
        worn_out: false,
        counts: if period.began_before_records {
            LifeCounts::BeganBeforeRecords
        } else {
            LifeCounts::Counted
        },
        run: period.run,
    }
}

/// The lives that count, as the estimators take them.
#[must_use]
pub fn lives_for_statistics(lives: &[PartLife]) -> Vec<Life> {
    let counted = lives.iter().filter(|life| life.counts == LifeCounts::Counted);
    counted.map(|life| Life { time: life.run.middle_hours(), ended: life.worn_out }).collect()
}

#[cfg(test)]
#[path = "periods_tests.rs"]
mod tests;
