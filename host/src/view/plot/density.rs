//! Strokes for each square metre, rug by rug.

use plotters::style::Color;
use plotters::style::text_anchor::HPos;

use super::pen::{Pen, document, pixels, round_step};
use super::theme::{GRID, INK, PENCIL, PlotError, SCALE, Type};
use crate::view::words;
use crate::view::words::figures::whole;
use host_core::rugs::density::{DensityBar, DensityReport};

const WIDTH: i32 = 960;
const MARGIN: i32 = 24;
const TOP: i32 = 92;
const BAR: i32 = 22;
const STEP: i32 = 32;
const BOTTOM: i32 = 96;
/// The widest name, in pixels.
const WIDEST_NAME: i32 = 270;
/// As many rugs are drawn, the newest; more would be a carpet.
const MOST_RUGS: usize = 40;

/// The picture as an SVG document.
///
/// # Errors
/// When the backend refuses, which it has no reason to.
pub fn svg(report: &DensityReport) -> Result<String, PlotError> {
    let older = report.rugs.len().saturating_sub(MOST_RUGS);
    let shown = report.rugs.get(older..).unwrap_or_default();
    let bars = i32::try_from(shown.len().max(1)).unwrap_or(1);
    let height = TOP + bars * STEP + BOTTOM;
    document((WIDTH, height), |pen| draw(pen, report, shown, older, height))
}

fn draw(
    pen: &Pen<'_, '_>,
    report: &DensityReport,
    shown: &[DensityBar],
    older: usize,
    height: i32,
) -> Result<(), String> {
    pen.text("Strokes per square metre", (MARGIN, 34), Type::Title, INK, HPos::Left)?;
    let subtitle = "by rug, in the order in which they were taken; pale: not finished, so it still grows";
    pen.text(subtitle, (MARGIN, 60), Type::Text, PENCIL, HPos::Left)?;
    let widest = shown.iter().map(|bar| Type::Text.width_of(&Type::Text.fitted(&bar.rug, WIDEST_NAME))).max();
    let left = MARGIN + widest.unwrap_or(0) + 12;
    let room = WIDTH - left - MARGIN - Type::Text.width_of("1,000,000") - 12;
    let most = shown.iter().map(|bar| bar.strokes_per_m2).fold(0.0, f64::max);
    let most = report.usual_strokes_per_m2.map_or(most, |usual| most.max(usual));
    let step = round_step(most);
    let steps = pixels((most / step).ceil()).max(1);
    let x = |value: f64| left + pixels(f64::from(room) * value / (step * f64::from(steps)));
    let foot = height - BOTTOM;
    for tick in 0..=steps {
        let value = step * f64::from(tick);
        pen.line((x(value), TOP), (x(value), foot + 5), GRID)?;
        pen.text(&whole(value), (x(value), foot + 20), Type::Small, INK, HPos::Center)?;
    }
    for (place, bar) in (0..).zip(shown) {
        let top = top_of(place);
        let name = Type::Text.fitted(&bar.rug, WIDEST_NAME);
        pen.text(&name, (left - 10, baseline(top)), Type::Text, INK, HPos::Right)?;
        let [pale, _, strong, _] = SCALE;
        let colour = if bar.state.is_done() { strong } else { pale };
        pen.rectangle((left, top), (x(bar.strokes_per_m2), top + BAR), colour.filled())?;
    }
    if let Some(usual) = report.usual_strokes_per_m2 {
        pen.line((x(usual), TOP - 6), (x(usual), foot), INK)?;
        let label = format!("your finished rugs: {}", rounded(usual));
        let half = Type::Small.width_of(&label) / 2;
        let middle = x(usual).clamp(MARGIN + half, WIDTH - MARGIN - half);
        pen.text(&label, (middle, TOP - 12), Type::Small, INK, HPos::Center)?;
    }
    // Figures come last, on paper of their own, so that no line runs through them.
    for (place, bar) in (0..).zip(shown) {
        let (top, end, label) = (top_of(place), x(bar.strokes_per_m2), rounded(bar.strokes_per_m2));
        pen.blank((end + 4, top), (end + 8 + Type::Text.width_of(&label), top + BAR))?;
        pen.text(&label, (end + 8, baseline(top)), Type::Text, INK, HPos::Left)?;
    }
    pen.line((left, TOP), (left, foot), INK)?;
    pen.text("strokes per square metre", (left + room / 2, foot + 44), Type::Text, INK, HPos::Center)?;
    pen.text(&source(report, older), (MARGIN, height - 16), Type::Small, PENCIL, HPos::Left)
}

const fn top_of(place: i32) -> i32 {
    TOP + place * STEP + (STEP - BAR) / 2
}

const fn baseline(top: i32) -> i32 {
    top + BAR / 2 + Type::Text.pixels() / 3
}

/// Strokes to the thousand, below ten thousand to the hundred.
fn rounded(strokes: f64) -> String {
    let unit = if strokes < 10_000.0 { 100.0 } else { 1_000.0 };
    whole((strokes / unit).round() * unit)
}

fn source(report: &DensityReport, older: usize) -> String {
    let strokes = report.rugs.iter().fold(0_u64, |sum, bar| sum.saturating_add(bar.strokes));
    let mut text = format!(
        "Measured: {} of {} with a size.",
        words::count(strokes, "stroke", "strokes"),
        words::count_of(&report.rugs, "rug", "rugs")
    );
    if older > 0 {
        text.push_str(&format!(" Not drawn: {older} older ones."));
    }
    if report.without_size > 0 {
        text.push_str(&format!(
            " Left out: {}.",
            words::count(report.without_size, "rug without a size", "rugs without a size")
        ));
    }
    text
}
