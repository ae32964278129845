//! What a machine ran since its tasks were last done, worked out once for all tasks that were last done at the same moment.

use jiff::tz::TimeZone;
use shared_types::UtcMillis;

use super::done::{Evidence, LastDone};
use super::history::{History, RunSince};
use super::run_pieces::Moment;

/// What ran and stood since a task was last done.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Since {
    /// Run time; all that ever ran where the task was never done.
    pub run: RunSince,
    /// Edges, likewise.
    pub edges: u64,
    /// Sessions begun.
    pub sessions: u64,
    /// Local days on which they began.
    pub days_worked: u64,
    /// The longest standstill, in milliseconds.
    pub rest_ms: u64,
}

/// Looks up a machine's history.
#[derive(Clone, Debug)]
pub struct SinceDone<'a> {
    history: &'a History,
    now: UtcMillis,
    zone: &'a TimeZone,
    /// All that ever ran.
    pub ever: RunSince,
    known: Vec<((Moment, bool), Since)>,
}

impl<'a> SinceDone<'a> {
    /// Of this history.
    #[must_use]
    pub fn of(history: &'a History, now: UtcMillis, zone: &'a TimeZone) -> Self {
        Self { history, now, zone, ever: history.run_ever(), known: Vec::new() }
    }

    /// The history.
    #[must_use]
    pub const fn history(&self) -> &'a History {
        self.history
    }

    /// The moment from which it is asked.
    #[must_use]
    pub const fn now(&self) -> UtcMillis {
        self.now
    }

    /// What ran and stood since then.
    pub fn since(&mut self, last: &LastDone) -> Since {
        let is_never = last.evidence == Evidence::Never;
        let key = (last.moment, is_never);
        if let Some((_, since)) = self.known.iter().find(|(known, _)| *known == key) {
            return *since;
        }
        let (history, moment) = (self.history, last.moment);
        let since = Since {
            run: if is_never { self.ever } else { history.run_since(moment) },
            edges: if is_never { history.edges_ever() } else { history.edges_since(moment) },
            sessions: history.sessions_since(moment),
            days_worked: history.days_worked_since(moment, self.zone),
            rest_ms: history.longest_rest_ms(moment.when.earliest().unwrap_or(self.now), self.now),
        };
        self.known.push((key, since));
        since
    }
}
