//! Pictures as SVG: one theme, and for each picture a file that says what is in it, not how it is drawn.

pub mod slowing;
pub mod cost;
mod frame;
mod stacked_bars;
pub mod tears;
pub mod theme;
pub mod traces;
pub mod usage;

pub use theme::PlotError;
