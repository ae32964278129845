//! Colours, type and sizes of every picture.
//!
//! The backend writes text without measuring it, so widths of words are estimated here, generously.

use plotters::prelude::RGBColor;
use plotters::style::text_anchor::{HPos, Pos, VPos};
use plotters::style::{Color, FontTransform, IntoFont, TextStyle};
use thiserror::Error;

/// Why a picture could not be drawn.
#[derive(Debug, Error)]
#[error("the picture could not be drawn: {0}")]
pub struct PlotError(pub String);

/// Paper.
pub const PAPER: RGBColor = RGBColor(255, 255, 255);
/// Type and axes.
pub const INK: RGBColor = RGBColor(38, 38, 44);
/// Type that stands back.
pub const PENCIL: RGBColor = RGBColor(96, 96, 106);
/// Grid lines.
pub const GRID: RGBColor = RGBColor(222, 222, 226);

/// An ordered scale of four, from light to dark. Each step is darker by about a fifth of the way from white to black,
/// so that the order also shows in grey and to eyes that tell red from green badly; the hues go from sand over amber
/// and plum to night blue.
pub const SCALE: [RGBColor; 4] =
    [RGBColor(244, 223, 163), RGBColor(226, 158, 72), RGBColor(163, 82, 118), RGBColor(42, 44, 102)];

/// Sizes of type in pixels.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Type {
    /// The title.
    Title,
    /// Everything else.
    Text,
    /// Sources and counts.
    Small,
}

impl Type {
    /// Height in pixels.
    #[must_use]
    pub const fn pixels(self) -> i32 {
        match self {
            Self::Title => 22,
            Self::Text => 15,
            Self::Small => 13,
        }
    }

    /// How wide a word will be at most, in pixels, as far as that can be told without the font.
    #[must_use]
    pub fn width_of(self, text: &str) -> i32 {
        let letters = i32::try_from(text.chars().count()).unwrap_or(i32::MAX);
        letters.saturating_mul(self.pixels()).saturating_mul(50) / 100
    }

    /// A style for this size.
    #[must_use]
    pub fn style(self, colour: RGBColor, across: HPos, up: VPos) -> TextStyle<'static> {
        let text = ("sans-serif", self.pixels()).into_font().color(&colour.to_rgba());
        text.pos(Pos::new(across, up)).transform(FontTransform::None)
    }
}

/// A text cut to so many letters, with a mark where something is missing.
#[must_use]
pub fn shortened(text: &str, letters: usize) -> String {
    if text.chars().count() <= letters {
        return text.to_owned();
    }
    let kept: String = text.chars().take(letters.saturating_sub(1)).collect();
    format!("{}…", kept.trim_end())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Relative luminance by the definition of WCAG 2.2 (sRGB linearised, weights 0.2126, 0.7152, 0.0722).
    fn luminance(colour: RGBColor) -> f64 {
        let linear = |part: u8| {
            let part = f64::from(part) / 255.0;
            if part <= 0.04045 { part / 12.92 } else { ((part + 0.055) / 1.055).powf(2.4) }
        };
        0.2126 * linear(colour.0) + 0.7152 * linear(colour.1) + 0.0722 * linear(colour.2)
    }

    #[test]
    fn the_scale_darkens_clearly_from_step_to_step() {
        for pair in SCALE.windows(2) {
            let [light, dark] = pair else { continue };
            let contrast = (luminance(*light) + 0.05) / (luminance(*dark) + 0.05);
            assert!(contrast > 1.5, "{light:?} and {dark:?} differ by {contrast}");
        }
    }

    #[test]
    fn type_can_be_read_on_the_paper() {
        // WCAG 2.2, criterion 1.4.3: at least 4.5 to 1.
        for colour in [INK, PENCIL] {
            assert!((luminance(PAPER) + 0.05) / (luminance(colour) + 0.05) >= 4.5, "{colour:?}");
        }
    }

    #[test]
    fn long_names_are_cut_with_a_mark() {
        assert_eq!(shortened("Fox", 3), "Fox");
        assert_eq!(shortened("Harbour at night", 9), "Harbour…");
    }
}
