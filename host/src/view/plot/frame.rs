//! The frame that pictures over two axes share: title, subtitle, a grid with its values at the left, the name of the axis across,
//! and where the numbers come from.

use plotters::style::text_anchor::HPos;

use super::pen::{Pen, document, pixels};
use super::theme::{GRID, INK, PENCIL, PlotError, Type};

const SIZE: (i32, i32) = (960, 520);
/// The left end of the axis across.
pub(super) const LEFT: i32 = 84;
/// Its right end.
pub(super) const RIGHT: i32 = 936;
/// The top of the axis up.
pub(super) const TOP: i32 = 112;
/// Its foot.
pub(super) const FOOT: i32 = 400;

/// What stands around a picture.
#[derive(Clone, Debug)]
pub(super) struct Frame {
    /// The title.
    pub(super) title: String,
    /// A line under it.
    pub(super) subtitle: String,
    /// What the axis up counts.
    pub(super) up: String,
    /// Its values, each with its share of the way up.
    pub(super) values: Vec<(f64, String)>,
    /// What the axis across counts.
    pub(super) across: String,
    /// Where the numbers come from.
    pub(super) source: String,
}

impl Frame {
    /// The picture as an SVG document, with what `inside` draws between the axes.
    pub(super) fn svg(
        &self,
        inside: impl FnOnce(&Pen<'_, '_>) -> Result<(), String>,
    ) -> Result<String, PlotError> {
        document(SIZE, |pen| {
            self.around(pen).and_then(|()| inside(pen))?;
            pen.line((LEFT, FOOT), (RIGHT, FOOT), INK)
        })
    }

    fn around(&self, pen: &Pen<'_, '_>) -> Result<(), String> {
        pen.text(&self.title, (24, 34), Type::Title, INK, HPos::Left)?;
        pen.text(&self.subtitle, (24, 60), Type::Text, PENCIL, HPos::Left)?;
        for (share, value) in &self.values {
            let y = height(*share);
            pen.line((LEFT, y), (RIGHT, y), GRID)?;
            pen.text(value, (LEFT - 10, y + 4), Type::Small, INK, HPos::Right)?;
        }
        pen.text(&self.up, (24, TOP - 18), Type::Small, INK, HPos::Left)?;
        pen.text(&self.across, ((LEFT + RIGHT) / 2, FOOT + 76), Type::Text, INK, HPos::Center)?;
        pen.text(&self.source, (24, SIZE.1 - 16), Type::Small, PENCIL, HPos::Left)
    }
}

/// How far down a share of the way up is, in pixels.
pub(super) fn height(share: f64) -> i32 {
    FOOT - pixels(f64::from(FOOT - TOP) * share.clamp(0.0, 1.0))
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
        assert_eq!([height(0.0), height(1.0), height(2.0)], [FOOT, TOP, TOP]);
    }
}
