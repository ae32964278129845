//! Tears per 100,000 strokes by band, with the limits and the strokes behind each.

use plotters::style::Color;
use plotters::style::text_anchor::HPos;

use super::frame::{FOOT, Frame, LEFT, RIGHT, five_values, height, round_top};
use super::pen::{Pen, pixels};
use super::theme::{INK, PENCIL, PlotError, SCALE, Type};
use crate::view::{cloth, words};
use host_core::cloth::report::SpeedBand;
use host_core::cloth::{SpeedBy, SpeedReport};
use host_core::stats::number;

/// The tallest bar of strokes, in pixels.
const TALLEST: f64 = 110.0;

/// The picture as an SVG document.
///
/// # Errors
/// When the backend refuses, which it has no reason to.
pub fn svg(report: &SpeedReport) -> Result<String, PlotError> {
    let top = top_of(report);
    let across =
        if report.by == SpeedBy::Knob { "the knob's place, slow to fast" } else { "strokes a second" };
    let source = format!(
        "Measured: {} in {} and {}{}. Ranges that overlap may differ by chance alone.",
        words::count(report.totals.tears, "tear", "tears"),
        words::count(report.totals.strokes, "stroke", "strokes"),
        words::run_time(report.totals.run_time_ms),
        cloth::by_rug(report.totals.tears, report.rugs).map_or_else(String::new, |rugs| format!(": {rugs}"))
    );
    let frame = Frame {
        title: format!("Tears by speed: {}", report.machine_name),
        subtitle: format!(
            "dots: tears per 100,000 strokes; lines: the range ({}); bars: the strokes behind it",
            words::times_in_100(report.level)
        ),
        up: "tears per 100,000 strokes".to_owned(),
        values: five_values(top, words::about),
        across: across.to_owned(),
        source,
    };
    frame.svg(|pen| inside(pen, report, top))
}

fn inside(pen: &Pen<'_, '_>, report: &SpeedReport, top: f64) -> Result<(), String> {
    let most = report.bands.iter().map(|band| band.part.strokes).max().unwrap_or(0).max(1);
    let width = (RIGHT - LEFT) / i32::try_from(report.bands.len().max(1)).unwrap_or(1);
    for (place, band) in (0..).zip(&report.bands) {
        let middle = LEFT + place * width + width / 2;
        let bar = pixels(TALLEST * number(band.part.strokes) / number(most));
        pen.rectangle(
            (middle - width / 4, FOOT - bar),
            (middle + width / 4, FOOT),
            SCALE[0].mix(0.6).filled(),
        )?;
        whisker(pen, band, middle, top)?;
        label(pen, band, report.by, middle)?;
    }
    Ok(())
}

/// The end of the axis: the highest upper limit, but no more than six times that of all bands together, rounded up.
fn top_of(report: &SpeedReport) -> f64 {
    let highest =
        report.bands.iter().filter_map(|band| band.tears_per_100000_strokes.high).fold(0.0, f64::max);
    let all = report.tears_per_100000_strokes.high.unwrap_or(highest);
    round_top(highest.min(6.0 * all))
}

fn whisker(pen: &Pen<'_, '_>, band: &SpeedBand, middle: i32, top: f64) -> Result<(), String> {
    let rate = band.tears_per_100000_strokes;
    let (Some(estimate), Some(low), Some(high)) = (rate.estimate, rate.low, rate.high) else { return Ok(()) };
    let (from, to) = (height(low / top), height(high / top));
    pen.rectangle((middle - 1, to), (middle + 1, from), INK.filled())?;
    pen.line((middle - 9, from), (middle + 9, from), INK)?;
    if high <= top {
        pen.line((middle - 9, to), (middle + 9, to), INK)?;
    } else {
        // The line goes on beyond the picture.
        pen.line((middle - 7, to + 9), (middle, to), INK)?;
        pen.line((middle + 7, to + 9), (middle, to), INK)?;
    }
    pen.dot((middle, height(estimate / top)), 7, SCALE[2].filled())
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
