//! Machines lent out and back: to whom, in which condition, what was counted, and what ran meanwhile. Care counts all of it.

use serde::Serialize;
use shared_types::{MachineTag, UtcMillis};

use super::counted_at::counted_at;
use super::entries::{Entry, EntryBody, EntryId, MachineLent, MachineReturned, PersonTag, Reading};
use super::ledger::Ledger;
use super::studio::{Studio, standing};
use super::timeline::HeardAt;

/// One time that a machine was lent.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Loan {
    /// The entry.
    pub entry: EntryId,
    /// The machine.
    pub machine: MachineTag,
    /// The borrower.
    pub to: PersonTag,
    /// When it left, in milliseconds UTC.
    pub out_utc_ms: UtcMillis,
    /// When it came back, in milliseconds UTC; none: it is still away.
    pub back_utc_ms: Option<UtcMillis>,
    /// The condition in which it left.
    pub condition_out: Option<String>,
    /// The condition in which it came back.
    pub condition_back: Option<String>,
    /// Its reading when it left, as it was entered.
    pub reading_out: Reading,
    /// Its reading when it came back, as it was entered.
    pub reading_back: Option<Reading>,
    /// What the records that are held now tell of when it left.
    pub counted_out: Reading,
    /// What the records that are held now tell of when it came back.
    pub counted_back: Option<Reading>,
    /// Recorded run time that was certainly while it was lent, in milliseconds.
    pub run_time_ms: u64,
    /// Recorded run time that may have been while it was lent, in milliseconds; not in the one above.
    pub perhaps_run_time_ms: u64,
    /// Run time written by hand for days in between, in milliseconds.
    pub by_hand_run_time_ms: u64,
}

impl Loan {
    fn of(entry: EntryId, lent: &MachineLent) -> Self {
        Self {
            entry,
            machine: lent.machine,
            to: lent.to,
            out_utc_ms: lent.at,
            back_utc_ms: None,
            condition_out: lent.condition.clone(),
            condition_back: None,
            reading_out: lent.reading,
            reading_back: None,
            counted_out: Reading::default(),
            counted_back: None,
            run_time_ms: 0,
            perhaps_run_time_ms: 0,
            by_hand_run_time_ms: 0,
        }
    }

    fn close(&mut self, returned: &MachineReturned) {
        self.back_utc_ms = Some(returned.at);
        self.condition_back.clone_from(&returned.condition);
        self.reading_back = Some(returned.reading);
    }

    /// Whether it is still away.
    #[must_use]
    pub const fn is_away(&self) -> bool {
        self.back_utc_ms.is_none()
    }

    /// Whether a moment is from when it left, included, until it came back, excluded.
    #[must_use]
    pub fn covers(&self, at: UtcMillis) -> bool {
        self.out_utc_ms <= at && self.back_utc_ms.is_none_or(|back| at < back)
    }

    fn may_touch(&self, earliest: UtcMillis, latest: UtcMillis) -> bool {
        latest >= self.out_utc_ms && self.back_utc_ms.is_none_or(|back| earliest < back)
    }
}

/// The times that machines were lent, in the order of entry, without what ran meanwhile.
#[must_use]
pub fn loans(entries: &[Entry]) -> Vec<Loan> {
    let mut loans: Vec<Loan> = Vec::new();
    for entry in standing(entries) {
        match &entry.body {
            EntryBody::MachineLent(lent) => loans.push(Loan::of(entry.id, lent)),
            EntryBody::MachineReturned(returned) => {
                let open =
                    loans.iter_mut().rev().find(|loan| loan.machine == returned.machine && loan.is_away());
                if let Some(loan) = open {
                    loan.close(returned);
                }
            }
            _ => {}
        }
    }
    loans
}

/// The times that machines were lent, with what had been counted by then and what ran meanwhile.
#[must_use]
pub fn loans_with_running(studio: &Studio, ledger: &Ledger<'_>, heard: &[HeardAt]) -> Vec<Loan> {
    let mut loans = studio.loans.clone();
    for loan in &mut loans {
        let counted = |at| counted_at(studio, ledger, heard, loan.machine, at);
        (loan.counted_out, loan.counted_back) = (counted(loan.out_utc_ms), loan.back_utc_ms.map(counted));
        let lines = ledger.logs.iter().flat_map(|log| &log.lines);
        for line in lines.filter(|line| line.machine == Some(loan.machine)) {
            let Some((earliest, latest)) = line.when.earliest().zip(line.when.latest()) else { continue };
            let run_ms = line.burst.run.0;
            if loan.covers(earliest) && loan.covers(latest) {
                loan.run_time_ms = loan.run_time_ms.saturating_add(run_ms);
            } else if loan.may_touch(earliest, latest) {
                loan.perhaps_run_time_ms = loan.perhaps_run_time_ms.saturating_add(run_ms);
            }
        }
        for (_, hours) in studio.hand_hours.iter().filter(|(_, hours)| hours.machine == loan.machine) {
            if loan.covers(hours.at) {
                let run_ms = hours.run.map_or(0, |run| run.0);
                loan.by_hand_run_time_ms = loan.by_hand_run_time_ms.saturating_add(run_ms);
            }
        }
    }
    loans
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test may stop at the first surprise")]
    use shared_types::log::ClockSource::Host;

    use super::super::entries::HandHours;
    use super::super::facts::LogFacts;
    use super::super::test_facts::{HOUR, MONDAY_8, anchor, empty_log, entries, fitted, machine, segment};
    use super::*;
    use shared_types::RunMillis;

    fn lent(at: i64) -> EntryBody {
        EntryBody::MachineLent(MachineLent {
            machine: MachineTag(1),
            to: PersonTag(2),
            at: UtcMillis(at),
            condition: Some("clean".to_owned()),
            reading: Reading::default(),
        })
    }

    fn back(at: i64) -> EntryBody {
        EntryBody::MachineReturned(MachineReturned {
            machine: MachineTag(1),
            at: UtcMillis(at),
            condition: None,
            reading: Reading { run: Some(RunMillis(9_000)), strokes: Some(90), ..Reading::default() },
        })
    }

    #[test]
    fn what_ran_while_it_was_lent_is_told_apart() {
        // Bursts at 8:00, 9:00 and 10:00 of 5, 7 and 11 s; lent from 9:00, included, to 10:00, excluded.
        let hour = HOUR.cast_unsigned();
        let segments = vec![
            segment(2, 1, 0, 5_000, 50),
            segment(3, 1, hour, 7_000, 70),
            segment(4, 1, 2 * hour, 11_000, 110),
        ];
        let log = LogFacts { events: vec![anchor(1, 1, 0, MONDAY_8, Host)], segments, ..empty_log() };
        let by_hand = EntryBody::HandHours(HandHours {
            machine: MachineTag(1),
            rug: None,
            at: UtcMillis(MONDAY_8 + HOUR + 1),
            run: Some(RunMillis(60_000)),
            tufting_ms: None,
            knob_per_mille: None,
        });
        let said =
            entries([machine(1), fitted(1, 0), lent(MONDAY_8 + HOUR), by_hand, back(MONDAY_8 + 2 * HOUR)]);
        let studio = Studio::of(&said);
        let logs = [log];
        let loans = loans_with_running(&studio, &Ledger::of(&studio, &logs), &[]);
        assert_eq!(loans.len(), 1);
        let loan = &loans[0];
        assert_eq!(
            (loan.run_time_ms, loan.perhaps_run_time_ms, loan.by_hand_run_time_ms),
            (7_000, 0, 60_000)
        );
        assert_eq!((loan.is_away(), loan.reading_back.unwrap().strokes), (false, Some(90)));
    }

    #[test]
    fn a_return_that_was_taken_back_leaves_it_away() {
        let mut said = entries([machine(1), lent(MONDAY_8), back(MONDAY_8 + HOUR)]);
        assert!(!loans(&said)[0].is_away());
        let withdrawn = EntryBody::Withdrawn { entry: EntryId(3), reason: "not yet".to_owned() };
        said.push(Entry { id: EntryId(4), entered_at: UtcMillis(MONDAY_8), body: withdrawn });
        assert!(loans(&said)[0].is_away());
    }
}
