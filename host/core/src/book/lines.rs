//! Every entry about one machine, in the order of arrival, the withdrawn ones too: a correction never hides what it corrects.

use serde::ser::Error;
use serde::{Serialize, Serializer};
use shared_types::{LogId, LoggerId, MachineTag, RecordSeq, UtcMillis};

use crate::entries::{Entry, EntryBody, EntryId, InForce};
use crate::records::log_records::LogKey;
use crate::studio::Studio;

/// Under which head an entry stands in the book.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Chapter {
    /// Care that was given, put off or left out.
    Care,
    /// Parts that were changed.
    Parts,
    /// What failed.
    Faults,
    /// When it was lent out and came back.
    Loans,
    /// Harm to the cloth.
    Cloth,
    /// Hours written by hand.
    HoursByHand,
    /// The machine itself: what it is, what sits on it, its limits.
    Machine,
    /// Which running belongs to which rug or person.
    Assignments,
    /// Due dates that went into a calendar file.
    Calendar,
}

/// Why an entry counts no more.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Correction {
    /// The entry that withdrew it.
    pub entry: EntryId,
    /// When that was entered.
    pub entered_utc_ms: UtcMillis,
    /// Why, in the maker's words.
    pub reason: String,
}

/// One entry.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct BookLine {
    /// Its number.
    pub entry: EntryId,
    /// When it was entered.
    pub entered_utc_ms: UtcMillis,
    /// Of when it tells, where it says so.
    pub at_utc_ms: Option<UtcMillis>,
    /// Where it stands.
    pub chapter: Chapter,
    /// What kind of entry it is.
    pub kind: &'static str,
    /// What it says, as it is kept.
    #[serde(serialize_with = "without_kind")]
    pub says: EntryBody,
    /// The correction, if it counts no more.
    pub withdrawn: Option<Correction>,
}

/// Writes what an entry says as it is kept; its kind stands beside it.
fn without_kind<S: Serializer>(says: &EntryBody, serializer: S) -> Result<S::Ok, S::Error> {
    let mut kept = serde_json::to_value(says).map_err(S::Error::custom)?;
    if let Some(fields) = kept.as_object_mut() {
        fields.remove("kind");
    }
    kept.serialize(serializer)
}

/// The entries about a machine, withdrawn ones too.
#[must_use]
pub fn lines(entries: &InForce<'_>, studio: &Studio, machine: MachineTag) -> Vec<BookLine> {
    let all = entries.with_withdrawn();
    let is_session = |session: EntryId| {
        let noted = all.iter().find(|one| one.id == session);
        noted.is_some_and(|noted| concerns(&noted.body, studio, machine))
    };
    let is_about = |entry: &&Entry| match &entry.body {
        // It names only the entry that it goes on from.
        EntryBody::TearAnswered(answered) => {
            let noted = all.iter().find(|one| one.id == answered.entry);
            noted.is_some_and(|noted| concerns(&noted.body, studio, machine))
        }
        // They name only the session.
        EntryBody::SessionAssigned(given) => is_session(given.session),
        EntryBody::HandsOfSession(hands) => is_session(hands.session),
        // The names stand beside what was said of it on this machine.
        EntryBody::RugRenamed(_) => {
            let rug = entries.all_named_now().iter().find(|one| one.id == entry.id).map(|one| &one.body);
            let Some(EntryBody::RugRenamed(renamed)) = rug else { return false };
            entries.all_named_now().iter().any(|one| {
                one.body.running_of() == Some(&renamed.now) && concerns(&one.body, studio, machine)
            })
        }
        body => concerns(body, studio, machine),
    };
    let line = |entry: &Entry| BookLine {
        entry: entry.id,
        entered_utc_ms: entry.entered_at,
        at_utc_ms: entry.body.at(),
        chapter: chapter(&entry.body),
        kind: entry.body.kind(),
        says: entry.body.clone(),
        withdrawn: entries.withdrawal(entry.id).map(|by| Correction {
            entry: by.entry,
            entered_utc_ms: by.at,
            reason: by.reason.to_owned(),
        }),
    };
    all.iter().filter(is_about).map(line).collect()
}

const fn chapter(body: &EntryBody) -> Chapter {
    match body {
        EntryBody::CareDone(_) | EntryBody::CareSnoozed(_) | EntryBody::CareSkipped(_) => Chapter::Care,
        EntryBody::MachineLent(_) | EntryBody::MachineReturned(_) => Chapter::Loans,
        EntryBody::TearNoted(_)
        | EntryBody::TearAnswered(_)
        | EntryBody::PressAnswered(_)
        | EntryBody::PressWithdrawn(_)
        | EntryBody::CeilingSet(_) => Chapter::Cloth,
        EntryBody::HandHours(_) | EntryBody::SessionNoted(_) | EntryBody::SessionBegun(_) => {
            Chapter::HoursByHand
        }
        EntryBody::BurstsAssigned(_)
        | EntryBody::DoubtAnswered(_)
        | EntryBody::HandsOfBursts(_)
        | EntryBody::HandsAtWork(_)
        | EntryBody::SessionAssigned(_)
        | EntryBody::HandsOfSession(_)
        | EntryBody::RugWork(_)
        | EntryBody::RugRenamed(_) => Chapter::Assignments,
        EntryBody::PartFitted(_) | EntryBody::PartTakenOff(_) => Chapter::Parts,
        EntryBody::MachineFault(_) => Chapter::Faults,
        EntryBody::DuePublished(_) => Chapter::Calendar,
        _ => Chapter::Machine,
    }
}

/// Whether an entry is about a machine: it names it, or records that were made on it.
fn concerns(body: &EntryBody, studio: &Studio, machine: MachineTag) -> bool {
    let made_on = |logger: LoggerId, log: LogId, seq: RecordSeq| {
        studio.fittings.machine_of(LogKey { logger, log }, seq) == Some(machine)
    };
    match body {
        // A logger that is moved away is news of the machine that loses it, too.
        EntryBody::LoggerFitted(fitting) => {
            let claimed = studio.fittings.conflicts().iter().any(|conflict| {
                conflict.dropped == machine
                    && (conflict.logger, conflict.log, conflict.from)
                        == (fitting.logger, fitting.log, fitting.from)
            });
            let before = fitting.from.0.checked_sub(1).map(RecordSeq);
            let loses = before.is_some_and(|before| made_on(fitting.logger, fitting.log, before));
            fitting.machine == machine || loses || claimed
        }
        // Without a machine it is of all of them.
        EntryBody::HandsAtWork(hands) => hands.machine.is_none_or(|tag| tag == machine),
        EntryBody::BurstsAssigned(one) => made_on(one.logger, one.log, one.from),
        EntryBody::DoubtAnswered(one) => made_on(one.logger, one.log, one.from),
        EntryBody::HandsOfBursts(one) => made_on(one.logger, one.log, one.first),
        EntryBody::PressAnswered(one) => made_on(one.logger, one.log, one.seq),
        EntryBody::PressWithdrawn(one) => made_on(one.logger, one.log, one.seq),
        other => other.machine() == Some(machine),
    }
}

#[cfg(test)]
mod tests {
    use serde_json::Value;

    use super::*;
    use crate::entries::{
        Certainty, HandsOfSession, Harm, Owner, RugName, SessionAssigned, SessionNoted, TearAnswered,
        TearDetails, TearNoted, WorkChange,
    };
    use crate::test_facts::{MONDAY_8, assigned, entries, fitted, machine, rug, work};

    fn withdrawn(target: i64, reason: &str) -> EntryBody {
        EntryBody::Withdrawn { entry: EntryId(target), reason: reason.to_owned() }
    }

    fn of(machine: u32, said: &InForce<'_>) -> Vec<BookLine> {
        lines(said, &Studio::of(said), MachineTag(machine))
    }

    #[test]
    fn a_withdrawn_entry_stays_with_its_reason_and_a_withdrawn_withdrawal_frees_it() {
        let said = [machine(1), withdrawn(1, "wrong"), withdrawn(2, "right after all")];
        assert_eq!(of(1, &entries(said.clone()))[0].withdrawn, None);
        let book = of(1, &entries(said.into_iter().take(2)));
        assert_eq!(book.len(), 1, "it stays");
        let correction = book[0].withdrawn.as_ref();
        assert_eq!(correction.map(|one| (one.entry, one.reason.as_str())), Some((EntryId(2), "wrong")));
    }

    #[test]
    fn entries_are_of_the_machine_that_they_or_their_records_name() {
        let owner = Owner::Rug(RugName("Fox".to_owned()));
        let said = entries([
            machine(1),
            machine(2),
            fitted(1, 0),
            fitted(2, 100),
            rug("Fox"),
            work("Fox", Some(2), WorkChange::Started, MONDAY_8),
            assigned(5, 9, owner.clone(), Certainty::Explicit),
            assigned(105, 109, owner, Certainty::Explicit),
        ]);
        let numbers = |tag| of(tag, &said).iter().map(|line| line.entry.0).collect::<Vec<_>>();
        assert_eq!(numbers(1), [1, 3, 4, 7], "that the logger went to machine 2 is news of machine 1");
        assert_eq!(numbers(2), [2, 4, 6, 8]);
    }

    #[test]
    fn what_was_told_later_of_a_tear_stands_with_the_machine_that_it_happened_on() {
        let noted = EntryBody::TearNoted(TearNoted {
            harm: Harm::Tear,
            machine: MachineTag(2),
            at: UtcMillis(MONDAY_8),
            knob_per_mille: None,
            details: TearDetails::default(),
        });
        let later = TearAnswered { entry: EntryId(3), details: TearDetails::default() };
        let said = entries([machine(1), machine(2), noted, EntryBody::TearAnswered(later)]);
        let cloth = |tag| of(tag, &said).iter().filter(|line| line.chapter == Chapter::Cloth).count();
        assert_eq!((cloth(1), cloth(2)), (0, 2));
    }

    #[test]
    fn to_whom_a_typed_session_was_given_stands_with_the_machine_of_that_session() {
        let session = EntryBody::SessionNoted(SessionNoted {
            machine: MachineTag(2),
            rug: None,
            person: None,
            at: UtcMillis(MONDAY_8),
            is_day: false,
            frame_ms: Some(3_600_000),
            run: None,
            knob_per_mille: None,
            begun: None,
        });
        let given = SessionAssigned {
            session: EntryId(3),
            owner: Owner::Rug(RugName("Fox".to_owned())),
            certainty: Certainty::Explicit,
        };
        let hands = HandsOfSession { session: EntryId(3), person: None };
        let said = entries([
            machine(1),
            machine(2),
            session,
            EntryBody::SessionAssigned(given),
            EntryBody::HandsOfSession(hands),
        ]);
        let given = |tag| of(tag, &said).iter().filter(|line| line.chapter == Chapter::Assignments).count();
        assert_eq!((given(1), given(2)), (0, 2));
    }

    #[test]
    fn a_line_says_what_is_kept_and_of_when_it_tells() {
        let said = entries([machine(1), fitted(1, 7)]);
        let book = of(1, &said);
        assert_eq!((book[0].kind, book[0].at_utc_ms), ("machine_added", Some(UtcMillis(MONDAY_8))));
        let written = serde_json::to_value(&book[0]).unwrap();
        assert_eq!((&written["says"]["name"], &written["says"]["kind"]), (&"machine 1".into(), &Value::Null));
        assert_eq!((book[1].kind, book[1].at_utc_ms), ("logger_fitted", None));
    }
}
