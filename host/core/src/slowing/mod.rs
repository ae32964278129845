//! Control charts of the stroke rate, two of them, each against the machine's own past.
//!
//! **Dry runs** are made without cloth, at a fixed place of the knob, after each oiling. They see a machine that has become slow
//! whenever it did, and know nothing of cloth or yarn.
//!
//! **Sessions** are compared with the machine's own knob curve, within each commission only: thicker yarn or denser cloth slows
//! the needle too and is no fault. The price: slowing that begins exactly with a new commission looks like its cloth, and only
//! dry runs can tell it.

mod chart;
mod curve;
mod dry;
mod gather;
mod limit;
mod means;
mod report;

pub use chart::{Alarm, BASELINE_SESSIONS, Chart, ChartPoint, LEAST_BURSTS, LEAST_INNOVATIONS, chart};
pub use curve::{KnobCurve, KnobRate, WorkSession};
pub use dry::{DRY_BASELINE, DRY_LEAST, DryChart, DryPoint, DryRun, SAME_PLACE_PER_MILLE, dry_chart};
pub use gather::{Gathered, LEAST_BURST_MS, STEADY_KNOB_PER_MILLE, gather};
pub use limit::{ASSUMED_AUTOCORRELATION, HEALTHY_SESSIONS_PER_ALARM};
pub use means::EWMA_WEIGHT;
pub use report::{Asked, Cause, DryState, SessionState, SlowingReport, Verdict, slowing_report};
