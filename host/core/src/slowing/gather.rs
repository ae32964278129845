//! Bursts long and steady enough to have a stroke rate at one place of the knob: sessions on commissions, and dry runs.

use std::collections::BTreeMap;

use jiff::tz::TimeZone;
use shared_types::{MachineTag, UtcMillis};

use super::curve::{KnobRate, WorkSession};
use super::dry::DryRun;
use crate::entries::KnobMarks;
use crate::records::log_records::LogKey;
use crate::records::when::When;
use crate::sessions;
use crate::sessions::holder::Holder;
use crate::sessions::ledger::{Ledger, LedgerLine, LedgerLog};
use crate::stats::number;
use crate::studio::{RugIndex, Studio};

/// Shorter bursts have no rate: starting and stopping take up too much of them. Milliseconds.
pub const LEAST_BURST_MS: u64 = 3_000;
/// Within one burst the knob may move by so much, per mille of its travel.
pub const STEADY_KNOB_PER_MILLE: u16 = 40;

/// What there is to look at.
#[derive(Clone, Debug, Default)]
pub struct Gathered {
    /// Sessions on commissions, in the order of time; a session on two commissions is two of these.
    pub sessions: Vec<WorkSession>,
    /// When each began.
    pub starts: Vec<When>,
    /// Dry runs in the order of time.
    pub dry_runs: Vec<DryRun>,
    /// When each was made.
    pub dry_starts: Vec<When>,
    /// Bursts of three seconds and more.
    pub bursts: u64,
    /// Of them, without a known place of the knob, or beyond its end marks.
    pub knob_unknown: u64,
    /// Of them, with a knob that moved.
    pub knob_moved: u64,
    /// Of them, counted to no commission and no care, so that cloth cannot be told from machine.
    pub nobodys: u64,
}

/// Where something stands in time: date, log, place in the log.
type Order = (Option<UtcMillis>, LogKey, usize);

/// Gathers one machine's bursts since a moment; without one, all of them.
#[must_use]
pub fn gather(
    studio: &Studio,
    ledger: &Ledger<'_>,
    machine: MachineTag,
    zone: &TimeZone,
    since: Option<UtcMillis>,
) -> Gathered {
    let mut all = Gathered::default();
    let mut work: Vec<(Order, When, WorkSession)> = Vec::new();
    let mut dry: Vec<(Order, When, DryRun)> = Vec::new();
    let (edges, strokes) = studio.ratio(Some(machine)).parts();
    let read = BurstRates {
        marks: studio.marks(Some(machine)),
        strokes_per_edge: f64::from(strokes) / f64::from(edges),
    };
    for log in &ledger.logs {
        for session in sessions::of_log(log, zone).iter().filter(|one| one.machine == Some(machine)) {
            if since.is_some_and(|since| session.starts.latest().is_some_and(|latest| latest < since)) {
                continue;
            }
            let mut of_rugs: BTreeMap<RugIndex, Vec<KnobRate>> = BTreeMap::new();
            for (place, line) in session.lines.clone().zip(session.lines(log)) {
                let Some(rate) = read.rate(&mut all, log, line) else { continue };
                let order = (line.when.earliest(), log.facts.key, place);
                match line.attribution.holder {
                    Holder::Rug(rug) => of_rugs.entry(rug).or_default().push(rate),
                    Holder::Care => {
                        let run = DryRun { knob_per_mille: rate.knob_per_mille, ln_rate: rate.ln_rate };
                        dry.push((order, line.when, run));
                    }
                    Holder::Unassigned | Holder::Undated => all.nobodys += 1,
                }
            }
            let order = (session.starts.earliest(), log.facts.key, session.lines.start);
            let of_session =
                of_rugs.into_iter().map(|(rug, bursts)| WorkSession { rug: rug.place(), bursts });
            work.extend(of_session.map(|one| (order, session.starts, one)));
        }
    }
    in_order(&mut work);
    in_order(&mut dry);
    all.starts = work.iter().map(|(_, when, _)| *when).collect();
    all.sessions = work.into_iter().map(|(.., one)| one).collect();
    all.dry_starts = dry.iter().map(|(_, when, _)| *when).collect();
    all.dry_runs = dry.into_iter().map(|(.., run)| run).collect();
    all
}

/// By date where everything has one; else log by log, each in its own order.
fn in_order<T>(all: &mut [(Order, When, T)]) {
    if all.iter().all(|((at, ..), ..)| at.is_some()) {
        all.sort_by_key(|(order, ..)| *order);
    }
}

struct BurstRates<'studio> {
    marks: Option<&'studio KnobMarks>,
    strokes_per_edge: f64,
}

impl BurstRates<'_> {
    /// A burst's rate at its place of the knob, if it has one.
    fn rate(&self, all: &mut Gathered, log: &LedgerLog<'_>, line: &LedgerLine) -> Option<KnobRate> {
        if line.burst.run.0 < LEAST_BURST_MS {
            return None;
        }
        all.bursts += 1;
        let (mut weighed, mut run, mut low, mut high) = (0.0, 0_u64, u16::MAX, 0);
        for piece in line.burst.pieces(&log.facts.segments, self.marks) {
            let Some(place) = piece.knob.filter(|place| !place.outside) else {
                all.knob_unknown += 1;
                return None;
            };
            let per_mille = place.per_mille.get();
            (low, high) = (low.min(per_mille), high.max(per_mille));
            weighed += f64::from(per_mille) * number(piece.run.0);
            run += piece.run.0;
        }
        if high.saturating_sub(low) > STEADY_KNOB_PER_MILLE {
            all.knob_moved += 1;
            return None;
        }
        let per_second = line.burst.edges_per_second()? * self.strokes_per_edge;
        let ln_rate = per_second.ln();
        (run > 0 && ln_rate.is_finite()).then(|| KnobRate { knob_per_mille: weighed / number(run), ln_rate })
    }
}
