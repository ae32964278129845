//! Tears per 100,000 strokes by band, with the limits and the strokes behind each; with few tears, where they lie among the strokes.

use plotters::style::Color;

use super::frame::{self, Frame, LEFT, Plane, RIGHT, five_values, round_top};
use super::heading::Heading;
use super::pen::{Pen, pixels};
use super::sorted_strokes;
use super::theme::{INK, PlotError, SCALE, Type};
use crate::view::{cloth, words};
use host_core::cloth::report::SpeedBand;
use host_core::cloth::sorted_strokes::FEWEST_FOR_RATES;
use host_core::cloth::{SpeedBy, SpeedReport};
use host_core::stats::number;

/// The tallest bar of strokes, in pixels.
const TALLEST: f64 = 90.0;

/// The picture as an SVG document.
///
/// # Errors
/// When the backend refuses, which it has no reason to.
pub fn svg(report: &SpeedReport) -> Result<String, PlotError> {
    if report.totals.tears < FEWEST_FOR_RATES {
        return sorted_strokes::svg(report);
    }
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
        heading: Heading::new(
            &format!("Tears by speed: {}", report.machine_name),
            &format!(
                "dots: tears per 100,000 strokes; lines: the range ({}); pale bars: the strokes behind it",
                words::times_in_100(report.level)
            ),
            &source,
        ),
        up: "tears per 100,000 strokes".to_owned(),
        values: five_values(top, words::about),
        across: across.to_owned(),
        below: 128,
    };
    frame.svg(|pen, plane| inside(pen, plane, report, top))
}

fn inside(pen: &Pen<'_, '_>, plane: Plane, report: &SpeedReport, top: f64) -> Result<(), String> {
    let most = report.bands.iter().map(|band| band.part.strokes).max().unwrap_or(0).max(1);
    let width = (RIGHT - LEFT) / i32::try_from(report.bands.len().max(1)).unwrap_or(1);
    for (place, band) in (0..).zip(&report.bands) {
        let middle = LEFT + place * width + width / 2;
        let bar = pixels(TALLEST * number(band.part.strokes) / number(most));
        pen.rectangle(
            (middle - width / 4, plane.foot - bar),
            (middle + width / 4, plane.foot),
            SCALE[0].mix(0.6).filled(),
        )?;
        whisker(pen, plane, band, middle, top)?;
        label(pen, plane, band, report.by, (middle, width - 4))?;
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

fn whisker(pen: &Pen<'_, '_>, plane: Plane, band: &SpeedBand, middle: i32, top: f64) -> Result<(), String> {
    let rate = band.tears_per_100000_strokes;
    let (Some(estimate), Some(low), Some(high)) = (rate.estimate, rate.low, rate.high) else { return Ok(()) };
    let (from, to) = (plane.height(low / top), plane.height(high / top));
    pen.rectangle((middle - 1, to), (middle + 1, from), INK.filled())?;
    pen.line((middle - 9, from), (middle + 9, from), INK)?;
    if high <= top {
        pen.line((middle - 9, to), (middle + 9, to), INK)?;
    } else {
        // The line goes on beyond the picture.
        pen.line((middle - 7, to + 9), (middle, to), INK)?;
        pen.line((middle + 7, to + 9), (middle, to), INK)?;
    }
    pen.dot((middle, plane.height(estimate / top)), 7, SCALE[2].filled())
}

fn label(
    pen: &Pen<'_, '_>,
    plane: Plane,
    band: &SpeedBand,
    by: SpeedBy,
    (middle, room): (i32, i32),
) -> Result<(), String> {
    let percent = |per_mille: Option<u32>| f64::from(per_mille.unwrap_or(0)) / 10.0;
    let range = match (by, band.rate_high_strokes_per_second) {
        (SpeedBy::Knob, _) => {
            format!("{} to {}\u{A0}%", percent(band.knob_low_per_mille), percent(band.knob_high_per_mille))
        }
        (SpeedBy::Rate, Some(high)) => {
            format!("{} to {high}", band.rate_low_strokes_per_second.unwrap_or(0.0))
        }
        (SpeedBy::Rate, None) => format!("{} and more", band.rate_low_strokes_per_second.unwrap_or(0.0)),
    };
    frame::label(pen, &range, (middle, plane.foot + 4), room)?;
    let y = plane.foot + 4 + 2 * Type::Small.line();
    let tears = words::count(band.part.tears, "tear", "tears");
    let strokes = words::count(band.part.strokes, "stroke", "strokes");
    frame::label(pen, &format!("{tears} in {strokes}"), (middle, y + 2), room).map(|_| ())
}
