//! Colours, type and sizes of every picture.
//!
//! The backend writes text without measuring it, so widths of words are worked out here, with the letters of a wide face; and
//! what does not fit is cut with a mark where something is missing.

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
/// The hatch over what is not known: it stands back, but it is no paper.
pub const UNKNOWN: RGBColor = RGBColor(150, 150, 158);
/// Grid lines.
pub const GRID: RGBColor = RGBColor(222, 222, 226);

/// An ordered scale of four, from light to dark. Each step is darker by about a fifth of the way from white to black,
/// so that the order also shows in grey and to eyes that tell red from green badly; the hues go from sand over amber
/// and plum to night blue.
pub const SCALE: [RGBColor; 4] =
    [RGBColor(244, 223, 163), RGBColor(226, 158, 72), RGBColor(163, 82, 118), RGBColor(42, 44, 102)];

/// The width of every picture, in pixels: narrow, so that its type can still be read where it is scaled to a phone of 360.
pub const WIDTH: i32 = 480;
/// White at both sides, in pixels.
pub const MARGIN: i32 = 16;
/// The right end of what is drawn.
pub const RIGHT: i32 = WIDTH - MARGIN;

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
            Self::Title => 24,
            Self::Text => 18,
            Self::Small => 16,
        }
    }

    /// How wide a text will be, in pixels, in a wide face; most faces are narrower.
    #[must_use]
    pub fn width_of(self, text: &str) -> i32 {
        let hundredths = text.chars().fold(0_i32, |sum, letter| sum.saturating_add(i32::from(width(letter))));
        hundredths.saturating_mul(self.pixels()).saturating_add(DRAWN - 1) / DRAWN
    }

    /// The text, cut to a width in pixels with a mark where something is missing.
    #[must_use]
    pub fn fitted(self, text: &str, most_pixels: i32) -> String {
        if self.width_of(text) <= most_pixels {
            return text.to_owned();
        }
        let room = most_pixels.saturating_mul(DRAWN) / self.pixels() - i32::from(width(MARK));
        let mut used = 0;
        let kept = text.chars().take_while(|letter| {
            used += i32::from(width(*letter));
            used <= room
        });
        let kept: String = kept.collect();
        let kept = kept.trim_end_matches(|letter: char| letter.is_whitespace() || letter == JOINER);
        if most_pixels <= 0 { String::new() } else { format!("{kept}{MARK}") }
    }

    /// From one line to the next, in pixels.
    #[must_use]
    pub const fn line(self) -> i32 {
        self.pixels() + 3
    }

    /// The text in lines of a width in pixels, broken at its blanks; not at no-break spaces.
    #[must_use]
    pub fn wrapped(self, text: &str, most_pixels: i32) -> Vec<String> {
        let mut lines: Vec<String> = Vec::new();
        for word in text.split(' ').filter(|word| !word.is_empty()) {
            match lines.last_mut() {
                Some(line) if self.width_of(&format!("{line} {word}")) <= most_pixels => {
                    line.push(' ');
                    line.push_str(word);
                }
                _ => lines.push(self.fitted(word, most_pixels)),
            }
        }
        lines
    }

    /// A style for this size.
    #[must_use]
    pub fn style(self, colour: RGBColor, across: HPos, up: VPos) -> TextStyle<'static> {
        let text = ("sans-serif", self.pixels()).into_font().color(&colour.to_rgba());
        text.pos(Pos::new(across, up)).transform(FontTransform::None)
    }
}

/// The backend writes a type of 124 pixels 100 pixels high, and widths are in hundredths of that.
const DRAWN: i32 = 124;
/// Stands where something is missing.
const MARK: char = '…';
/// Joins two signs to one.
const JOINER: char = '\u{200D}';

/// Widths of the letters from the blank to the tilde, in hundredths of the type size: the advance widths of DejaVu Sans 2.37
/// (table hmtx), rounded up.
const ASCII: [u8; 95] = [
    32, 41, 46, 84, 64, 96, 78, 28, 40, 40, 50, 84, 32, 37, 32, 34, 64, 64, 64, 64, 64, 64, 64, 64, 64, 64,
    34, 34, 84, 84, 84, 54, 100, 69, 69, 70, 77, 64, 58, 78, 76, 30, 30, 66, 56, 87, 75, 79, 61, 79, 70, 64,
    62, 74, 69, 99, 69, 62, 69, 40, 34, 40, 84, 50, 50, 62, 64, 55, 64, 62, 36, 64, 64, 28, 28, 58, 28, 98,
    64, 62, 64, 64, 42, 53, 40, 64, 60, 82, 60, 60, 53, 64, 34, 64, 84,
];

/// The width of a letter in hundredths of the type size. Signs of East Asia are as wide as they are high (Unicode Standard
/// Annex 11), pictures wider; what joins another letter takes no room. Other scripts are taken at the wide end.
fn width(letter: char) -> u8 {
    let place = u32::from(letter).checked_sub(32).and_then(|place| usize::try_from(place).ok());
    if let Some(known) = place.and_then(|place| ASCII.get(place)) {
        return *known;
    }
    match letter {
        '\u{0}'..='\u{1F}'
        | '\u{300}'..='\u{36F}'
        | '\u{591}'..='\u{5BD}'
        | '\u{610}'..='\u{61A}'
        | '\u{64B}'..='\u{65F}'
        | '\u{200B}'..='\u{200F}'
        | '\u{20D0}'..='\u{20FF}'
        | '\u{FE00}'..='\u{FE0F}'
        | '\u{1F3FB}'..='\u{1F3FF}' => 0,
        '\u{1F000}'..='\u{1FAFF}' | '\u{2600}'..='\u{27BF}' => 137,
        '\u{1100}'..='\u{115F}'
        | '\u{2E80}'..='\u{A4CF}'
        | '\u{AC00}'..='\u{D7A3}'
        | '\u{F900}'..='\u{FAFF}'
        | '\u{FE30}'..='\u{FE6F}'
        | '\u{FF00}'..='\u{FF60}'
        | '\u{20000}'..='\u{3FFFD}'
        | MARK => 100,
        _ => 80,
    }
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
    fn widths_are_those_of_the_face() {
        // DejaVu Sans at 100 pixels: W 98.9, i 27.8, blank 31.8, n 63.4 (its table hmtx, units of 1/2048). The backend writes
        // a type of 1.24 pixels one pixel high.
        let hundred =
            |text: &str| f64::from(Type::Title.width_of(text)) * 1.24 / f64::from(Type::Title.pixels());
        for (text, width) in [("WWWW", 4.0 * 0.989), ("iiii", 4.0 * 0.278), ("n n", 2.0 * 0.634 + 0.3179)] {
            assert!((hundred(text) - width).abs() < 0.06, "{text} {}", hundred(text));
        }
        assert_eq!(
            Type::Text.width_of("e\u{301}"),
            Type::Text.width_of("e"),
            "an accent of its own takes no room"
        );
        assert!(Type::Text.width_of("狐狐狐") > Type::Text.width_of("mmm"));
    }

    #[test]
    fn a_sentence_is_broken_between_words_and_none_is_wider() {
        let text = "A session belongs to the day on which it began; \u{72d0}\u{72d0}\u{72d0}\u{72d0}\u{72d0}\u{72d0}\u{72d0}\u{72d0}\u{72d0}\u{72d0}\u{72d0}\u{72d0} follows.";
        let lines = Type::Small.wrapped(text, 130);
        assert!(lines.len() > 2, "{lines:?}");
        assert!(lines.iter().all(|line| Type::Small.width_of(line) <= 130), "{lines:?}");
        assert_eq!(Type::Small.wrapped("Fox", 130), ["Fox"]);
        assert!(Type::Small.wrapped(" ", 130).is_empty());
    }

    #[test]
    fn long_names_are_cut_at_their_end_with_a_mark() {
        assert_eq!(Type::Text.fitted("Fox", 100), "Fox");
        let cut = Type::Text.fitted("Harbour at night", 80);
        assert!(cut.starts_with("Harbour") && cut.ends_with('…'), "{cut}");
        for text in
            ["W".repeat(200), "狐".repeat(60), "🦊".repeat(60), "שועל ".repeat(20), "a\u{301}".repeat(60)]
        {
            for most in [0, 10, 100, 260] {
                assert!(
                    Type::Text.width_of(&Type::Text.fitted(&text, most)) <= most.max(16),
                    "{text} {most}"
                );
            }
        }
        assert!(!Type::Text.fitted("👩\u{200D}🎨👩\u{200D}🎨", 60).contains("\u{200D}…"));
    }
}
