//! Pictures as SVG: one theme, and for each picture a file that says what is in it, not how it is drawn.

mod stacked_bars;
pub mod theme;
pub mod usage;

pub use theme::PlotError;
