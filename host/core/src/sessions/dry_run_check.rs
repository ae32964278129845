//! What became of the dry run after an oiling.

use super::dry_run::*;
use super::holder::Holder;
use super::ledger::Ledger;
use crate::records::timeline::HeardAt;
use crate::records::when::When;
use crate::stats::number;
use crate::studio::StrokeRatio;
use serde::Serialize;
use shared_types::{MachineTag, UtcMillis};

/// What the log says of the dry run after an oiling.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[serde(tag = "seen", rename_all = "snake_case")]
pub enum DryRun {
    /// It is there.
    Found {
        /// When the first began.
        began_utc_ms: UtcMillis,
        /// How long they ran together.
        run_time_ms: u64,
        /// Whole strokes.
        strokes: u64,
        /// Strokes per second.
        strokes_per_second: Option<f64>,
    },
    /// The log covers the time, and nothing in it looks like one.
    NotFound,
    /// The logger has not been pulled since, or nothing dated is known of that time.
    NotKnown,
}

/// Looks for the dry run of an oiling among what is counted to care.
#[must_use]
pub fn check(
    ledger: &Ledger<'_>,
    heard: &[HeardAt],
    machine: MachineTag,
    ratio: StrokeRatio,
    oiled: UtcMillis,
) -> DryRun {
    let near = oiled.0.saturating_sub(WITHIN_MS + TOOK_AT_MOST_MS)..=oiled.0.saturating_add(WITHIN_MS);
    let mut began: Option<i64> = None;
    let (mut run_ms, mut edges, mut periods) = (0_u64, 0_u64, 0_u64);
    // Of another machine's logger a later reading says nothing.
    let mut its_logs = Vec::new();
    for log in &ledger.logs {
        let lines = log.lines.iter().filter(|line| line.machine == Some(machine));
        if lines.clone().next().is_some() {
            its_logs.push(log.facts.key);
        }
        for line in lines {
            let When::Dated(at) = line.when else { continue };
            if line.attribution.holder == Holder::Care && near.contains(&at.0) {
                began = Some(began.map_or(at.0, |began| began.min(at.0)));
                run_ms = run_ms.saturating_add(line.burst.run.0);
                edges = edges.saturating_add(line.burst.edges);
                periods = periods.saturating_add(line.burst.periods());
            }
        }
    }
    if let Some(began) = began {
        let seconds = number(run_ms) / 1000.0;
        let per_second = (run_ms > 0).then(|| number(ratio.strokes(periods)) / seconds);
        return DryRun::Found {
            began_utc_ms: UtcMillis(began),
            run_time_ms: run_ms,
            strokes: ratio.strokes(edges),
            strokes_per_second: per_second,
        };
    }
    let last_heard = heard.iter().filter(|heard| its_logs.contains(&heard.log)).map(|heard| heard.at.0).max();
    let is_covered = last_heard.is_some_and(|last| last >= oiled.0.saturating_add(WITHIN_MS));
    if is_covered { DryRun::NotFound } else { DryRun::NotKnown }
}
