//! Machines lent out and back: to whom, in which condition, what was counted, and what ran meanwhile. Care counts all of it.

use super::hours_at::hours_at;
use super::ledger::Ledger;
use crate::records::timeline::HeardAt;
use crate::studio::Studio;
use crate::studio::loans::Loan;

/// The times that machines were lent, with what had been counted by then and what ran meanwhile.
#[must_use]
pub fn loans_with_running(studio: &Studio, ledger: &Ledger<'_>, heard: &[HeardAt]) -> Vec<Loan> {
    let mut loans = studio.loans.clone();
    for loan in &mut loans {
        let counted = |at| hours_at(studio, ledger, heard, loan.machine, at);
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
        for session in studio.worked.iter().filter(|session| session.said.machine == loan.machine) {
            if loan.covers(session.said.at) {
                loan.by_hand_run_time_ms = loan.by_hand_run_time_ms.saturating_add(session.run_ms);
            }
        }
    }
    loans
}

#[cfg(test)]
mod tests {
    use shared_types::log::ClockSource::Host;

    use shared_types::{MachineTag, UtcMillis};

    use super::*;
    use crate::entries::{
        Entry, EntryBody, EntryId, HandHours, InForce, MachineLent, MachineReturned, MeterReading, PersonTag,
    };
    use crate::records::log_records::LogRecords;
    use crate::studio::loans::loans;
    use crate::test_facts::{
        HOUR, MONDAY_8, anchor, empty_log, entries, entry_list, fitted, machine, segment,
    };
    use shared_types::RunMillis;

    fn lent(at: i64) -> EntryBody {
        EntryBody::MachineLent(MachineLent {
            machine: MachineTag(1),
            to: PersonTag(2),
            at: UtcMillis(at),
            condition: Some("clean".to_owned()),
            reading: MeterReading::default(),
        })
    }

    fn back(at: i64) -> EntryBody {
        EntryBody::MachineReturned(MachineReturned {
            machine: MachineTag(1),
            at: UtcMillis(at),
            condition: None,
            reading: MeterReading {
                run: Some(RunMillis(9_000)),
                strokes: Some(90),
                ..MeterReading::default()
            },
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
        let log = LogRecords { events: vec![anchor(1, 1, 0, MONDAY_8, Host)], segments, ..empty_log() };
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
        let mut said = entry_list([machine(1), lent(MONDAY_8), back(MONDAY_8 + HOUR)]);
        assert!(!loans(&InForce::of(&said))[0].is_away());
        let withdrawn = EntryBody::Withdrawn { entry: EntryId(3), reason: "not yet".to_owned() };
        said.push(Entry { id: EntryId(4), entered_at: UtcMillis(MONDAY_8), body: withdrawn });
        assert!(loans(&InForce::of(said))[0].is_away());
    }
}
