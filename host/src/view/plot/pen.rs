//! Paper and pen: a picture lays itself out, and this draws it.

use plotters::coord::Shift;
use plotters::element::{Drawable, PointCollection};
use plotters::prelude::{
    Circle, DrawingArea, IntoDrawingArea, PathElement, Polygon, Rectangle, SVGBackend, Text,
};
use plotters::style::text_anchor::{HPos, VPos};
use plotters::style::{Color, RGBColor, ShapeStyle};

use super::theme::{PAPER, PlotError, Type};

/// Lets a picture be drawn on white paper; the SVG document.
///
/// # Errors
/// When the backend refuses, which it has no reason to.
pub(super) fn document(
    (width, height): (i32, i32),
    draw: impl FnOnce(&Pen<'_, '_>) -> Result<(), String>,
) -> Result<String, PlotError> {
    let mut document = String::new();
    {
        let size = (width.unsigned_abs(), height.unsigned_abs());
        let area = SVGBackend::with_string(&mut document, size).into_drawing_area();
        area.fill(&PAPER).map_err(|error| PlotError(error.to_string()))?;
        draw(&Pen { paper: &area }).map_err(PlotError)?;
        area.present().map_err(|error| PlotError(error.to_string()))?;
    }
    Ok(document)
}

/// No letter comes nearer to the edge of the paper, in pixels.
const EDGE: i32 = 4;

/// Letters that steer, or turn the direction of writing around, have no place in a picture.
fn plain(text: &str) -> String {
    let steers = |letter: char| {
        letter.is_control() || matches!(letter, '\u{202A}'..='\u{202E}' | '\u{2066}'..='\u{2069}')
    };
    text.chars().map(|letter| if steers(letter) { '\u{FFFD}' } else { letter }).collect()
}

/// Draws on an area, and says in words what went wrong.
pub(super) struct Pen<'area, 'svg> {
    paper: &'area DrawingArea<SVGBackend<'svg>, Shift>,
}

impl<'svg> Pen<'_, 'svg> {
    pub(super) fn text(
        &self,
        text: &str,
        at: (i32, i32),
        size: Type,
        colour: RGBColor,
        across: HPos,
    ) -> Result<(), String> {
        let (width, _) = self.paper.dim_in_pixel();
        let width = i32::try_from(width).unwrap_or(i32::MAX);
        let room = match across {
            HPos::Left => width.saturating_sub(at.0),
            HPos::Right => at.0,
            HPos::Center => at.0.min(width.saturating_sub(at.0)).saturating_mul(2),
        };
        let text = size.fitted(&plain(text), room.saturating_sub(EDGE));
        let style = size.style(colour, across, VPos::Bottom);
        // The backend sets the foot of the letters a little above the point; the point is their baseline here.
        self.draw(&Text::new(text, (at.0, at.1 + size.pixels() / 4), style))
    }

    pub(super) fn line(&self, from: (i32, i32), to: (i32, i32), colour: RGBColor) -> Result<(), String> {
        self.path(vec![from, to], ShapeStyle::from(&colour))
    }

    pub(super) fn blank(&self, from: (i32, i32), to: (i32, i32)) -> Result<(), String> {
        self.rectangle(from, to, PAPER.filled())
    }

    pub(super) fn rectangle(
        &self,
        from: (i32, i32),
        to: (i32, i32),
        style: ShapeStyle,
    ) -> Result<(), String> {
        self.draw(&Rectangle::new([from, to], style))
    }

    /// A line through points.
    pub(super) fn path(&self, points: Vec<(i32, i32)>, style: ShapeStyle) -> Result<(), String> {
        self.draw(&PathElement::new(points, style))
    }

    pub(super) fn dot(&self, at: (i32, i32), radius: i32, style: ShapeStyle) -> Result<(), String> {
        self.draw(&Circle::new(at, radius, style))
    }

    /// A filled area within points.
    pub(super) fn area(&self, points: Vec<(i32, i32)>, style: ShapeStyle) -> Result<(), String> {
        self.draw(&Polygon::new(points, style))
    }

    /// Strokes from bottom left to top right within a rectangle, so many pixels apart.
    pub(super) fn hatch(
        &self,
        from: (i32, i32),
        to: (i32, i32),
        apart: usize,
        colour: RGBColor,
    ) -> Result<(), String> {
        let height = to.1 - from.1;
        for start in ((from.0 - height)..to.0).step_by(apart) {
            let cut_left = (from.0 - start).max(0);
            let cut_right = (start + height - to.0).max(0);
            if cut_left + cut_right < height {
                self.line(
                    (start + cut_left, to.1 - cut_left),
                    (start + height - cut_right, from.1 + cut_right),
                    colour,
                )?;
            }
        }
        Ok(())
    }

    /// A dashed line through points; each stretch is broken for itself.
    pub(super) fn dashed(&self, points: &[(i32, i32)], style: ShapeStyle) -> Result<(), String> {
        for pair in points.windows(2) {
            let [from, to] = pair else { continue };
            let (across, down) = (f64::from(to.0 - from.0), f64::from(to.1 - from.1));
            let steps = pixels(across.hypot(down) / 5.0).max(1);
            let at = |step: i32| {
                let share = f64::from(step) / f64::from(steps);
                (from.0 + pixels(across * share), from.1 + pixels(down * share))
            };
            for step in (0..steps).step_by(2) {
                self.path(vec![at(step), at(step + 1)], style)?;
            }
        }
        Ok(())
    }

    /// A cross.
    pub(super) fn cross(&self, at: (i32, i32), arm: i32, colour: RGBColor) -> Result<(), String> {
        let style = ShapeStyle { color: colour.to_rgba(), filled: false, stroke_width: 2 };
        self.path(vec![(at.0 - arm, at.1 - arm), (at.0 + arm, at.1 + arm)], style)?;
        self.path(vec![(at.0 - arm, at.1 + arm), (at.0 + arm, at.1 - arm)], style)
    }

    /// A cross of which only the outline is drawn.
    pub(super) fn hollow_cross(&self, at: (i32, i32), arm: i32, colour: RGBColor) -> Result<(), String> {
        let (long, short) = (arm, (arm / 3).max(1));
        let corners = [
            (0, -short),
            (long - short, -long),
            (long, short - long),
            (short, 0),
            (long, long - short),
            (long - short, long),
            (0, short),
            (short - long, long),
            (-long, long - short),
            (-short, 0),
            (-long, short - long),
            (short - long, -long),
            (0, -short),
        ];
        let points = corners.map(|(across, down)| (at.0 + across, at.1 + down)).to_vec();
        self.area(points.clone(), PAPER.filled())?;
        self.path(points, ShapeStyle { color: colour.to_rgba(), filled: false, stroke_width: 1 })
    }

    fn draw<E>(&self, element: &E) -> Result<(), String>
    where
        for<'b> &'b E: PointCollection<'b, (i32, i32)>,
        E: Drawable<SVGBackend<'svg>>,
    {
        self.paper.draw(element).map_err(|error| error.to_string())
    }
}

/// A number as whole pixels; far outside of any picture it stops.
#[must_use]
#[expect(clippy::cast_possible_truncation, reason = "clamped to what a picture can hold")]
pub(super) fn pixels(value: f64) -> i32 {
    value.round().clamp(-30_000.0, 30_000.0) as i32
}

/// The smallest of 1, 2 and 5 times a power of ten of which seven steps reach at least so far.
#[must_use]
pub(super) fn round_step(furthest: f64) -> f64 {
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
    use crate::view::plot::theme;

    #[test]
    fn no_text_leaves_the_paper_and_none_steers() {
        let long = "Harbour ".repeat(30);
        let drawn = document((400, 100), |pen| {
            pen.text(&long, (20, 20), Type::Title, theme::INK, HPos::Left)?;
            pen.text("Fox", (20, 50), Type::Text, theme::INK, HPos::Left)?;
            pen.text("\u{202E}xoF \u{7}", (20, 80), Type::Text, theme::INK, HPos::Left)
        })
        .unwrap();
        assert!(!drawn.contains(long.trim_end()) && drawn.contains('…'), "{drawn}");
        assert!(drawn.contains("Fox") && !drawn.contains(['\u{202E}', '\u{7}']), "{drawn}");
    }

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
