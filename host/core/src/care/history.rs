//! What a machine ran, as far as care needs it: how much after a given moment, in how many sessions, and how long it stood.
//!
//! A burst may have no date but limits, and a moment may fall inside a burst; then the run time after the moment has limits too.
//! The order of records within one log is always known, so a button press splits its own log exactly even without any clock.

use std::collections::BTreeSet;

use jiff::tz::TimeZone;
use serde::Serialize;
use shared_types::{MachineTag, RecordSeq, RunMillis, UptimeMillis, UtcMillis};

use super::local_clock::LocalClock;
use super::run_pieces::{Moment, Place, RunPiece, RunPieces};
use crate::records::not_recorded;
use crate::records::timeline::HeardAt;
use crate::sessions;
use crate::sessions::hours_at::last_heard;
use crate::sessions::ledger::{Ledger, LedgerLine, LedgerLog};
use crate::studio::Studio;

/// Run time after a moment.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
pub struct RunSince {
    /// Measured, certainly after it.
    pub at_least_ms: u64,
    /// Measured, possibly after it; includes what is not recorded.
    pub at_most_ms: u64,
    /// Part of `at_most_ms` of which no record tells.
    pub not_recorded_ms: u64,
    /// Part of `at_most_ms` that may be no work; the maker has not said yet.
    pub doubtful_ms: u64,
    /// Written by hand, beside the measured.
    pub by_hand_ms: u64,
}

impl RunSince {
    /// The cautious number: all that may have run.
    #[must_use]
    pub const fn cautious_ms(self) -> u64 {
        self.at_most_ms.saturating_add(self.by_hand_ms)
    }
}

/// What a machine ran.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct History {
    /// Bursts and losses, by log, in the order of records.
    pub pieces: RunPieces,
    /// Doubtful bursts of which the maker has said nothing yet. Only what is asked since a care counts them, so that care comes
    /// too early rather than too late.
    pub doubtful: Vec<RunPiece>,
    /// The first burst of each session.
    pub sessions: Vec<RunPiece>,
    /// The same if the doubtful bursts were work; empty where there are none.
    pub sessions_if_real: Vec<RunPiece>,
    /// Run time written by hand.
    pub by_hand: Vec<(UtcMillis, RunMillis)>,
}

impl History {
    /// Gathers a machine's running from all logs. `heard` limits what has no clock reading after it.
    #[must_use]
    pub fn of(
        studio: &Studio,
        ledger: &Ledger<'_>,
        heard: &[HeardAt],
        machine: MachineTag,
        zone: &TimeZone,
    ) -> Self {
        let (mut history, mut pieces) = (Self::default(), Vec::new());
        for log in &ledger.logs {
            let bursts = bursts_of(log, heard, machine, &log.lines);
            let sessions = first_bursts(log, machine, zone, &bursts);
            if let Some(if_real) = log.as_if_real() {
                let all = bursts_of(log, heard, machine, &if_real.lines);
                history.sessions_if_real.extend(first_bursts(&if_real, machine, zone, &all));
                let open: BTreeSet<RecordSeq> = log.open().map(|one| one.line.burst.first).collect();
                history.doubtful.extend(all.into_iter().filter(|piece| open.contains(&piece.place.seq)));
            } else {
                history.sessions_if_real.extend(sessions.iter().copied());
            }
            history.sessions.extend(sessions);
            // The first log, often the only one, is not copied.
            if pieces.is_empty() {
                pieces = bursts;
            } else {
                pieces.extend(bursts);
            }
            pieces.extend(losses_of(log, studio, heard, machine));
        }
        history.pieces = RunPieces::of(pieces);
        let of_machine = studio.worked.iter().filter(|session| session.said.machine == machine);
        history.by_hand.extend(of_machine.map(|session| (session.said.at, RunMillis(session.run_ms))));
        history
    }

    /// How much ran after a moment.
    #[must_use]
    pub fn run_since(&self, moment: Moment) -> RunSince {
        let mut since = RunSince::default();
        for piece in self.pieces.from(moment) {
            let (least, most) = piece.after(moment);
            since.at_least_ms = since.at_least_ms.saturating_add(least);
            since.at_most_ms = since.at_most_ms.saturating_add(most);
            if !piece.is_recorded {
                since.not_recorded_ms = since.not_recorded_ms.saturating_add(most);
            }
        }
        for piece in &self.doubtful {
            let (_, most) = piece.after(moment);
            since.at_most_ms = since.at_most_ms.saturating_add(most);
            since.doubtful_ms = since.doubtful_ms.saturating_add(most);
        }
        let after = |at: UtcMillis| moment.when.latest().is_none_or(|moment| at > moment);
        since.by_hand_ms = self.by_hand.iter().filter(|(at, _)| after(*at)).map(|(_, run)| run.0).sum();
        since
    }

    /// Edges that may have been counted after a moment: of a burst in which the moment falls, as many as its share of the
    /// time. What was written by hand has none.
    #[must_use]
    pub fn edges_since(&self, moment: Moment) -> u64 {
        let after = self.pieces.from(moment).iter().chain(&self.doubtful).map(|piece| {
            let (_, most) = piece.after(moment);
            if most >= piece.run.0 {
                return piece.edges;
            }
            let share = u128::from(piece.edges) * u128::from(most) / u128::from(piece.run.0.max(1));
            u64::try_from(share).unwrap_or(u64::MAX)
        });
        after.fold(0, u64::saturating_add)
    }

    /// All edges that were ever counted.
    #[must_use]
    pub fn edges_ever(&self) -> u64 {
        self.pieces.iter().chain(&self.doubtful).fold(0, |sum, piece| sum.saturating_add(piece.edges))
    }

    /// All that ever ran.
    #[must_use]
    pub fn run_ever(&self) -> RunSince {
        let mut ever = RunSince::default();
        for piece in self.pieces.iter() {
            ever.at_most_ms = ever.at_most_ms.saturating_add(piece.run.0);
            if !piece.is_recorded {
                ever.not_recorded_ms = ever.not_recorded_ms.saturating_add(piece.run.0);
            }
        }
        ever.at_least_ms = ever.at_most_ms;
        ever.doubtful_ms = self.doubtful.iter().fold(0, |sum: u64, piece| sum.saturating_add(piece.run.0));
        ever.at_most_ms = ever.at_most_ms.saturating_add(ever.doubtful_ms);
        ever.by_hand_ms = self.by_hand.iter().map(|(_, run)| run.0).sum();
        ever
    }

    /// Sessions that may have begun after a moment. The session during which the moment falls is not one of them: care given
    /// at the end of a session is followed by a short dry run, which must not ask for care again.
    #[must_use]
    pub fn sessions_since(&self, moment: Moment) -> u64 {
        let begun = |sessions: &[RunPiece]| {
            let after = sessions.iter().filter(|first| first.may_begin_after(moment));
            u64::try_from(after.count()).unwrap_or(u64::MAX)
        };
        let is_after = |at: UtcMillis| moment.when.latest().is_none_or(|moment| at > moment);
        let typed = self.by_hand.iter().filter(|(at, _)| is_after(*at)).count();
        let counted = begun(&self.sessions).max(begun(&self.sessions_if_real));
        counted.saturating_add(u64::try_from(typed).unwrap_or(u64::MAX))
    }

    /// Local days on which sessions that may have begun after a moment began. A session without a date is a day of its own.
    #[must_use]
    pub fn days_worked_since(&self, moment: Moment, zone: &TimeZone) -> u64 {
        let mut clock = LocalClock::of(zone);
        let mut day_of = |at: Option<UtcMillis>| at.and_then(|at| clock.read(at.0)).map(|local| local.day);
        let counted = self.sessions.iter().chain(&self.sessions_if_real);
        let counted = counted.filter(|first| first.may_begin_after(moment));
        let mut days: BTreeSet<(Option<i64>, Option<RecordSeq>)> = counted
            .map(|first| {
                let day = day_of(first.latest);
                (day, day.is_none().then_some(first.place.seq))
            })
            .collect();
        let is_after = |at: UtcMillis| moment.when.latest().is_none_or(|moment| at > moment);
        let typed = self.by_hand.iter().filter(|(at, _)| is_after(*at));
        days.extend(typed.map(|(at, _)| (day_of(Some(*at)), None)));
        u64::try_from(days.len()).unwrap_or(u64::MAX)
    }

    /// The longest time for which the machine certainly stood still between a moment and now, in milliseconds.
    #[must_use]
    pub fn longest_rest_ms(&self, moment: UtcMillis, now: UtcMillis) -> u64 {
        let mut ran: Vec<(i64, i64)> = self
            .pieces
            .from(Moment::dated(moment))
            .iter()
            .filter(|piece| piece.is_recorded)
            .map(|piece| {
                let latest = piece.latest.map_or(now.0, |at| at.0);
                let end = latest.saturating_add(i64::try_from(piece.run.0).unwrap_or(i64::MAX));
                (piece.earliest.map_or(i64::MIN, |at| at.0), end)
            })
            .chain(self.by_hand.iter().map(|(at, _)| (at.0, at.0)))
            .filter(|(_, end)| *end > moment.0)
            .collect();
        ran.sort_unstable();
        let (mut still_from, mut longest) = (moment.0, 0);
        for (start, end) in ran {
            longest = longest.max(start.min(now.0).saturating_sub(still_from));
            still_from = still_from.max(end);
        }
        longest = longest.max(now.0.saturating_sub(still_from));
        u64::try_from(longest).unwrap_or(0)
    }
}

/// The first burst of each session of a machine. `bursts` are all of its bursts in the log.
fn first_bursts(
    log: &LedgerLog<'_>,
    machine: MachineTag,
    zone: &TimeZone,
    bursts: &[RunPiece],
) -> Vec<RunPiece> {
    let sessions = sessions::of_log(log, zone);
    let own = sessions.iter().filter(|one| one.machine == Some(machine));
    own.filter_map(|session| bursts.get(bursts.partition_point(|piece| piece.place.seq < session.first)))
        .copied()
        .collect()
}

/// A machine's bursts among these of one log. A burst without a last moment was over before the next one that has one.
fn bursts_of(
    log: &LedgerLog<'_>,
    heard: &[HeardAt],
    machine: MachineTag,
    lines: &[LedgerLine],
) -> Vec<RunPiece> {
    let known = dated_events(log);
    let heard = heard_of(log, heard);
    let mut pieces: Vec<RunPiece> = Vec::with_capacity(lines.len());
    for line in lines.iter().filter(|line| line.machine == Some(machine)) {
        let seq = line.burst.first;
        let place = Place { log: log.facts.key, seq, boot: line.burst.boot, at: line.burst.at };
        pieces.push(RunPiece {
            place,
            until: line.burst.last,
            earliest: line.when.earliest().or_else(|| {
                let before = known.partition_point(|(known, ..)| *known < seq).checked_sub(1);
                before.and_then(|at| known.get(at)).and_then(|(_, earliest, _)| *earliest)
            }),
            latest: line.when.latest().or_else(|| {
                let next = known.get(known.partition_point(|(known, ..)| *known <= seq));
                let heard = heard.get(heard.partition_point(|one| one.next <= seq)).map(|one| one.at);
                next.and_then(|(.., latest)| *latest).into_iter().chain(heard).min()
            }),
            run: line.burst.run,
            edges: line.burst.edges,
            is_recorded: true,
        });
    }
    pieces
}

/// When a log was heard, the first hearing of each length; later hearings of the same records say nothing new.
fn heard_of(log: &LedgerLog<'_>, heard: &[HeardAt]) -> Vec<HeardAt> {
    let mut heard: Vec<HeardAt> = heard.iter().copied().filter(|one| one.log == log.facts.key).collect();
    heard.sort_by_key(|one| (one.next, one.at));
    heard.dedup_by_key(|one| one.next);
    heard
}

/// All events with the limits of their dates; where there is none, the limit of the nearest event that has one.
type DatedEvent = (RecordSeq, Option<UtcMillis>, Option<UtcMillis>);

fn dated_events(log: &LedgerLog<'_>) -> Vec<DatedEvent> {
    let mut dates = log.timeline.in_order();
    let mut known: Vec<DatedEvent> = log
        .facts
        .events
        .iter()
        .map(|event| {
            let when = dates.when(event.boot, event.at);
            (event.seq, when.earliest(), when.latest())
        })
        .collect();
    let mut before = None;
    for (_, earliest, _) in &mut known {
        before = earliest.or(before);
        *earliest = before;
    }
    let mut after = None;
    for (.., latest) in known.iter_mut().rev() {
        after = latest.or(after);
        *latest = after;
    }
    known
}

/// What the totals hold and no record tells, between each two readings of the totals.
fn losses_of(log: &LedgerLog<'_>, studio: &Studio, heard: &[HeardAt], machine: MachineTag) -> Vec<RunPiece> {
    let last_heard = last_heard(heard, log.facts.key);
    let known = dated_events(log);
    let limit =
        |seq: RecordSeq| known.get(known.partition_point(|(at, ..)| *at < seq)).filter(|(at, ..)| *at == seq);
    not_recorded::gaps(log.facts, &studio.fittings)
        .into_iter()
        .filter(|gap| gap.machine == Some(machine) && gap.lost.run.0 > 0)
        .map(|gap| RunPiece {
            place: Place { log: log.facts.key, seq: gap.from, boot: gap.boot, at: UptimeMillis(0) },
            until: gap.until,
            earliest: limit(gap.from).and_then(|(_, earliest, _)| *earliest),
            latest: limit(gap.until).and_then(|(.., latest)| *latest).or(last_heard),
            run: gap.lost.run,
            edges: gap.lost.edges.0,
            is_recorded: false,
        })
        .collect()
}

#[cfg(test)]
#[path = "history_tests.rs"]
mod tests;
