//! Bars lying on their side, each stacked from parts of an ordered scale.

use plotters::style::text_anchor::HPos;
use plotters::style::{Color, ShapeStyle};

use super::pen::{Pen, document};
use super::theme::{GRID, INK, PAPER, PENCIL, PlotError, SCALE, Type};
use host_core::stats::{HOUR_MS, MINUTE_MS};

/// One bar.
#[derive(Clone, Debug)]
pub struct Bar {
    /// Its name at the left.
    pub name: String,
    /// Its parts, in the order of the scale, in milliseconds; the one after the scale is drawn hatched.
    pub parts_ms: Vec<u64>,
    /// What stands at its right end.
    pub total: String,
}

/// What is in the picture.
#[derive(Clone, Debug)]
pub struct StackedBars {
    /// The title.
    pub title: String,
    /// A line under it.
    pub subtitle: String,
    /// What the parts are, in the order of the scale.
    pub parts: Vec<String>,
    /// The bars from top to bottom.
    pub bars: Vec<Bar>,
    /// What the axis counts, without its unit.
    pub axis: String,
    /// Where the numbers come from.
    pub source: String,
}

const WIDTH: i32 = 960;
const MARGIN: i32 = 24;
const TOP: i32 = 118;
const BAR: i32 = 24;
const BAR_STEP: i32 = 36;
const BOTTOM: i32 = 92;
/// The widest name, in pixels.
const WIDEST_NAME: i32 = 270;

/// Steps of the axis in milliseconds, from a minute to two thousand hours.
const STEPS_MS: [u64; 16] = [
    60_000,
    120_000,
    300_000,
    600_000,
    900_000,
    1_800_000,
    3_600_000,
    7_200_000,
    18_000_000,
    36_000_000,
    72_000_000,
    180_000_000,
    360_000_000,
    720_000_000,
    1_800_000_000,
    7_200_000_000,
];

/// How time becomes pixels.
#[derive(Clone, Copy, Debug)]
struct Scale {
    left: i32,
    width: i32,
    step_ms: u64,
    full_ms: u64,
}

impl Scale {
    fn of(longest_ms: u64, left: i32, width: i32) -> Self {
        let fitting = STEPS_MS.iter().find(|step| longest_ms.div_ceil(**step) <= 7);
        let step_ms = fitting.copied().unwrap_or_else(|| longest_ms.div_ceil(7).max(1));
        Self { left, width, step_ms, full_ms: longest_ms.div_ceil(step_ms).max(1) * step_ms }
    }

    fn x(self, ms: u64) -> i32 {
        let pixels = u128::from(ms) * u128::from(self.width.unsigned_abs()) / u128::from(self.full_ms);
        self.left + i32::try_from(pixels).unwrap_or(self.width)
    }

    fn ticks(self) -> impl Iterator<Item = u64> {
        (0..=self.full_ms / self.step_ms).map(move |tick| tick * self.step_ms)
    }

    const fn unit(self) -> (&'static str, u64) {
        if self.step_ms >= HOUR_MS { ("hours", HOUR_MS) } else { ("minutes", MINUTE_MS) }
    }
}

impl StackedBars {
    /// The picture as an SVG document.
    ///
    /// # Errors
    /// When the backend refuses, which it has no reason to.
    pub fn svg(&self) -> Result<String, PlotError> {
        let bars = i32::try_from(self.bars.len()).unwrap_or(i32::MAX / BAR_STEP / 2);
        let height = TOP + bars.max(1) * BAR_STEP + BOTTOM;
        document((WIDTH, height), |pen| self.draw(pen, height))
    }

    fn draw(&self, pen: &Pen<'_, '_>, height: i32) -> Result<(), String> {
        let names =
            self.bars.iter().map(|bar| Type::Text.width_of(&Type::Text.fitted(&bar.name, WIDEST_NAME)));
        let totals = self.bars.iter().map(|bar| Type::Text.width_of(&bar.total));
        let left = MARGIN + names.max().unwrap_or(0) + 12;
        let width = WIDTH - left - MARGIN - totals.max().unwrap_or(0) - 12;
        let longest = self.bars.iter().map(|bar| bar.parts_ms.iter().sum()).max().unwrap_or(0);
        let scale = Scale::of(longest, left, width);
        pen.text(&self.title, (MARGIN, 34), Type::Title, INK, HPos::Left)?;
        pen.text(&self.subtitle, (MARGIN, 60), Type::Text, PENCIL, HPos::Left)?;
        self.draw_legend(pen)?;
        self.draw_axis(pen, scale, height)?;
        for (index, bar) in (0..).zip(&self.bars) {
            draw_bar(pen, bar, scale, TOP + index * BAR_STEP + (BAR_STEP - BAR) / 2)?;
        }
        pen.line((scale.left, TOP), (scale.left, height - BOTTOM), INK)?;
        pen.text(&self.source, (MARGIN, height - 16), Type::Small, PENCIL, HPos::Left)
    }

    fn draw_legend(&self, pen: &Pen<'_, '_>) -> Result<(), String> {
        let mut x = MARGIN;
        for (index, part) in self.parts.iter().enumerate() {
            draw_part(pen, index, (x, 82), (x + 16, 98))?;
            pen.text(part, (x + 22, 95), Type::Small, INK, HPos::Left)?;
            x += 22 + Type::Small.width_of(part) + 22;
        }
        Ok(())
    }

    fn draw_axis(&self, pen: &Pen<'_, '_>, scale: Scale, height: i32) -> Result<(), String> {
        let foot = height - BOTTOM;
        let (unit, unit_ms) = scale.unit();
        for tick in scale.ticks() {
            let x = scale.x(tick);
            pen.line((x, TOP), (x, foot + 5), GRID)?;
            pen.text(&(tick / unit_ms).to_string(), (x, foot + 20), Type::Small, INK, HPos::Center)?;
        }
        let middle = scale.left + scale.width / 2;
        pen.text(&format!("{} ({unit})", self.axis), (middle, foot + 44), Type::Text, INK, HPos::Center)
    }
}

fn draw_bar(pen: &Pen<'_, '_>, bar: &Bar, scale: Scale, top: i32) -> Result<(), String> {
    let baseline = top + BAR / 2 + Type::Text.pixels() / 3;
    pen.text(
        &Type::Text.fitted(&bar.name, WIDEST_NAME),
        (scale.left - 10, baseline),
        Type::Text,
        INK,
        HPos::Right,
    )?;
    let mut before = 0;
    for (index, part) in bar.parts_ms.iter().enumerate() {
        let (from, to) = (scale.x(before), scale.x(before + part));
        if to > from {
            draw_part(pen, index, (from, top), (to, top + BAR))?;
        }
        before += part;
    }
    let end = scale.x(before) + 8;
    // A grid line must not run through the figures.
    pen.blank((end - 4, top), (end + Type::Text.width_of(&bar.total), top + BAR))?;
    pen.text(&bar.total, (end, baseline), Type::Text, INK, HPos::Left)
}

/// A part of a bar: filled with its step of the scale, or hatched where it has none.
fn draw_part(pen: &Pen<'_, '_>, index: usize, from: (i32, i32), to: (i32, i32)) -> Result<(), String> {
    let fill = SCALE.get(index).copied().unwrap_or(PAPER);
    pen.rectangle(from, to, fill.filled())?;
    if index >= SCALE.len() {
        let height = to.1 - from.1;
        let mut start = from.0 - height;
        while start < to.0 {
            // The stroke from bottom left to top right, cut off at both ends of the part.
            let cut_left = (from.0 - start).max(0);
            let cut_right = (start + height - to.0).max(0);
            if cut_left + cut_right < height {
                pen.line(
                    (start + cut_left, to.1 - cut_left),
                    (start + height - cut_right, from.1 + cut_right),
                    PENCIL,
                )?;
            }
            start += 6;
        }
    }
    pen.rectangle(from, to, ShapeStyle { color: INK.mix(0.55), filled: false, stroke_width: 1 })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_axis_has_round_steps_and_holds_the_longest_bar() {
        // By hand: 5 h 10 min in steps of an hour are six; 41 min in steps of ten minutes are five.
        let scale = Scale::of(18_600_000, 0, 600);
        assert_eq!((scale.step_ms, scale.full_ms), (3_600_000, 21_600_000));
        assert_eq!(scale.unit().0, "hours");
        assert_eq!(scale.x(10_800_000), 300);
        let short = Scale::of(2_460_000, 0, 600);
        assert_eq!((short.step_ms, short.full_ms, short.unit().0), (600_000, 3_000_000, "minutes"));
    }

    #[test]
    fn nothing_and_far_too_much_can_still_be_drawn() {
        assert_eq!(Scale::of(0, 0, 600).full_ms, 60_000);
        assert_eq!(Scale::of(u64::MAX / 8, 10, 600).x(0), 10);
    }
}
