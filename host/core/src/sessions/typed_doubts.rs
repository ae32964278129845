//! What is asked about a session before it is noted: whether its time is counted already, or cannot be.

use jiff::civil::Date;
use jiff::tz::TimeZone;
use serde::{Serialize, Serializer};
use shared_types::{MachineTag, UtcMillis};

use super::holder::Holder;
use super::ledger::Ledger;
use super::session_list::SessionName;
use super::{Session, local_day, of_log, typed};
use crate::entries::{EntryId, SessionNoted, WorkChange};
use crate::stats::{DAY_MS, HOUR_MS};
use crate::studio::Studio;
use crate::studio::worked::Worked;

/// More time at the frame than this in a day is asked about, in milliseconds; sixteen hours.
pub const LONG_DAY_MS: u64 = 16 * HOUR_MS;

/// Why a session is asked about.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[serde(tag = "why", rename_all = "snake_case")]
pub enum TypedDoubt {
    /// A logger counted a session on that machine then.
    Counted {
        /// It.
        session: SessionName,
    },
    /// The same was typed in before.
    Typed {
        /// Its entry.
        entry: EntryId,
    },
    /// The machine was not in the studio yet.
    BeforeMachine {
        /// Since when it is.
        since_utc_ms: UtcMillis,
    },
    /// The rug was delivered by then.
    AfterDelivery {
        /// Its name.
        rug: String,
        /// When it was delivered.
        at_utc_ms: UtcMillis,
    },
    /// The machine's day would have more hours at the frame than anybody works.
    LongDay {
        /// The local day.
        #[serde(serialize_with = "known_day")]
        day: Date,
        /// Time at the frame with it, in milliseconds.
        frame_time_ms: u64,
    },
}

fn known_day<S: Serializer>(day: &Date, out: S) -> Result<S::Ok, S::Error> {
    out.collect_str(day)
}

/// The counted sessions beside which new ones are held.
#[derive(Clone, Debug, Default)]
pub struct CountedSessions {
    sessions: Vec<(SessionName, Session)>,
}

impl CountedSessions {
    /// Of all logs.
    #[must_use]
    pub fn of(ledger: &Ledger<'_>, zone: &TimeZone) -> Self {
        let several = ledger.logs.len() > 1;
        let name = |session: &Session| SessionName::Counted {
            first: session.first,
            log: several.then_some(session.log.log),
        };
        let sessions = ledger.logs.iter().flat_map(|log| of_log(log, zone));
        Self { sessions: sessions.map(|session| (name(&session), session)).collect() }
    }

    fn on(&self, machine: MachineTag) -> impl Iterator<Item = &(SessionName, Session)> {
        self.sessions.iter().filter(move |(_, session)| session.machine == Some(machine))
    }
}

/// Everything that is to be asked about a session that is about to be noted. `since_is_said`: the maker said since when the
/// machine is in the studio.
#[must_use]
pub fn doubts(
    studio: &Studio,
    counted: &CountedSessions,
    new: &SessionNoted,
    since_is_said: bool,
    zone: &TimeZone,
) -> Vec<TypedDoubt> {
    let new = studio.motor_shares.worked_of(EntryId(0), new.clone(), None);
    let day = local_day(new.said.at, zone);
    let mut found = Vec::new();
    let meets = counted.on(new.said.machine).find(|(_, session)| shares_time(session, &new, day));
    found.extend(meets.map(|(name, _)| TypedDoubt::Counted { session: *name }));
    let near = || {
        let is_near = |one: &&Worked| one.said.at.0.abs_diff(new.said.at.0) <= NEAR_MS;
        studio.worked.iter().filter(|one| one.said.machine == new.said.machine).filter(is_near)
    };
    let repeated = near().find(|one| repeats(one, &new, day, zone));
    found.extend(repeated.map(|one| TypedDoubt::Typed { entry: one.entry }));
    let since = studio.machine(new.said.machine).map(|card| card.since);
    let is_before = |since: &UtcMillis| since_is_said && new.span().1 < *since;
    found.extend(since.filter(is_before).map(|since_utc_ms| TypedDoubt::BeforeMachine { since_utc_ms }));
    found.extend(after_delivery(studio, &new));
    found.extend(day.and_then(|day| long_day(&new, near(), counted, day, zone)));
    found
}

/// Sessions that began farther apart than this share neither time nor day: none is longer than a month.
const NEAR_MS: u64 = 32 * DAY_MS;

/// Whether a counted session shares time with a new one, or its day where only that is known.
fn shares_time(session: &Session, new: &Worked, day: Option<Date>) -> bool {
    if new.said.is_day {
        return session.day.is_some() && session.day == day;
    }
    let (from, to) = new.span();
    let span = session.starts.earliest().zip(session.ends.latest());
    span.is_some_and(|(starts, ends)| starts < to && from < ends)
}

fn repeats(one: &Worked, new: &Worked, day: Option<Date>, zone: &TimeZone) -> bool {
    if !one.said.is_day && !new.said.is_day {
        let ((from, to), (new_from, new_to)) = (one.span(), new.span());
        return from < new_to && new_from < to;
    }
    (one.said.frame_ms, one.said.run) == (new.said.frame_ms, new.said.run)
        && local_day(one.said.at, zone) == day
}

fn after_delivery(studio: &Studio, new: &Worked) -> Option<TypedDoubt> {
    let Holder::Rug(rug) = typed::attribution(studio, new).holder else { return None };
    let rug = studio.rug_at(rug)?;
    let last = rug.work.last().filter(|work| work.change == WorkChange::Delivered)?;
    (new.span().0 >= last.at)
        .then(|| TypedDoubt::AfterDelivery { rug: rug.order.rug.0.clone(), at_utc_ms: last.at })
}

fn long_day<'s>(
    new: &Worked,
    near: impl Iterator<Item = &'s Worked>,
    counted: &CountedSessions,
    day: Date,
    zone: &TimeZone,
) -> Option<TypedDoubt> {
    let is_of_day = |one: &&Worked| {
        one.said.at.0.abs_diff(new.said.at.0) < 2 * DAY_MS && local_day(one.said.at, zone) == Some(day)
    };
    let typed = near.filter(is_of_day).map(Worked::frame_ms);
    let sessions = counted.on(new.said.machine).filter(|(_, session)| session.day == Some(day));
    let counted = sessions.map(|(_, session)| match session.starts.earliest().zip(session.ends.latest()) {
        Some((starts, ends)) => u64::try_from(ends.0.saturating_sub(starts.0)).unwrap_or(0),
        None => session.run.0,
    });
    let frame_time_ms = typed.chain(counted).fold(new.frame_ms(), u64::saturating_add);
    (frame_time_ms > LONG_DAY_MS).then_some(TypedDoubt::LongDay { day, frame_time_ms })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::entries::{EntryBody, RugName};
    use crate::records::log_records::LogRecords;
    use crate::test_facts::{
        HOUR, MINUTE, MONDAY_8, anchor, empty_log, entries, fitted, machine, rug, segment, work,
    };
    use shared_types::MachineTag;
    use shared_types::log::ClockSource::Host;

    fn session(at: i64, frame_minutes: u64) -> SessionNoted {
        SessionNoted {
            machine: MachineTag(1),
            rug: None,
            person: None,
            at: UtcMillis(at),
            is_day: false,
            frame_ms: Some(frame_minutes * 60_000),
            run: None,
            knob_per_mille: None,
            begun: None,
        }
    }

    /// A counted session on Monday from eight to a minute past.
    fn asked(said: Vec<EntryBody>, new: &SessionNoted) -> Vec<TypedDoubt> {
        let said = entries([machine(1), fitted(1, 0)].into_iter().chain(said));
        let studio = Studio::of(&said);
        let logs = [LogRecords {
            events: vec![anchor(1, 1, 0, MONDAY_8, Host)],
            segments: vec![segment(10, 1, 0, 60_000, 700)],
            ..empty_log()
        }];
        let counted = CountedSessions::of(&Ledger::of(&studio, &logs), &TimeZone::UTC);
        doubts(&studio, &counted, new, true, &TimeZone::UTC)
    }

    #[test]
    fn time_that_a_logger_counted_is_not_counted_again() {
        let name = SessionName::Counted { first: shared_types::RecordSeq(10), log: None };
        let counted = vec![TypedDoubt::Counted { session: name }];
        assert_eq!(asked(vec![], &session(MONDAY_8 - 10 * MINUTE, 11)), counted);
        assert_eq!(asked(vec![], &session(MONDAY_8 - 10 * MINUTE, 10)), []);
        assert_eq!(asked(vec![], &session(MONDAY_8 + MINUTE, 10)), []);
        let that_day = SessionNoted { is_day: true, ..session(MONDAY_8 + 4 * HOUR, 30) };
        assert_eq!(asked(vec![], &that_day), counted);
        let elsewhere = SessionNoted { machine: MachineTag(2), ..session(MONDAY_8, 10) };
        assert_eq!(asked(vec![machine(2)], &elsewhere), []);
    }

    #[test]
    fn what_was_typed_in_before_is_asked_about() {
        let tuesday = MONDAY_8 + 24 * HOUR;
        let noted = || vec![EntryBody::SessionNoted(session(tuesday, 60))];
        let repeated = vec![TypedDoubt::Typed { entry: EntryId(3) }];
        assert_eq!(asked(noted(), &session(tuesday + 59 * MINUTE, 5)), repeated);
        assert_eq!(asked(noted(), &session(tuesday + 60 * MINUTE, 5)), []);
        let of_the_day = |minutes| SessionNoted { is_day: true, ..session(tuesday + 4 * HOUR, minutes) };
        assert_eq!(asked(noted(), &of_the_day(60)), repeated);
        assert_eq!(asked(noted(), &of_the_day(45)), []);
    }

    #[test]
    fn a_delivered_rug_and_a_day_too_long_are_asked_about_and_a_finished_rug_is_not() {
        let wednesday = MONDAY_8 + 48 * HOUR;
        let for_fox = SessionNoted { rug: Some(RugName("Fox".to_owned())), ..session(wednesday + HOUR, 30) };
        let until = |change| vec![rug("Fox"), work("Fox", None, change, wednesday)];
        assert_eq!(asked(until(WorkChange::Finished), &for_fox), []);
        let late = TypedDoubt::AfterDelivery { rug: "Fox".to_owned(), at_utc_ms: UtcMillis(wednesday) };
        assert_eq!(asked(until(WorkChange::Delivered), &for_fox), [late]);
        let morning = vec![EntryBody::SessionNoted(session(wednesday, 10 * 60))];
        assert_eq!(asked(morning.clone(), &session(wednesday + 10 * HOUR, 6 * 60)), []);
        let long = asked(morning, &session(wednesday + 10 * HOUR, 6 * 60 + 1));
        assert!(matches!(long[..], [TypedDoubt::LongDay { frame_time_ms: 57_660_000, .. }]), "{long:?}");
    }
}
