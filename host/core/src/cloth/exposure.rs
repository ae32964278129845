//! What the machine did on cloth, by knob place or by stroke rate: strokes first, run time second.

use std::collections::BTreeMap;

use shared_types::MachineTag;

use super::speed_by::{SpeedBy, rate_in_tenths};
use crate::records::bursts::Piece;
use crate::sessions::holder::Holder;
use crate::sessions::ledger::Ledger;
use crate::studio::{StrokeRatio, Studio};

/// Running, in what the logger counts.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Running {
    /// Run time in milliseconds.
    pub run_ms: u64,
    /// Edges; strokes follow from them by the machine's ratio.
    pub edges: u64,
}

impl Running {
    /// Adds more running.
    pub fn add(&mut self, run_ms: u64, edges: u64) {
        self.run_ms = self.run_ms.saturating_add(run_ms);
        self.edges = self.edges.saturating_add(edges);
    }
}

/// A machine's running by reading.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Exposure {
    /// On cloth, by reading: per mille of the knob's travel, or tenths of a stroke per second.
    pub by_reading: BTreeMap<u32, Running>,
    /// On cloth, with no reading: no sensor, a fault, no end marks, or too short for a rate.
    pub unknown: Running,
    /// Dry runs and test runs, where there is no cloth to tear.
    pub care: Running,
}

/// Sorts a machine's running.
#[must_use]
pub fn exposure(studio: &Studio, ledger: &Ledger<'_>, machine: MachineTag, by: SpeedBy) -> Exposure {
    let (marks, ratio) = (studio.marks(Some(machine)), studio.ratio(Some(machine)));
    let mut exposure = Exposure::default();
    for log in &ledger.logs {
        for line in log.lines.iter().filter(|line| line.machine == Some(machine)) {
            if line.attribution.holder == Holder::Care {
                exposure.care.add(line.burst.run.0, line.burst.edges);
                continue;
            }
            for piece in line.burst.pieces(&log.facts.segments, marks) {
                let reading = match by {
                    SpeedBy::Knob => piece.knob.map(|place| u32::from(place.per_mille.get())),
                    SpeedBy::Rate => rate_reading(&piece, ratio),
                };
                let sum = match reading {
                    Some(reading) => exposure.by_reading.entry(reading).or_default(),
                    None => &mut exposure.unknown,
                };
                sum.add(piece.run.0, u64::from(piece.edges));
            }
        }
    }
    exposure
}

fn rate_reading(piece: &Piece, ratio: StrokeRatio) -> Option<u32> {
    let periods = u64::from(piece.edges).saturating_sub(u64::from(!piece.continues));
    rate_in_tenths(periods, piece.run.0, ratio)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn twelve_strokes_a_second_are_a_hundred_and_twenty_tenths() {
        // 120 periods in 10 s; with two magnets on the crank 240.
        assert_eq!(rate_in_tenths(120, 10_000, StrokeRatio::ONE), Some(120));
        assert_eq!(StrokeRatio::new(2, 1).and_then(|two| rate_in_tenths(240, 10_000, two)), Some(120));
        assert_eq!(rate_in_tenths(0, 0, StrokeRatio::ONE), None);
    }
}
