//! How the machine was driven: the knob above the accepted ceiling, and very slow running.

use shared_types::MachineTag;

use crate::entries::{CeilingSet, Entry, EntryBody, HeavyLimit, HeavyLimitSet, InForce};
use crate::records::bursts::Piece;
use crate::records::when::When;
use crate::sessions::ledger::{Ledger, LedgerLine};
use crate::stats::number;
use crate::studio::Studio;

/// Every limit that the maker set, in the order of entry. A ceiling that was accepted for the cloth's sake is the same ceiling.
#[must_use]
pub fn limits_set(entries: &InForce<'_>) -> Vec<HeavyLimitSet> {
    let of_cloth = |set: &CeilingSet| HeavyLimitSet {
        machine: set.machine,
        limit: HeavyLimit::KnobCeilingPercent,
        thousandths: set.knob_per_mille.map_or(0, |per_mille| u32::from(per_mille) * 100),
    };
    let limit = |entry: &Entry| match &entry.body {
        EntryBody::HeavyLimitSet(set) => Some(*set),
        EntryBody::CeilingSet(set) => Some(of_cloth(set)),
        _ => None,
    };
    entries.iter().filter_map(limit).collect()
}

/// What the maker last said of the knob's ceiling; none while nothing was said.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CeilingSaid {
    /// There is none.
    Off,
    /// Running above this place is too fast. Per mille of the knob's travel.
    At(u32),
}

impl CeilingSaid {
    /// The place, if there is one.
    #[must_use]
    pub const fn per_mille(self) -> Option<u32> {
        match self {
            Self::Off => None,
            Self::At(place) => Some(place),
        }
    }
}

/// The ceiling in force on a machine, whichever command set it.
#[must_use]
pub fn ceiling_said(entries: &InForce<'_>, machine: MachineTag) -> Option<CeilingSaid> {
    let sets = limits_set(entries);
    let last =
        sets.iter().rfind(|set| set.machine == machine && set.limit == HeavyLimit::KnobCeilingPercent)?;
    Some(if last.thousandths == 0 { CeilingSaid::Off } else { CeilingSaid::At(last.thousandths / 100) })
}

/// What was found.
#[derive(Clone, Debug, PartialEq)]
pub struct Driving {
    /// Run time with a known place of the knob, in milliseconds.
    pub knob_known_ms: u64,
    /// Of it, above the ceiling.
    pub above_ceiling_ms: u64,
    /// The highest place at which it ran, per mille of the travel.
    pub highest_per_mille: Option<u16>,
    /// When it last ran above the ceiling.
    pub last_above: Option<When>,
    /// Run time with a known stroke rate, in milliseconds.
    pub rate_known_ms: u64,
    /// Of it, very slow.
    pub slow_ms: u64,
}

/// What is looked for.
#[derive(Clone, Copy, Debug)]
pub struct Sought {
    /// The ceiling, per mille of the knob's travel; only running above it counts.
    pub ceiling_per_mille: Option<u32>,
    /// Running below this rate is very slow, in strokes per second.
    pub slow_strokes_per_second: Option<f64>,
}

/// Looks at every piece of a machine's running once. `counts` leaves bursts out.
#[must_use]
pub fn driving(
    studio: &Studio,
    ledger: &Ledger<'_>,
    machine: MachineTag,
    sought: Sought,
    counts: impl Fn(&LedgerLine) -> bool,
) -> Driving {
    let marks = studio.marks(Some(machine));
    let (edges, strokes) = studio.ratio(Some(machine)).parts();
    let strokes_per_edge = f64::from(strokes) / f64::from(edges);
    let mut found = Driving::new();
    for log in &ledger.logs {
        for line in log.lines.iter().filter(|line| line.machine == Some(machine) && counts(line)) {
            for piece in line.burst.pieces(&log.facts.segments, marks) {
                found.look_at_knob(&piece, sought.ceiling_per_mille, line.when);
                found.look_at_rate(&piece, sought.slow_strokes_per_second, strokes_per_edge);
            }
        }
    }
    found
}

impl Driving {
    const fn new() -> Self {
        Self {
            knob_known_ms: 0,
            above_ceiling_ms: 0,
            highest_per_mille: None,
            last_above: None,
            rate_known_ms: 0,
            slow_ms: 0,
        }
    }

    fn look_at_knob(&mut self, piece: &Piece, ceiling: Option<u32>, when: When) {
        let Some(place) = piece.knob else { return };
        let per_mille = place.per_mille.get();
        self.knob_known_ms = self.knob_known_ms.saturating_add(piece.run.0);
        self.highest_per_mille = self.highest_per_mille.max(Some(per_mille));
        if ceiling.is_some_and(|ceiling| u32::from(per_mille) > ceiling) {
            self.above_ceiling_ms = self.above_ceiling_ms.saturating_add(piece.run.0);
            self.last_above = Some(when);
        }
    }

    fn look_at_rate(&mut self, piece: &Piece, slow: Option<f64>, strokes_per_edge: f64) {
        if piece.run.0 == 0 {
            return;
        }
        let strokes = number(periods(piece)) * strokes_per_edge;
        let per_second = strokes * 1_000.0 / number(piece.run.0);
        self.rate_known_ms = self.rate_known_ms.saturating_add(piece.run.0);
        if slow.is_some_and(|slow| per_second < slow) {
            self.slow_ms = self.slow_ms.saturating_add(piece.run.0);
        }
    }
}

/// Edge periods of a piece: the first edge of one that does not continue ends none.
fn periods(piece: &Piece) -> u64 {
    u64::from(piece.edges).saturating_sub(u64::from(!piece.continues))
}

#[cfg(test)]
#[path = "speed_tests.rs"]
mod tests;
