//! Which records were made on which machine: from a fitting until the next fitting of the same log.

use std::collections::{BTreeMap, BTreeSet};

use serde::Serialize;
use shared_types::{LogId, LoggerId, MachineTag, RecordSeq};
use thiserror::Error;

use super::log_records::LogKey;
use crate::entries::Fitting;

/// Two machines claim a logger for the same records.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Error)]
#[error(
    "machine {} and machine {} both claim the logger {:016x} from record {} on; machine {} counts, because it was entered later",
    dropped.0, kept.0, logger.0, from.0, kept.0
)]
pub struct FittingConflict {
    /// The logger.
    pub logger: LoggerId,
    /// Its log.
    pub log: LogId,
    /// From which record on.
    pub from: RecordSeq,
    /// The machine that counts, because it was entered later.
    pub kept: MachineTag,
    /// The machine that was entered earlier.
    pub dropped: MachineTag,
}

/// All fittings of all loggers.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Fittings {
    by_log: BTreeMap<LogKey, BTreeMap<RecordSeq, MachineTag>>,
    conflicts: Vec<FittingConflict>,
}

impl Fittings {
    /// Takes the fittings in the order in which they were entered.
    #[must_use]
    pub fn of<'a>(fittings: impl IntoIterator<Item = &'a Fitting>) -> Self {
        let mut all = Self::default();
        for fitting in fittings {
            let key = LogKey { logger: fitting.logger, log: fitting.log };
            let earlier = all.by_log.entry(key).or_default().insert(fitting.from, fitting.machine);
            if let Some(dropped) = earlier.filter(|machine| *machine != fitting.machine) {
                all.conflicts.push(FittingConflict {
                    logger: fitting.logger,
                    log: fitting.log,
                    from: fitting.from,
                    kept: fitting.machine,
                    dropped,
                });
            }
        }
        all
    }

    /// The machine on which a record was made; none before the first fitting, and after the logger was taken off
    /// (fitted to machine 0).
    #[must_use]
    pub fn machine_of(&self, log: LogKey, seq: RecordSeq) -> Option<MachineTag> {
        let (_, machine) = self.by_log.get(&log)?.range(..=seq).next_back()?;
        Some(*machine).filter(|machine| machine.0 != 0)
    }

    /// The machine on which a log's newest records are made.
    #[must_use]
    pub fn machine_now(&self, log: LogKey) -> Option<MachineTag> {
        self.machine_of(log, RecordSeq(u32::MAX))
    }

    /// The machines on which a log's records were ever made.
    #[must_use]
    pub fn machines_of(&self, log: LogKey) -> BTreeSet<MachineTag> {
        let fitted = self.by_log.get(&log).into_iter().flat_map(BTreeMap::values);
        fitted.copied().filter(|machine| machine.0 != 0).collect()
    }

    /// Whether anything was ever said about a log.
    #[must_use]
    pub fn was_fitted(&self, log: LogKey) -> bool {
        self.by_log.contains_key(&log)
    }

    /// Whether any logger ever sat on a machine.
    #[must_use]
    pub fn was_ever_on(&self, machine: MachineTag) -> bool {
        self.by_log.values().flat_map(BTreeMap::values).any(|fitted| *fitted == machine)
    }

    /// Where two machines claim the same records.
    #[must_use]
    pub fn conflicts(&self) -> &[FittingConflict] {
        &self.conflicts
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const LOG: LogKey = LogKey { logger: LoggerId(7), log: LogId(1) };

    fn fitting(machine: u32, from: u32) -> Fitting {
        Fitting { machine: MachineTag(machine), logger: LOG.logger, log: LOG.log, from: RecordSeq(from) }
    }

    #[test]
    fn a_record_belongs_to_the_last_fitting_at_or_before_it() {
        let fittings = Fittings::of(&[fitting(1, 10), fitting(2, 20)]);
        let machine = |seq| fittings.machine_of(LOG, RecordSeq(seq)).map(|machine| machine.0);
        assert_eq!([9, 10, 19, 20, 4_000_000_000].map(machine), [None, Some(1), Some(1), Some(2), Some(2)]);
    }

    #[test]
    fn a_fitting_entered_late_for_early_records_does_not_take_the_later_ones() {
        let fittings = Fittings::of(&[fitting(1, 100), fitting(2, 0)]);
        assert_eq!(fittings.machine_of(LOG, RecordSeq(99)), Some(MachineTag(2)));
        assert_eq!(fittings.machine_of(LOG, RecordSeq(100)), Some(MachineTag(1)));
        assert!(fittings.conflicts().is_empty());
    }

    #[test]
    fn of_two_machines_that_claim_the_same_records_the_later_entry_counts_and_both_are_named() {
        let fittings = Fittings::of(&[fitting(1, 5), fitting(1, 5), fitting(2, 5)]);
        assert_eq!(fittings.machine_of(LOG, RecordSeq(5)), Some(MachineTag(2)));
        assert_eq!(fittings.conflicts().len(), 1);
        assert_eq!(
            (fittings.conflicts()[0].kept, fittings.conflicts()[0].dropped),
            (MachineTag(2), MachineTag(1))
        );
    }

    #[test]
    fn a_logger_taken_off_is_on_no_machine() {
        let fittings = Fittings::of(&[fitting(1, 0), fitting(0, 50)]);
        assert_eq!(fittings.machine_of(LOG, RecordSeq(50)), None);
        assert_eq!(fittings.machine_now(LOG), None);
    }

    #[test]
    fn another_log_of_the_same_logger_is_not_fitted_by_it() {
        let fittings = Fittings::of(&[fitting(1, 0)]);
        let other = LogKey { log: LogId(2), ..LOG };
        assert_eq!(fittings.machine_of(other, RecordSeq(0)), None);
    }
}
