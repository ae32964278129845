//! Tears per 100,000 strokes by band, with the limits and the strokes behind each.

use plotters::prelude::{Circle, IntoDrawingArea, Rectangle, SVGBackend};
use plotters::style::Color;
use plotters::style::text_anchor::HPos;

use super::stacked_bars::Pen;
use super::theme::{GRID, INK, PAPER, PENCIL, PlotError, SCALE, Type};
use crate::core::stats::number;
use crate::core::tears::report::SpeedBand;
use crate::core::tears::{SpeedBy, SpeedReport};
use crate::view::words;

const SIZE: (i32, i32) = (960, 520);
const LEFT: i32 = 84;
const RIGHT: i32 = 936;
const TOP: i32 = 112;
const FOOT: i32 = 400;
/// The tallest bar of strokes, in pixels.
const TALLEST: f64 = 110.0;

/// The picture as an SVG document.
///
/// # Errors
/// When the backend refuses, which it has no reason to.
pub fn svg(report: &SpeedReport) -> Result<String, PlotError> {
    let mut document = String::new();
    {
        let size = (SIZE.0.unsigned_abs(), SIZE.1.unsigned_abs());
        let area = SVGBackend::with_string(&mut document, size).into_drawing_area();
        area.fill(&PAPER).map_err(|error| PlotError(error.to_string()))?;
        draw(&Pen { area: &area }, report).map_err(PlotError)?;
        area.present().map_err(|error| PlotError(error.to_string()))?;
    }
    Ok(document)
}

fn draw(pen: &Pen<'_, '_>, report: &SpeedReport) -> Result<(), String> {
    pen.text(&format!("Tears by speed: {}", report.machine_name), (24, 34), Type::Title, INK, HPos::Left)?;
    let subtitle = "dots: tears per 100,000 strokes; lines: where the true number most likely lies; bars: the strokes behind it";
    pen.text(subtitle, (24, 60), Type::Text, PENCIL, HPos::Left)?;
    let top = top_of(report);
    for tick in 0..=4 {
        let value = top * f64::from(tick) / 4.0;
        let y = height(value, top);
        pen.line((LEFT, y), (RIGHT, y), GRID)?;
        pen.text(&words::about(value), (LEFT - 10, y + 4), Type::Small, INK, HPos::Right)?;
    }
    pen.text("tears per 100,000 strokes", (24, TOP - 18), Type::Small, INK, HPos::Left)?;
    let most = report.bands.iter().map(|band| band.part.strokes).max().unwrap_or(0).max(1);
    let width = (RIGHT - LEFT) / i32::try_from(report.bands.len().max(1)).unwrap_or(1);
    for (place, band) in (0..).zip(&report.bands) {
        let middle = LEFT + place * width + width / 2;
        let bar = pixels(TALLEST * number(band.part.strokes) / number(most));
        fill(pen, (middle - width / 4, FOOT - bar), (middle + width / 4, FOOT), SCALE[0].mix(0.6).filled())?;
        whisker(pen, band, middle, top)?;
        label(pen, band, report.by, middle)?;
    }
    pen.line((LEFT, FOOT), (RIGHT, FOOT), INK)?;
    let axis = if report.by == SpeedBy::Knob { "the knob's place, slow to fast" } else { "strokes a second" };
    pen.text(axis, ((LEFT + RIGHT) / 2, FOOT + 76), Type::Text, INK, HPos::Center)?;
    let source = format!(
        "Measured: {} in {} and {}. Ranges that overlap may differ by chance alone.",
        words::count(report.totals.tears, "tear", "tears"),
        words::count(report.totals.strokes, "stroke", "strokes"),
        words::run_time(report.totals.run_time_ms)
    );
    pen.text(&source, (24, SIZE.1 - 16), Type::Small, PENCIL, HPos::Left)
}

/// The end of the axis: the highest upper limit, but no more than six times that of all bands together, rounded up.
fn top_of(report: &SpeedReport) -> f64 {
    let highest =
        report.bands.iter().filter_map(|band| band.tears_per_100000_strokes.high).fold(0.0, f64::max);
    let all = report.tears_per_100000_strokes.high.unwrap_or(highest);
    let top = highest.min(6.0 * all);
    if top <= 0.0 {
        return 1.0;
    }
    let unit = 10_f64.powf(top.log10().floor());
    [1.0, 2.0, 4.0, 8.0, 10.0].iter().map(|step| step * unit).find(|round| *round >= top).unwrap_or(top)
}

fn height(value: f64, top: f64) -> i32 {
    FOOT - pixels(f64::from(FOOT - TOP) * (value / top).clamp(0.0, 1.0))
}

#[expect(clippy::cast_possible_truncation, reason = "a picture has a few hundred pixels")]
fn pixels(value: f64) -> i32 {
    value.round() as i32
}

fn whisker(pen: &Pen<'_, '_>, band: &SpeedBand, middle: i32, top: f64) -> Result<(), String> {
    let rate = band.tears_per_100000_strokes;
    let (Some(estimate), Some(low), Some(high)) = (rate.estimate, rate.low, rate.high) else { return Ok(()) };
    let (from, to) = (height(low, top), height(high, top));
    fill(pen, (middle - 1, to), (middle + 1, from), INK.filled())?;
    pen.line((middle - 9, from), (middle + 9, from), INK)?;
    if high <= top {
        pen.line((middle - 9, to), (middle + 9, to), INK)?;
    } else {
        // The line goes on beyond the picture.
        pen.line((middle - 7, to + 9), (middle, to), INK)?;
        pen.line((middle + 7, to + 9), (middle, to), INK)?;
    }
    let dot = Circle::new((middle, height(estimate, top)), 7, SCALE[2].filled());
    pen.area.draw(&dot).map_err(|error| error.to_string())
}

fn label(pen: &Pen<'_, '_>, band: &SpeedBand, by: SpeedBy, middle: i32) -> Result<(), String> {
    let percent = |per_mille: Option<u32>| f64::from(per_mille.unwrap_or(0)) / 10.0;
    let range = match (by, band.rate_high_strokes_per_second) {
        (SpeedBy::Knob, _) => {
            format!("{} to {} %", percent(band.knob_low_per_mille), percent(band.knob_high_per_mille))
        }
        (SpeedBy::Rate, Some(high)) => {
            format!("{} to {high}", band.rate_low_strokes_per_second.unwrap_or(0.0))
        }
        (SpeedBy::Rate, None) => format!("{} and more", band.rate_low_strokes_per_second.unwrap_or(0.0)),
    };
    pen.text(&range, (middle, FOOT + 20), Type::Text, INK, HPos::Center)?;
    let tears = words::count(band.part.tears, "tear", "tears");
    let strokes = words::count(band.part.strokes, "stroke", "strokes");
    pen.text(&format!("{tears} in {strokes}"), (middle, FOOT + 42), Type::Small, PENCIL, HPos::Center)
}

fn fill(
    pen: &Pen<'_, '_>,
    from: (i32, i32),
    to: (i32, i32),
    style: plotters::style::ShapeStyle,
) -> Result<(), String> {
    pen.area.draw(&Rectangle::new([from, to], style)).map_err(|error| error.to_string())
}
