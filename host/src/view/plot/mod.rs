//! Pictures as SVG: one theme, and for each picture a file that says what is in it, not how it is drawn.

pub mod cost;
pub mod density;
mod frame;
pub mod hours;
mod pen;
pub mod slowing;
mod stacked_bars;
pub mod tears;
pub mod theme;
pub mod traces;
pub mod usage;
pub mod year;

pub use theme::PlotError;
