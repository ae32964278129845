//! Who held the machine: what was said of a session first, then the borrower while it was lent, then who works from a moment on;
//! else nobody knows. Unknown stays unknown.

use shared_types::{MachineTag, RecordSeq, UtcMillis};

use crate::entries::{EntryBody, HandsAtWork, HandsOfBursts, InForce, PersonTag};
use crate::records::log_records::LogKey;
use crate::records::when::When;
use crate::studio::loans::{Loan, loans};
use crate::studio::worked::Worked;

/// What the maker said of who works.
#[derive(Clone, Debug, Default)]
pub struct Hands {
    at_work: Vec<HandsAtWork>,
    of_bursts: Vec<HandsOfBursts>,
    loans: Vec<Loan>,
}

impl Hands {
    /// Gathers it from the entries that count.
    #[must_use]
    pub fn of(entries: &InForce<'_>) -> Self {
        let mut hands = Self { loans: loans(entries), ..Self::default() };
        for entry in entries.iter() {
            match &entry.body {
                EntryBody::HandsAtWork(work) => hands.at_work.push(*work),
                EntryBody::HandsOfBursts(bursts) => hands.of_bursts.push(*bursts),
                _ => {}
            }
        }
        // A stable sort: of two that begin at the same moment the one entered later has the last word.
        hands.at_work.sort_by_key(|work| work.from);
        hands
    }

    /// Whether nobody was ever named.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.at_work.is_empty() && self.of_bursts.is_empty() && self.loans.is_empty()
    }

    /// Who held a machine in a burst; none where that is not known.
    #[must_use]
    pub fn person(
        &self,
        machine: MachineTag,
        log: LogKey,
        first: RecordSeq,
        when: When,
    ) -> Option<PersonTag> {
        let said = self.of_bursts.iter().rev().find(|bursts| {
            (bursts.logger, bursts.log) == (log.logger, log.log)
                && (bursts.first..=bursts.last).contains(&first)
        });
        if let Some(said) = said {
            return said.person;
        }
        // Where the date has limits, they must say the same on both sides and no change may lie between them.
        let (earliest, latest) = when.earliest().zip(when.latest())?;
        self.settled(machine, earliest, latest)
    }

    /// Who is at work on a machine at a moment; none where that is not known.
    #[must_use]
    pub fn at_work(&self, machine: MachineTag, moment: UtcMillis) -> Option<PersonTag> {
        self.settled(machine, moment, moment)
    }

    /// Who worked a session that was typed in: said with it, else who was at work then; none where that is not known.
    #[must_use]
    pub fn of_session(&self, session: &Worked) -> Option<PersonTag> {
        let (from, to) = session.span();
        session.said.person.or_else(|| self.settled(session.said.machine, from, to))
    }

    /// Who held a machine at a time during which that did not change.
    fn settled(&self, machine: MachineTag, earliest: UtcMillis, latest: UtcMillis) -> Option<PersonTag> {
        let is_settled = self.changes(machine).all(|at| at <= earliest || at > latest);
        is_settled.then(|| self.at(machine, earliest)).flatten()
    }

    fn at(&self, machine: MachineTag, at: UtcMillis) -> Option<PersonTag> {
        let loan = self.loans.iter().rev().find(|loan| loan.machine == machine && loan.covers(at));
        if let Some(loan) = loan {
            return Some(loan.to);
        }
        let mut at_work = self.at_work.iter().rev();
        at_work.find(|work| work.from <= at && is_for(work, machine)).and_then(|work| work.person)
    }

    fn changes(&self, machine: MachineTag) -> impl Iterator<Item = UtcMillis> {
        let work = self.at_work.iter().filter(move |work| is_for(work, machine)).map(|work| work.from);
        let loans = self.loans.iter().filter(move |loan| loan.machine == machine);
        work.chain(loans.flat_map(|loan| [Some(loan.out_utc_ms), loan.back_utc_ms]).flatten())
    }
}

fn is_for(work: &HandsAtWork, machine: MachineTag) -> bool {
    work.machine.is_none_or(|of| of == machine)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::entries::{MachineLent, MachineReturned, MeterReading};
    use crate::test_facts::{HOUR, LOG, MONDAY_8, entries};

    const ONE: MachineTag = MachineTag(1);

    fn works(machine: Option<u32>, person: Option<u32>, from: i64) -> EntryBody {
        EntryBody::HandsAtWork(HandsAtWork {
            machine: machine.map(MachineTag),
            person: person.map(PersonTag),
            from: UtcMillis(from),
        })
    }

    fn who(said: &[EntryBody], seq: u32, when: When) -> Option<u32> {
        let hands = Hands::of(&entries(said.iter().cloned()));
        hands.person(ONE, LOG, RecordSeq(seq), when).map(|person| person.0)
    }

    fn dated(at: i64) -> When {
        When::Dated(UtcMillis(at))
    }

    #[test]
    fn without_a_word_nobody_is_known_and_from_a_word_on_it_holds() {
        let said = [works(None, Some(1), MONDAY_8), works(Some(1), Some(2), MONDAY_8 + HOUR)];
        let at = |at| who(&said, 5, dated(at));
        assert_eq!(who(&[], 5, dated(MONDAY_8)), None);
        assert_eq!([at(MONDAY_8 - 1), at(MONDAY_8), at(MONDAY_8 + HOUR)], [None, Some(1), Some(2)]);
    }

    #[test]
    fn another_machines_hands_do_not_count_and_unknown_can_be_said() {
        let said = [works(None, Some(1), MONDAY_8), works(Some(2), Some(2), MONDAY_8)];
        assert_eq!(who(&said, 5, dated(MONDAY_8)), Some(1));
        let said = [works(None, Some(1), MONDAY_8), works(None, None, MONDAY_8 + HOUR)];
        assert_eq!(who(&said, 5, dated(MONDAY_8 + HOUR)), None);
    }

    #[test]
    fn while_it_is_lent_it_is_the_borrower_and_a_word_about_the_session_comes_first() {
        let lent = EntryBody::MachineLent(MachineLent {
            machine: ONE,
            to: PersonTag(3),
            at: UtcMillis(MONDAY_8),
            condition: None,
            reading: MeterReading::default(),
        });
        let back = EntryBody::MachineReturned(MachineReturned {
            machine: ONE,
            at: UtcMillis(MONDAY_8 + HOUR),
            condition: None,
            reading: MeterReading::default(),
        });
        let bursts = EntryBody::HandsOfBursts(HandsOfBursts {
            logger: LOG.logger,
            log: LOG.log,
            first: RecordSeq(5),
            last: RecordSeq(9),
            person: Some(PersonTag(4)),
        });
        let said = [works(None, Some(1), MONDAY_8 - HOUR), lent, back, bursts];
        assert_eq!(who(&said, 1, dated(MONDAY_8)), Some(3));
        assert_eq!(who(&said, 1, dated(MONDAY_8 + HOUR)), Some(1));
        assert_eq!([who(&said, 5, When::Undated), who(&said, 10, When::Undated)], [Some(4), None]);
    }

    #[test]
    fn a_date_with_limits_has_a_person_only_where_no_change_lies_between() {
        let said = [works(None, Some(1), MONDAY_8), works(None, Some(2), MONDAY_8 + HOUR)];
        let between = |earliest, latest| {
            who(&said, 5, When::Between { earliest: UtcMillis(earliest), latest: UtcMillis(latest) })
        };
        assert_eq!(between(MONDAY_8, MONDAY_8 + HOUR - 1), Some(1));
        assert_eq!(between(MONDAY_8, MONDAY_8 + HOUR), None);
        assert_eq!(between(MONDAY_8 - 1, MONDAY_8), None);
    }
}
