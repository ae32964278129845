//! A sheet of paper for a picture that lays itself out, and what several pictures draw on it.

use plotters::prelude::{IntoDrawingArea, PathElement, Rectangle, SVGBackend};
use plotters::style::ShapeStyle;

use super::stacked_bars::Pen;
use super::theme::{PAPER, PlotError};

/// Lets a picture be drawn on white paper; the SVG document.
///
/// # Errors
/// When the backend refuses, which it has no reason to.
pub fn document(
    (width, height): (i32, i32),
    draw: impl FnOnce(&Pen<'_, '_>) -> Result<(), String>,
) -> Result<String, PlotError> {
    let mut document = String::new();
    {
        let size = (width.unsigned_abs(), height.unsigned_abs());
        let area = SVGBackend::with_string(&mut document, size).into_drawing_area();
        area.fill(&PAPER).map_err(|error| PlotError(error.to_string()))?;
        draw(&Pen { area: &area }).map_err(PlotError)?;
        area.present().map_err(|error| PlotError(error.to_string()))?;
    }
    Ok(document)
}

/// A rectangle.
pub fn rectangle(
    pen: &Pen<'_, '_>,
    from: (i32, i32),
    to: (i32, i32),
    style: ShapeStyle,
) -> Result<(), String> {
    pen.area.draw(&Rectangle::new([from, to], style)).map_err(|error| error.to_string())
}

/// A line through points.
pub fn path(pen: &Pen<'_, '_>, points: Vec<(i32, i32)>, style: ShapeStyle) -> Result<(), String> {
    pen.area.draw(&PathElement::new(points, style)).map_err(|error| error.to_string())
}

/// A number as whole pixels; far outside of any picture it stops.
#[must_use]
#[expect(clippy::cast_possible_truncation, reason = "clamped to what a picture can hold")]
pub fn pixels(value: f64) -> i32 {
    value.round().clamp(-30_000.0, 30_000.0) as i32
}

/// The smallest of 1, 2 and 5 times a power of ten of which seven steps reach at least so far.
#[must_use]
pub fn round_step(furthest: f64) -> f64 {
    let least = furthest / 7.0;
    if !(least.is_finite() && least > 0.0) {
        return 1.0;
    }
    let unit = 10_f64.powf(least.log10().floor());
    [1.0, 2.0, 5.0, 10.0]
        .iter()
        .map(|step| step * unit)
        .find(|step| *step >= least * (1.0 - 1e-9))
        .unwrap_or(unit)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn steps_are_round_and_few() {
        for (furthest, step) in [(7.0, 1.0), (7.1, 2.0), (35.0, 5.0), (180_000.0, 50_000.0), (0.5, 0.1)] {
            assert!((round_step(furthest) - step).abs() < 1e-9 * step, "{furthest} {}", round_step(furthest));
        }
        for nothing in [0.0, -1.0, f64::NAN, f64::INFINITY] {
            assert!((round_step(nothing) - 1.0).abs() < 1e-12);
        }
    }
}
