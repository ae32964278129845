//! What the maker says of a sample square.

use serde::{Deserialize, Serialize};
use shared_types::{RunMillis, UtcMillis};

/// How the pile is made.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Style {
    /// Cut.
    Cut,
    /// Looped.
    Loop,
    /// Both in one rug.
    Both,
}

/// A sample square, tufted and timed.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct SampleSquare {
    /// How its pile was made.
    pub style: Option<Style>,
    /// Width in millimetres.
    pub width_mm: u32,
    /// Height in millimetres.
    pub height_mm: u32,
    /// Motor moving.
    pub run: RunMillis,
    /// Strokes, if they were read.
    pub strokes: Option<u64>,
    /// At the frame, in milliseconds, if it was timed.
    pub tufting_ms: Option<u64>,
    /// When it was made.
    pub at: UtcMillis,
}
