//! One machine's running of one log on an axis of milliseconds, so that pauses between bursts can be measured.
//!
//! Within a boot the pauses are exact. From boot to boot a pause is known only where both sides are dated; elsewhere
//! the chain breaks, and nothing is said about the time between.

use shared_types::MachineTag;

use crate::records::clock_marks::CLOCKS_AGREE_WITHIN_MS;
use crate::records::when::When;
use crate::sessions::ledger::{LedgerLine, LedgerLog};

/// Running without a pause.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Run {
    /// Its start on the chain's axis.
    pub at_ms: u64,
    /// How long.
    pub run_ms: u64,
    /// The line of the ledger with which it begins.
    pub line: usize,
}

impl Run {
    /// Its end on the chain's axis.
    #[must_use]
    pub const fn ends_ms(&self) -> u64 {
        self.at_ms.saturating_add(self.run_ms)
    }
}

/// Runs in order, not overlapping, with known pauses between them.
pub type Chain = Vec<Run>;

/// The chains of a machine in a log. Bursts that touch are one run, so that it does not matter how records divide it.
#[must_use]
pub fn chains(log: &LedgerLog<'_>, machine: MachineTag, counts: impl Fn(&LedgerLine) -> bool) -> Vec<Chain> {
    let mut chains: Vec<Chain> = Vec::new();
    let mut before: Option<&LedgerLine> = None;
    for (index, line) in log.lines.iter().enumerate() {
        if line.machine != Some(machine) || !counts(line) {
            continue;
        }
        let pause = before.and_then(|before| pause_ms(log, before, line));
        before = Some(line);
        let run_ms = line.burst.run.0;
        match (pause, chains.last_mut().and_then(|chain| Some((chain.last()?.ends_ms(), chain)))) {
            (Some(0), Some((_, chain))) => {
                if let Some(last) = chain.last_mut() {
                    last.run_ms = last.run_ms.saturating_add(run_ms);
                }
            }
            (Some(pause), Some((ends, chain))) => {
                chain.push(Run { at_ms: ends.saturating_add(pause), run_ms, line: index });
            }
            _ => chains.push(vec![Run { at_ms: 0, run_ms, line: index }]),
        }
    }
    chains
}

fn pause_ms(log: &LedgerLog<'_>, before: &LedgerLine, line: &LedgerLine) -> Option<u64> {
    if before.burst.boot == line.burst.boot {
        return Some(line.burst.at.0.saturating_sub(before.burst.ends().0));
    }
    let ended = log.timeline.when(before.burst.boot, before.burst.ends());
    let (When::Dated(ended), When::Dated(starts)) = (ended, line.when) else { return None };
    let pause = starts.0.saturating_sub(ended.0);
    // A boot cannot start before the one before it ended; what looks so by seconds is the clocks' own play.
    (pause >= -CLOCKS_AGREE_WITHIN_MS).then(|| u64::try_from(pause).unwrap_or(0))
}

/// A stretch of running with nothing but short pauses in it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Stretch {
    /// The line of the ledger with which it begins.
    pub line: usize,
    /// From its start to its end, pauses and all.
    pub span_ms: u64,
}

/// The stretches of a chain whose pauses are at most `pause_ms` long; with no pause allowed, its runs.
pub fn stretches(chain: &Chain, pause_ms: u64) -> impl Iterator<Item = Stretch> + '_ {
    chain.chunk_by(move |one, next| next.at_ms.saturating_sub(one.ends_ms()) <= pause_ms).filter_map(|runs| {
        let (first, last) = (runs.first()?, runs.last()?);
        Some(Stretch { line: first.line, span_ms: last.ends_ms().saturating_sub(first.at_ms) })
    })
}
