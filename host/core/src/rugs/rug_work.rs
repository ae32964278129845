//! What every commission took: running, strokes and time at the frame, session by session.

use std::collections::{BTreeMap, BTreeSet};

use jiff::civil::Date;
use jiff::tz::TimeZone;
use shared_types::MachineTag;

use crate::records::when::When;
use crate::sessions::holder::{Attribution, Basis, Holder};
use crate::sessions::ledger::{Ledger, LedgerLog};
use crate::sessions::{self, Session, typed};
use crate::studio::worked::Worked;
use crate::studio::{RugIndex, Studio};

/// Running on one machine.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Run {
    /// Motor moving, in milliseconds.
    pub run_ms: u64,
    /// Needle edges.
    pub edges: u64,
}

/// A session's part for one commission.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SessionShare {
    /// When the session began.
    pub starts: When,
    /// When it ended.
    pub ends: When,
    /// The local day on which it began.
    pub day: Option<Date>,
    /// The machine.
    pub machine: Option<MachineTag>,
    /// What of it is for the commission.
    pub run: Run,
    /// Time at the frame in milliseconds, shared between commissions by their running; none where it is not known how
    /// long the session was.
    pub tufting_ms: Option<u64>,
    /// Whether the maker said that it is this commission's.
    pub is_confirmed: bool,
    /// Whether it was typed in, so that its strokes were not counted.
    pub is_typed: bool,
}

/// Work on one commission.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct RugTaken {
    /// Its sessions; those of a log in order. One that is partly assumed and partly confirmed is there twice.
    pub sessions: Vec<SessionShare>,
}

impl RugTaken {
    /// Motor moving, in milliseconds.
    #[must_use]
    pub fn run_ms(&self) -> u64 {
        self.sessions.iter().fold(0, |sum, share| sum.saturating_add(share.run.run_ms))
    }

    /// Whole strokes; those of each machine are rounded down once.
    #[must_use]
    pub fn strokes(&self, studio: &Studio) -> u64 {
        self.strokes_where(studio, |_| true)
    }

    /// Whole strokes of some sessions.
    #[must_use]
    pub fn strokes_where(&self, studio: &Studio, counts: impl Fn(&SessionShare) -> bool) -> u64 {
        let mut edges: BTreeMap<Option<MachineTag>, u64> = BTreeMap::new();
        for share in self.sessions.iter().filter(|share| counts(share)) {
            let sum = edges.entry(share.machine).or_default();
            *sum = sum.saturating_add(share.run.edges);
        }
        let strokes = edges.iter().map(|(machine, edges)| studio.ratio(*machine).strokes(*edges));
        strokes.fold(0, u64::saturating_add)
    }

    /// Whether some of it was typed in.
    #[must_use]
    pub fn has_typed(&self) -> bool {
        self.sessions.iter().any(|share| share.is_typed)
    }

    /// Time at the frame of the counted sessions whose length is known, in milliseconds; confirmed or assumed ones.
    #[must_use]
    pub fn tufting_ms(&self, is_confirmed: bool) -> u64 {
        let counted = self.sessions.iter().filter(|share| !share.is_typed);
        let shares = counted.filter(|share| share.is_confirmed == is_confirmed);
        shares.filter_map(|share| share.tufting_ms).fold(0, u64::saturating_add)
    }

    /// Time at the frame in milliseconds; none where some session's length is not known, or there is none.
    #[must_use]
    pub fn whole_tufting_ms(&self) -> Option<u64> {
        let parts: Option<Vec<u64>> = self.sessions.iter().map(|share| share.tufting_ms).collect();
        parts.filter(|parts| !parts.is_empty()).map(|parts| parts.into_iter().fold(0, u64::saturating_add))
    }

    /// Sessions whose length is not known.
    #[must_use]
    pub fn unknown_lengths(&self) -> u64 {
        count(self.sessions.iter().filter(|share| share.tufting_ms.is_none()).count())
    }

    /// The machines that ran for it.
    #[must_use]
    pub fn machines(&self) -> BTreeSet<Option<MachineTag>> {
        self.sessions.iter().map(|share| share.machine).collect()
    }
}

/// Work on every commission that has any.
#[must_use]
pub fn taken(studio: &Studio, ledger: &Ledger<'_>, zone: &TimeZone) -> BTreeMap<RugIndex, RugTaken> {
    let mut taken: BTreeMap<RugIndex, RugTaken> = BTreeMap::new();
    for log in &ledger.logs {
        for session in sessions::of_log(log, zone) {
            add_session(&mut taken, log, &session);
        }
    }
    for session in &studio.worked {
        let Attribution { holder: Holder::Rug(rug), basis } = typed::attribution(studio, session) else {
            continue;
        };
        taken.entry(rug).or_default().sessions.push(typed_share(session, basis, zone));
    }
    taken
}

/// A typed session belongs to one commission as a whole.
fn typed_share(session: &Worked, basis: Basis, zone: &TimeZone) -> SessionShare {
    let (earliest, latest) = session.span();
    let (starts, ends) = if session.said.is_day {
        (When::Between { earliest, latest }, When::Between { earliest, latest })
    } else {
        (When::Dated(earliest), When::Dated(latest))
    };
    SessionShare {
        starts,
        ends,
        day: sessions::local_day(session.said.at, zone),
        machine: Some(session.said.machine),
        run: Run { run_ms: session.run_ms, edges: 0 },
        tufting_ms: Some(session.frame_ms()),
        is_confirmed: basis != Basis::Assumed,
        is_typed: true,
    }
}

fn add_session(taken: &mut BTreeMap<RugIndex, RugTaken>, log: &LedgerLog<'_>, session: &Session) {
    let mut runs: BTreeMap<(RugIndex, bool), Run> = BTreeMap::new();
    for part in session.parts(log) {
        let Holder::Rug(index) = part.attribution.holder else { continue };
        let is_confirmed = matches!(part.attribution.basis, Basis::Explicit | Basis::Confirmed);
        let run = runs.entry((index, is_confirmed)).or_default();
        run.run_ms = run.run_ms.saturating_add(part.run.0);
        run.edges = run.edges.saturating_add(part.edges);
    }
    let span = span_ms(log, session);
    for ((index, is_confirmed), run) in runs {
        taken.entry(index).or_default().sessions.push(SessionShare {
            starts: session.starts,
            ends: session.ends,
            day: session.day,
            machine: session.machine,
            run,
            tufting_ms: span.map(|span| share_ms(span, run.run_ms, session.run.0)),
            is_confirmed,
            is_typed: false,
        });
    }
}

/// From a session's first edge to its last, where that is known, in milliseconds.
#[must_use]
pub fn span_ms(log: &LedgerLog<'_>, session: &Session) -> Option<u64> {
    let lines = session.lines(log);
    let (first, last) = (&lines.first()?.burst, &lines.last()?.burst);
    if first.boot == last.boot {
        return Some(last.ends().0.saturating_sub(first.at.0));
    }
    let (When::Dated(starts), When::Dated(ends)) = (session.starts, session.ends) else { return None };
    u64::try_from(ends.0.saturating_sub(starts.0)).ok()
}

/// A session's time at the frame goes to its rugs as its running does.
fn share_ms(span_ms: u64, part_ms: u64, whole_ms: u64) -> u64 {
    let share = (u128::from(span_ms) * u128::from(part_ms)).checked_div(u128::from(whole_ms)).unwrap_or(0);
    u64::try_from(share).unwrap_or(u64::MAX)
}

fn count(length: usize) -> u64 {
    u64::try_from(length).unwrap_or(u64::MAX)
}
