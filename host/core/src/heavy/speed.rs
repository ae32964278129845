//! How the machine was driven: the knob above the accepted ceiling, very slow running, and the stroke rate at the same
//! place of the knob, lately against before.

use shared_types::MachineTag;

use crate::entries::{CeilingSet, Entry, EntryBody, HeavyLimit, HeavyLimitSet, InForce};
use crate::records::bursts::Piece;
use crate::records::when::When;
use crate::sessions::holder::Holder;
use crate::sessions::ledger::{Ledger, LedgerLine};
use crate::stats::number;
use crate::studio::Studio;

/// Run time that counts as "lately" when stroke rates are compared, in milliseconds: the last two hours.
pub const LATELY_MS: u64 = 2 * 3_600_000;
/// Running at the same places of the knob, on each side, below which stroke rates are not compared; milliseconds.
pub const LEAST_COMPARED_MS: u64 = 1_800_000;
/// The knob's travel is compared in so many equal parts.
const PLACES: usize = 20;

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

/// Running in a set of pieces.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
struct Driven {
    run_ms: u64,
    periods: u64,
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
    /// The stroke rate lately as a share of what it was before at the same places; none while that cannot be told.
    pub rate_lately: Option<f64>,
    lately: [Driven; PLACES],
    before: [Driven; PLACES],
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
    let is_sought = |line: &&LedgerLine| line.machine == Some(machine) && counts(line);
    // A dry run makes more strokes than cloth allows at the same place, so it tells nothing of the motor's strength.
    let on_cloth = |line: &LedgerLine| line.attribution.holder != Holder::Care;
    let lines = || ledger.logs.iter().flat_map(|log| log.lines.iter().map(move |line| (log, line)));
    let cloth_ms: u64 = lines()
        .map(|(_, line)| line)
        .filter(|line| is_sought(line) && on_cloth(line))
        .fold(0, |sum, line| sum.saturating_add(line.burst.run.0));
    let lately_from = cloth_ms.saturating_sub(LATELY_MS);
    let (mut found, mut cloth_so_far) = (Driving::new(), 0_u64);
    for (log, line) in lines().filter(|(_, line)| is_sought(line)) {
        for piece in line.burst.pieces(&log.facts.segments, marks) {
            found.look_at_knob(&piece, sought.ceiling_per_mille, line.when);
            found.look_at_rate(&piece, sought.slow_strokes_per_second, strokes_per_edge);
            if on_cloth(line) {
                found.compare(&piece, cloth_so_far >= lately_from);
                cloth_so_far = cloth_so_far.saturating_add(piece.run.0);
            }
        }
    }
    found.rate_lately = compared(&found.before, &found.lately);
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
            rate_lately: None,
            lately: [Driven { run_ms: 0, periods: 0 }; PLACES],
            before: [Driven { run_ms: 0, periods: 0 }; PLACES],
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

    fn compare(&mut self, piece: &Piece, is_lately: bool) {
        let Some(place) = piece.knob.filter(|_| piece.run.0 > 0) else { return };
        let part = usize::from(place.per_mille.get()) * PLACES / 1_001;
        let side = if is_lately { &mut self.lately } else { &mut self.before };
        if let Some(driven) = side.get_mut(part) {
            driven.run_ms = driven.run_ms.saturating_add(piece.run.0);
            driven.periods = driven.periods.saturating_add(periods(piece));
        }
    }
}

/// Edge periods of a piece: the first edge of one that does not continue ends none.
fn periods(piece: &Piece) -> u64 {
    u64::from(piece.edges).saturating_sub(u64::from(!piece.continues))
}

/// Strokes made lately, as a share of those that the earlier rate at the same places would have made in that time.
fn compared(before: &[Driven; PLACES], lately: &[Driven; PLACES]) -> Option<f64> {
    let (mut made, mut expected) = (0.0, 0.0);
    let (mut before_ms, mut lately_ms) = (0_u64, 0_u64);
    for (before, lately) in before.iter().zip(lately) {
        if before.run_ms == 0 || before.periods == 0 || lately.run_ms == 0 {
            continue;
        }
        made += number(lately.periods);
        expected += number(before.periods) / number(before.run_ms) * number(lately.run_ms);
        before_ms = before_ms.saturating_add(before.run_ms);
        lately_ms = lately_ms.saturating_add(lately.run_ms);
    }
    (before_ms.min(lately_ms) >= LEAST_COMPARED_MS && expected > 0.0).then(|| made / expected)
}

#[cfg(test)]
#[path = "speed_tests.rs"]
mod tests;
