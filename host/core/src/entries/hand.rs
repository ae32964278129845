//! What the maker says of vibration at the hand.

use serde::{Deserialize, Serialize};
use shared_types::MachineTag;

/// Where a vibration figure comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum FigureSource {
    /// The manufacturer declares it.
    Declared,
    /// It was measured on this machine at this work.
    Measured,
    /// The maker did not say.
    NotSaid,
}

/// The vibration figure that the maker entered for a machine; the last entry counts.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct VibrationFigure {
    /// The machine.
    pub machine: MachineTag,
    /// The figure in thousandths of m/s².
    pub a_hv_mm_s2: u32,
    /// Where it comes from.
    pub source: FigureSource,
}
