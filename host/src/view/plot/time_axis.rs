//! An axis of time from zero: how milliseconds become pixels, and its round values.

use plotters::style::text_anchor::HPos;

use super::pen::Pen;
use super::theme::{GRID, INK, Type};
use host_core::stats::{HOUR_MS, MINUTE_MS};

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
pub(super) struct TimeAxis {
    pub(super) left: i32,
    pub(super) width: i32,
    step_ms: u64,
    full_ms: u64,
}

impl TimeAxis {
    pub(super) fn of(longest_ms: u64, left: i32, width: i32) -> Self {
        let fitting = STEPS_MS.iter().find(|step| longest_ms.div_ceil(**step) <= 7);
        let step_ms = fitting.copied().unwrap_or_else(|| longest_ms.div_ceil(7).max(1));
        Self { left, width, step_ms, full_ms: longest_ms.div_ceil(step_ms).max(1) * step_ms }
    }

    pub(super) fn x(self, ms: u64) -> i32 {
        let pixels = u128::from(ms) * u128::from(self.width.unsigned_abs()) / u128::from(self.full_ms);
        self.left + i32::try_from(pixels).unwrap_or(self.width)
    }

    fn ticks(self) -> impl Iterator<Item = u64> {
        (0..=self.full_ms / self.step_ms).map(move |tick| tick * self.step_ms)
    }

    const fn unit(self) -> (&'static str, u64) {
        if self.step_ms >= HOUR_MS { ("hours", HOUR_MS) } else { ("minutes", MINUTE_MS) }
    }

    /// Its steps behind one bar.
    pub(super) fn draw_steps(self, pen: &Pen<'_, '_>, top: i32, foot: i32) -> Result<(), String> {
        self.ticks().try_for_each(|tick| pen.line((self.x(tick), top), (self.x(tick), foot), GRID))
    }

    /// Its values under the bars, and what it counts.
    pub(super) fn draw_values(self, pen: &Pen<'_, '_>, y: i32, counts: &str) -> Result<(), String> {
        let (unit, unit_ms) = self.unit();
        pen.line((self.left, y), (self.left + self.width, y), INK)?;
        for tick in self.ticks() {
            let x = self.x(tick);
            pen.line((x, y), (x, y + 5), INK)?;
            let across = if tick == 0 { HPos::Left } else { HPos::Center };
            pen.text(&(tick / unit_ms).to_string(), (x, y + 22), Type::Small, INK, across)?;
        }
        pen.text(&format!("{counts} ({unit})"), (self.left, y + 44), Type::Small, INK, HPos::Left)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_axis_has_round_steps_and_holds_the_longest_bar() {
        // By hand: 5 h 10 min in steps of an hour are six; 41 min in steps of ten minutes are five.
        let scale = TimeAxis::of(18_600_000, 0, 600);
        assert_eq!((scale.step_ms, scale.full_ms), (3_600_000, 21_600_000));
        assert_eq!(scale.unit().0, "hours");
        assert_eq!(scale.x(10_800_000), 300);
        let short = TimeAxis::of(2_460_000, 0, 600);
        assert_eq!((short.step_ms, short.full_ms, short.unit().0), (600_000, 3_000_000, "minutes"));
    }

    #[test]
    fn nothing_and_far_too_much_can_still_be_drawn() {
        assert_eq!(TimeAxis::of(0, 0, 600).full_ms, 60_000);
        assert_eq!(TimeAxis::of(u64::MAX / 8, 10, 600).x(0), 10);
    }
}
