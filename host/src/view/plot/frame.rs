//! The frame that pictures over two axes share: a grid with its values at the left, and the name of the axis across.

use plotters::style::text_anchor::HPos;

use super::heading::Heading;
use super::pen::{Pen, document, pixels};
use super::theme::{GRID, INK, MARGIN, PlotError, RIGHT as EDGE, Type, WIDTH};

/// The left end of the axis across.
pub(super) const LEFT: i32 = 76;
/// Its right end.
pub(super) const RIGHT: i32 = EDGE;
/// From its foot to its top.
const UP: i32 = 260;

/// What stands around a picture.
#[derive(Clone, Debug)]
pub(super) struct Frame {
    /// Title, subtitle and source.
    pub(super) heading: Heading,
    /// What the axis up counts.
    pub(super) up: String,
    /// Its values, each with its share of the way up.
    pub(super) values: Vec<(f64, String)>,
    /// What the axis across counts.
    pub(super) across: String,
    /// Room for what stands between the axis across and its name, in pixels.
    pub(super) below: i32,
}

/// Where between the axes lies.
#[derive(Clone, Copy, Debug)]
pub(super) struct Plane {
    /// The upper end of the axis up.
    pub(super) top: i32,
    /// Its foot.
    pub(super) foot: i32,
}

impl Plane {
    /// How far down a share of the way up is, in pixels.
    pub(super) fn height(self, share: f64) -> i32 {
        self.foot - pixels(f64::from(self.foot - self.top) * share.clamp(0.0, 1.0))
    }
}

impl Frame {
    /// The picture as an SVG document, with what `inside` draws between the axes.
    pub(super) fn svg(
        &self,
        inside: impl FnOnce(&Pen<'_, '_>, Plane) -> Result<(), String>,
    ) -> Result<String, PlotError> {
        let top = self.heading.top() + 30;
        let plane = Plane { top, foot: top + UP };
        let across = Type::Small.wrapped(&self.across, RIGHT - MARGIN);
        let named = plane.foot + self.below;
        let lines = i32::try_from(across.len()).unwrap_or(1);
        let height = named + lines * Type::Small.line() + self.heading.foot();
        document((WIDTH, height), |pen| {
            self.heading.draw(pen, height)?;
            for (share, value) in &self.values {
                let y = plane.height(*share);
                pen.line((LEFT, y), (RIGHT, y), GRID)?;
                pen.text(value, (LEFT - 8, y + 5), Type::Small, INK, HPos::Right)?;
            }
            pen.text(&self.up, (MARGIN, plane.top - 16), Type::Small, INK, HPos::Left)?;
            for (place, line) in (1..).zip(&across) {
                pen.text(line, (RIGHT, named + place * Type::Small.line()), Type::Small, INK, HPos::Right)?;
            }
            inside(pen, plane)?;
            pen.line((LEFT, plane.foot), (RIGHT, plane.foot), INK)
        })
    }
}

/// Writes a few words in lines under a point, none wider than `room`.
pub(super) fn label(pen: &Pen<'_, '_>, words: &str, at: (i32, i32), room: i32) -> Result<i32, String> {
    let mut y = at.1;
    for line in Type::Small.wrapped(words, room) {
        y += Type::Small.line();
        pen.text(&line, (at.0, y), Type::Small, INK, HPos::Center)?;
    }
    Ok(y)
}

/// The first of 1, 2, 4, 8 and 10 times a power of ten that is not below a value; 1 for nothing.
pub(super) fn round_top(value: f64) -> f64 {
    if value <= 0.0 || !value.is_finite() {
        return 1.0;
    }
    let unit = 10_f64.powf(value.log10().floor());
    [1.0, 2.0, 4.0, 8.0, 10.0].iter().map(|step| step * unit).find(|round| *round >= value).unwrap_or(value)
}

/// Five values from zero to the top of an axis.
pub(super) fn five_values(top: f64, in_words: impl Fn(f64) -> String) -> Vec<(f64, String)> {
    [0.0, 0.25, 0.5, 0.75, 1.0].map(|share| (share, in_words(top * share))).to_vec()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_axis_ends_at_a_round_number_above_everything() {
        let tops = [0.0, 0.3, 1.0, 1.1, 45.0, 790.0, 810.0].map(round_top);
        let expected = [1.0, 0.4, 1.0, 2.0, 80.0, 800.0, 1_000.0];
        for (top, expected) in tops.iter().zip(expected) {
            assert!((top - expected).abs() < 1e-9 * expected, "{top} instead of {expected}");
        }
        let plane = Plane { top: 100, foot: 300 };
        assert_eq!([0.0, 0.5, 1.0, 2.0].map(|share| plane.height(share)), [300, 200, 100, 100]);
    }
}
