//! Doubtful running as the maker is asked about it: bursts that follow each other and stand alike make one run, with a lasting
//! number.

use serde::Serialize;
use shared_types::{RecordSeq, UtcMillis};

use super::SESSION_GAP_MS;
use super::doubt::Doubt;
use super::holder::Holder;
use super::ledger::{DoubtfulLine, Ledger, LedgerLog, Standing};
use super::session_list::{CountedTo, SessionName};
use crate::records::log_records::LogKey;
use crate::studio::Studio;

/// Doubtful bursts of one boot with no gap over ten minutes, which stand alike.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct DoubtfulRun {
    /// Its lasting number, by which it is answered.
    pub run: SessionName,
    /// The machine's number.
    pub machine: Option<u32>,
    /// How it stands.
    pub standing: Standing,
    /// Why it is doubted, each reason once.
    pub because: Vec<Doubt>,
    /// It began no earlier than this, in milliseconds UTC.
    pub starts_earliest_utc_ms: Option<i64>,
    /// It began no later than this; the same number where the date is known.
    pub starts_latest_utc_ms: Option<i64>,
    /// It ended no earlier than this, in milliseconds UTC.
    pub ends_earliest_utc_ms: Option<i64>,
    /// Motor moving, in milliseconds, if it is true.
    pub run_time_ms: u64,
    /// Whole strokes, if they are true.
    pub strokes: u64,
    /// Continuous runs.
    pub bursts: u64,
    /// To whom it is counted, or would be.
    pub counted_to: CountedTo,
    /// To which commission.
    pub rug: Option<String>,
    /// The entry that answered it.
    pub entry: Option<i64>,
    /// The log in which it is recorded.
    #[serde(skip)]
    pub log: LogKey,
    /// First record.
    #[serde(skip)]
    pub first: RecordSeq,
    /// Last record.
    #[serde(skip)]
    pub last: RecordSeq,
}

/// All doubtful running, the oldest first; what cannot be dated comes first of all.
#[must_use]
pub fn all(studio: &Studio, ledger: &Ledger<'_>) -> Vec<DoubtfulRun> {
    let several = ledger.logs.len() > 1;
    let mut runs: Vec<DoubtfulRun> = Vec::new();
    for log in &ledger.logs {
        let alike = log.doubtful.chunk_by(is_one_run);
        runs.extend(alike.filter_map(|lines| of_lines(studio, log, lines, several)));
    }
    runs.sort_by_key(|run| run.starts_earliest_utc_ms);
    runs
}

fn is_one_run(one: &DoubtfulLine, next: &DoubtfulLine) -> bool {
    let alike = |of: &DoubtfulLine| (of.standing, of.answer, of.line.machine, of.line.attribution.holder);
    let gap = next.line.burst.at.0.saturating_sub(one.line.burst.ends().0);
    alike(one) == alike(next) && one.line.burst.boot == next.line.burst.boot && gap <= SESSION_GAP_MS
}

fn of_lines(
    studio: &Studio,
    log: &LedgerLog<'_>,
    lines: &[DoubtfulLine],
    several: bool,
) -> Option<DoubtfulRun> {
    let (first, last) = (lines.first()?, lines.last()?);
    let mut because: Vec<Doubt> = lines.iter().map(|line| line.doubt).collect();
    because.sort_unstable();
    because.dedup();
    let bursts = || lines.iter().map(|line| &line.line.burst);
    let edges = bursts().fold(0_u64, |sum, burst| sum.saturating_add(burst.edges));
    let burst = &last.line.burst;
    let ends = log.timeline.when(burst.boot, burst.ends());
    let utc = |at: Option<UtcMillis>| at.map(|at| at.0);
    Some(DoubtfulRun {
        run: SessionName::Counted {
            first: first.line.burst.first,
            log: several.then_some(log.facts.key.log),
        },
        machine: first.line.machine.map(|tag| tag.0),
        standing: first.standing,
        because,
        starts_earliest_utc_ms: utc(first.line.when.earliest()),
        starts_latest_utc_ms: utc(first.line.when.latest()),
        ends_earliest_utc_ms: utc(ends.earliest()),
        run_time_ms: bursts().fold(0, |sum, burst| sum.saturating_add(burst.run.0)),
        strokes: studio.ratio(first.line.machine).strokes(edges),
        bursts: u64::try_from(lines.len()).unwrap_or(u64::MAX),
        counted_to: CountedTo::of(first.line.attribution.holder),
        rug: match first.line.attribution.holder {
            Holder::Rug(index) => studio.rug_at(index).map(|rug| rug.order.rug.0.clone()),
            _ => None,
        },
        entry: first.answer.map(|entry| entry.0),
        log: log.facts.key,
        first: first.line.burst.first,
        last: last.line.burst.last,
    })
}
