//! Pictures as SVG: one theme, and for each picture a file that says what is in it, not how it is drawn.

pub mod cost;
pub mod density;
mod frame;
mod heading;
pub mod hours;
pub mod knob;
mod pen;
pub mod slowing;
mod sorted_strokes;
mod stacked_bars;
pub mod tears;
pub mod theme;
mod time_axis;
pub mod traces;
pub mod usage;
pub mod year;

pub use theme::PlotError;
