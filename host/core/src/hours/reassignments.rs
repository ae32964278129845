//! What each assignment of bursts changed: whose they were counted to until then, and to whom since. The past is worked
//! out from the entries that stood at that moment, so that later corrections do not rewrite it.

use std::collections::BTreeMap;

use serde::Serialize;

use crate::entries::{
    BurstsAssigned, Certainty, Entry, EntryBody, EntryId, InForce, Owner, RugName, WorkChange,
};
use crate::records::bursts::{self, Burst};
use crate::records::log_records::{LogKey, LogRecords};
use crate::records::timeline::{HeardAt, Timeline};
use crate::sessions::attribution::Attributor;
use crate::sessions::holder::{Attribution, Basis, Holder};
use crate::sessions::session_list::CountedTo;
use crate::studio::Studio;

/// To whom some of the bursts were counted before.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct WasWith {
    /// To whom.
    pub counted_to: CountedTo,
    /// Which commission.
    pub rug: Option<String>,
    /// Why.
    pub because: Basis,
    /// Machine run time of them, in milliseconds.
    pub run_time_ms: u64,
}

/// One assignment.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Reassignment {
    /// The first of the bursts began no earlier than this, in milliseconds UTC.
    pub starts_earliest_utc_ms: Option<i64>,
    /// And no later than this; the same number where the date is known.
    pub starts_latest_utc_ms: Option<i64>,
    /// How many bursts.
    pub bursts: u64,
    /// Machine run time of them, in milliseconds.
    pub run_time_ms: u64,
    /// To whom they were counted until then.
    pub from: Vec<WasWith>,
    /// To whom they are counted since.
    pub to: CountedTo,
    /// Which commission.
    pub to_rug: Option<String>,
    /// Whether the maker only said yes to what was assumed.
    pub is_confirmation: bool,
    /// Of how many of the bursts a later assignment that counts says otherwise.
    pub moved_again: u64,
}

impl Reassignment {
    /// Whether a commission won or lost by it, or was confirmed.
    #[must_use]
    pub fn concerns(&self, rug: &RugName) -> bool {
        let is_it = |name: &String| RugName(name.clone()) == *rug;
        self.to_rug.as_ref().is_some_and(is_it)
            || self.from.iter().any(|from| from.rug.as_ref().is_some_and(is_it))
    }
}

#[derive(Debug)]
struct LogBursts<'book> {
    facts: &'book LogRecords,
    timeline: Timeline,
    bursts: Vec<Burst>,
}

/// All assignments that were ever entered, and the bursts that they are about.
#[derive(Debug)]
pub struct Reassignments<'book> {
    entries: &'book [Entry],
    logs: Vec<LogBursts<'book>>,
    in_force: Vec<(EntryId, &'book BurstsAssigned)>,
}

impl<'book> Reassignments<'book> {
    /// Reads all entries, in the order of arrival, and all logs.
    #[must_use]
    pub fn of(entries: &'book InForce<'book>, logs: &'book [LogRecords], heard: &[HeardAt]) -> Self {
        let logs = logs.iter().map(|facts| LogBursts {
            facts,
            timeline: Timeline::of_heard(facts, heard),
            bursts: bursts::join(&facts.segments),
        });
        let in_force = entries.iter().filter_map(|entry| Some((entry.id, claim(entry)?)));
        Self { entries: entries.all_named_now(), logs: logs.collect(), in_force: in_force.collect() }
    }

    /// The assignments by which a commission won or lost bursts, or had them confirmed; those taken back too.
    #[must_use]
    pub fn about(&self, rug: &RugName) -> BTreeMap<EntryId, Reassignment> {
        let ever = Ever::of(self.entries, rug);
        let places = (0..).zip(self.entries);
        places
            .filter_map(|(place, entry)| {
                let claim = claim(entry)?;
                let may = ever.claimed.iter().any(|other| overlap(claim, other))
                    || self.bursts_of(claim).is_some_and(|(log, bursts)| ever.worked_in(log, bursts));
                let moved = may.then(|| self.moved(place, entry.id, claim))?;
                moved.concerns(rug).then_some((entry.id, moved))
            })
            .collect()
    }

    /// What one assignment changed; none where the entry is no assignment.
    #[must_use]
    pub fn of_entry(&self, entry: EntryId) -> Option<Reassignment> {
        let place = self.entries.binary_search_by_key(&entry, |entry| entry.id).ok()?;
        Some(self.moved(place, entry, claim(self.entries.get(place)?)?))
    }

    fn bursts_of(&self, claim: &BurstsAssigned) -> Option<(&LogBursts<'book>, &[Burst])> {
        let log = self.logs.iter().find(|log| log.facts.key == key(claim))?;
        let start = log.bursts.partition_point(|burst| burst.first < claim.from);
        let end = log.bursts.partition_point(|burst| burst.first <= claim.to);
        Some((log, log.bursts.get(start..end).unwrap_or_default()))
    }

    /// The entries before `place` are all that was known when the assignment was made.
    fn moved(&self, place: usize, entry: EntryId, claim: &BurstsAssigned) -> Reassignment {
        let (to, to_rug) = match &claim.owner {
            Owner::Rug(rug) => (CountedTo::Rug, Some(rug.0.clone())),
            Owner::Care => (CountedTo::Care, None),
            Owner::Nobody => (CountedTo::Nobody, None),
        };
        let mut moved = Reassignment {
            starts_earliest_utc_ms: None,
            starts_latest_utc_ms: None,
            bursts: 0,
            run_time_ms: 0,
            from: Vec::new(),
            to,
            to_rug,
            is_confirmation: claim.certainty == Certainty::Confirmed,
            moved_again: 0,
        };
        let Some((log, bursts)) = self.bursts_of(claim) else { return moved };
        let studio = Studio::of(&InForce::of(self.entries.get(..place).unwrap_or_default()));
        let attributor = Attributor::of(&studio, log.facts, &log.bursts, &log.timeline);
        if let Some(first) = bursts.first() {
            let when = log.timeline.when(first.boot, first.at);
            moved.starts_earliest_utc_ms = when.earliest().map(|at| at.0);
            moved.starts_latest_utc_ms = when.latest().map(|at| at.0);
        }
        let later: Vec<&BurstsAssigned> = self
            .in_force
            .iter()
            .filter(|(id, other)| *id > entry && overlap(claim, other))
            .map(|(_, other)| *other)
            .collect();
        for burst in bursts {
            let machine = studio.fittings.machine_of(log.facts.key, burst.first);
            let when = log.timeline.when(burst.boot, burst.at);
            let before = attributor.attribute(burst, machine, when);
            moved.add(&studio, before, burst.run.0);
            let again = later.iter().any(|other| (other.from..=other.to).contains(&burst.first));
            moved.moved_again += u64::from(again);
        }
        moved
    }
}

impl Reassignment {
    fn add(&mut self, studio: &Studio, before: Attribution, run_ms: u64) {
        let rug = match before.holder {
            Holder::Rug(index) => studio.rug_at(index).map(|rug| rug.order.rug.0.clone()),
            _ => None,
        };
        let (counted_to, because) = (CountedTo::of(before.holder), before.basis);
        self.bursts += 1;
        self.run_time_ms = self.run_time_ms.saturating_add(run_ms);
        let same =
            |from: &&mut WasWith| (from.counted_to, &from.rug, from.because) == (counted_to, &rug, because);
        match self.from.iter_mut().find(same) {
            Some(from) => from.run_time_ms = from.run_time_ms.saturating_add(run_ms),
            None => self.from.push(WasWith { counted_to, rug, because, run_time_ms: run_ms }),
        }
    }
}

/// All that was ever entered by which bursts can have been counted to a commission; taken back or not.
struct Ever<'book> {
    claimed: Vec<&'book BurstsAssigned>,
    worked: Option<(i64, i64)>,
}

impl<'book> Ever<'book> {
    fn of(entries: &'book [Entry], rug: &RugName) -> Self {
        let is_its = |claim: &&BurstsAssigned| matches!(&claim.owner, Owner::Rug(owner) if owner == rug);
        let claimed = entries.iter().filter_map(claim).filter(is_its).collect();
        let mut worked: Option<(i64, i64)> = None;
        for entry in entries {
            let EntryBody::RugWork(work) = &entry.body else { continue };
            if work.rug != *rug {
                continue;
            }
            // Until its end was entered it was on the frame, whatever that end says.
            let from = if work.change == WorkChange::Started { work.at.0 } else { i64::MAX };
            let (first, last) = worked.unwrap_or((i64::MAX, i64::MIN));
            worked = Some((first.min(from), last.max(entry.entered_at.0)));
        }
        let is_on = Studio::of(&InForce::of(entries)).rug(&rug.0).is_ok_and(|rug| {
            let machines = rug.work.iter().map(|work| work.machine);
            machines.into_iter().any(|on| rug.active_periods(on).last().is_some_and(|(_, end)| end.is_none()))
        });
        Self { claimed, worked: worked.map(|(first, last)| (first, if is_on { i64::MAX } else { last })) }
    }

    fn worked_in(&self, log: &LogBursts<'_>, bursts: &[Burst]) -> bool {
        let Some((from, to)) = self.worked else { return false };
        bursts.iter().any(|burst| {
            let when = log.timeline.when(burst.boot, burst.at);
            let limits = when.earliest().zip(when.latest());
            limits.is_some_and(|(earliest, latest)| latest.0 >= from && earliest.0 <= to)
        })
    }
}

const fn claim(entry: &Entry) -> Option<&BurstsAssigned> {
    match &entry.body {
        EntryBody::BurstsAssigned(claim) => Some(claim),
        _ => None,
    }
}

const fn key(claim: &BurstsAssigned) -> LogKey {
    LogKey { logger: claim.logger, log: claim.log }
}

fn overlap(one: &BurstsAssigned, other: &BurstsAssigned) -> bool {
    key(one) == key(other) && one.from <= other.to && other.from <= one.to
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::entries::WorkChange::{Finished, Started};
    use crate::test_facts::{
        HOUR, MINUTE, MONDAY_8, anchor, assigned, empty_log, entry_list, fitted, machine, rug, segment, work,
    };
    use shared_types::UtcMillis;
    use shared_types::log::ClockSource::Host;

    /// Bursts 10, 20 and 30 at minutes 5, 10 and 65, each of one minute.
    fn log() -> LogRecords {
        let segments = vec![
            segment(10, 1, 5 * 60_000, 60_000, 700),
            segment(20, 1, 10 * 60_000, 60_000, 700),
            segment(30, 1, 65 * 60_000, 60_000, 700),
        ];
        LogRecords { events: vec![anchor(1, 1, 0, MONDAY_8, Host)], segments, ..empty_log() }
    }

    fn to(name: &str) -> Owner {
        Owner::Rug(RugName(name.to_owned()))
    }

    /// Each move of Fox: its entry, from whom, to whom, whether confirmed, how many bursts moved again.
    type Line = (i64, Vec<(Option<String>, Basis, u64)>, Option<String>, bool, u64);

    fn told(said: Vec<EntryBody>, name: &str) -> Vec<Line> {
        let base = [machine(1), fitted(1, 0), rug("Fox"), rug("Bear")];
        let mut entries = entry_list(base.into_iter().chain(said));
        // All is entered after the work.
        for entry in &mut entries {
            entry.entered_at = UtcMillis(MONDAY_8 + 2 * HOUR + entry.id.0 * MINUTE);
        }
        let logs = [log()];
        let in_force = InForce::of(entries);
        let moves = Reassignments::of(&in_force, &logs, &[]);
        let about = moves.about(&RugName(name.to_owned()));
        about
            .into_iter()
            .map(|(id, moved)| {
                let from =
                    moved.from.into_iter().map(|from| (from.rug, from.because, from.run_time_ms)).collect();
                (id.0, from, moved.to_rug, moved.is_confirmation, moved.moved_again)
            })
            .collect()
    }

    fn name(name: &str) -> Option<String> {
        Some(name.to_owned())
    }

    #[test]
    fn a_move_tells_from_whom_to_whom_and_both_rugs_know_of_it() {
        let said = vec![
            work("Fox", None, Started, MONDAY_8),
            work("Fox", None, Finished, MONDAY_8 + HOUR),
            assigned(10, 20, to("fox"), Certainty::Confirmed),
            assigned(20, 30, to("Bear"), Certainty::Explicit),
        ];
        let fox = vec![
            (7, vec![(name("Fox"), Basis::Assumed, 120_000)], name("fox"), true, 1),
            (
                8,
                vec![(name("Fox"), Basis::Confirmed, 60_000), (None, Basis::NothingActive, 60_000)],
                name("Bear"),
                false,
                0,
            ),
        ];
        assert_eq!(told(said.clone(), "Fox"), fox);
        assert_eq!(told(said, "BEAR"), fox[1..]);
    }

    #[test]
    fn a_move_taken_back_stays_and_the_next_one_starts_from_what_stood_then() {
        let said = vec![
            work("Fox", None, Started, MONDAY_8),
            assigned(10, 10, to("Bear"), Certainty::Explicit),
            EntryBody::Withdrawn { entry: EntryId(6), reason: String::new() },
            assigned(10, 10, Owner::Nobody, Certainty::Explicit),
        ];
        let lines = [
            (6, vec![(name("Fox"), Basis::Assumed, 60_000)], name("Bear"), false, 1),
            (8, vec![(name("Fox"), Basis::Assumed, 60_000)], None, false, 0),
        ];
        assert_eq!(told(said.clone(), "Fox"), lines);
        assert_eq!(told(said, "Bear"), lines[..1]);
    }

    #[test]
    fn a_correction_made_later_does_not_rewrite_from_whom_it_was_moved() {
        let said = vec![
            work("Fox", None, Started, MONDAY_8),
            assigned(30, 30, to("Bear"), Certainty::Explicit),
            // Only now it is told that Fox came off the frame before that.
            work("Fox", None, Finished, MONDAY_8 + 30 * MINUTE),
        ];
        let lines = [(6, vec![(name("Fox"), Basis::Assumed, 60_000)], name("Bear"), false, 0)];
        assert_eq!(told(said, "Fox"), lines);
    }
}
