//! Every burst of every log with its date, its machine and whose it is: what hours, sessions, care and tears start
//! from.

use shared_types::MachineTag;

use super::attribution::{Attribution, Attributor};
use super::bursts::{self, Burst};
use super::facts::LogFacts;
use super::studio::Studio;
use super::timeline::{HeardAt, Timeline};
use super::when::When;

/// A burst and what is known of it.
#[derive(Clone, Debug)]
pub struct LedgerLine {
    /// The burst.
    pub burst: Burst,
    /// When it began.
    pub when: When,
    /// The machine; none while the logger sat on none.
    pub machine: Option<MachineTag>,
    /// To whom it is counted, and why.
    pub attribution: Attribution,
}

/// One log's part of the ledger.
#[derive(Debug)]
pub struct LedgerLog<'facts> {
    /// What the logger reported.
    pub facts: &'facts LogFacts,
    /// How its moments are dated.
    pub timeline: Timeline,
    /// Its bursts in the order of their numbers.
    pub lines: Vec<LedgerLine>,
}

/// All logs.
#[derive(Debug)]
pub struct Ledger<'facts> {
    /// In the order of the facts.
    pub logs: Vec<LedgerLog<'facts>>,
}

impl<'facts> Ledger<'facts> {
    /// Dates and attributes everything.
    #[must_use]
    pub fn of(studio: &Studio, logs: &'facts [LogFacts]) -> Self {
        Self::of_heard(studio, logs, &[])
    }

    /// Dates and attributes everything; when loggers were heard limits what no clock reading dates.
    #[must_use]
    pub fn of_heard(studio: &Studio, logs: &'facts [LogFacts], heard: &[HeardAt]) -> Self {
        Self { logs: logs.iter().map(|facts| LedgerLog::of(studio, facts, heard)).collect() }
    }
}

impl<'facts> LedgerLog<'facts> {
    fn of(studio: &Studio, facts: &'facts LogFacts, heard: &[HeardAt]) -> Self {
        let timeline = Timeline::of_heard(facts, heard);
        let joined = bursts::join(&facts.segments);
        let attributor = Attributor::of(studio, facts, &joined, &timeline);
        let lines = joined
            .into_iter()
            .map(|burst| {
                let when = timeline.when(burst.boot, burst.at);
                let machine = studio.fittings.machine_of(facts.key, burst.first);
                let attribution = attributor.attribute(&burst, machine, when);
                LedgerLine { burst, when, machine, attribution }
            })
            .collect();
        Self { facts, timeline, lines }
    }
}
