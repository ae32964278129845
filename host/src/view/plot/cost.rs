//! What a rug costs at each speed, with its range: the time, and the tears on top of it.

use plotters::style::text_anchor::HPos;
use plotters::style::{Color, ShapeStyle};

use super::frame::{FOOT, Frame, LEFT, RIGHT, TOP, five_values, height, round_top};
use super::pen::{Pen, pixels};
use super::theme::{INK, PENCIL, PlotError, SCALE, Type};
use crate::view::{cloth, words};
use host_core::cloth::cost::CostReport;
use host_core::cloth::cost::saving::SpeedCost;

/// The tallest bar of strokes, in pixels.
const TALLEST: f64 = 70.0;
/// At most so many speeds are named under the axis.
const MOST_NAMES: usize = 7;

/// The picture as an SVG document.
///
/// # Errors
/// When the backend refuses, which it has no reason to.
pub fn svg(report: &CostReport) -> Result<String, PlotError> {
    let top = top_of(report);
    let source = format!(
        "A rug of {} strokes, in {}; {}. {}",
        report.strokes_per_rug.map_or_else(String::new, words::about),
        words::currency(report.currency.as_deref()),
        cloth::by_rug(report.tears, report.rugs).unwrap_or_else(|| "no tear so far".to_owned()),
        cloth::in_short(report)
    );
    let frame = Frame {
        title: format!("What a rug costs by speed: {}", report.machine_name),
        subtitle: format!(
            "dots: time and tears; shaded: the range ({}); thin line: the time alone; bars: strokes made there",
            words::times_in_100(report.level)
        ),
        up: "cost of a rug".to_owned(),
        values: five_values(top, words::about),
        across: "the knob's place in per cent, and strokes a second there".to_owned(),
        source,
    };
    frame.svg(|pen| inside(pen, report, top))
}

/// The highest upper limit, but no more than three times the highest middle, rounded up.
fn top_of(report: &CostReport) -> f64 {
    let highest = |of: fn(&SpeedCost) -> Option<f64>| report.speeds.iter().filter_map(of).fold(0.0, f64::max);
    let (middle, high) =
        (highest(|speed| speed.cost_per_rug.estimate), highest(|speed| speed.cost_per_rug.high));
    round_top(high.min(3.0 * middle))
}

fn inside(pen: &Pen<'_, '_>, report: &CostReport, top: f64) -> Result<(), String> {
    strokes_behind(pen, report)?;
    let curve = |of: &dyn Fn(&SpeedCost) -> Option<f64>| -> Vec<(i32, i32)> {
        let speeds = report.speeds.iter();
        speeds.filter_map(|speed| of(speed).map(|cost| (middle_of(speed), height(cost / top)))).collect()
    };
    let mut range = curve(&|speed| speed.cost_per_rug.high);
    range.extend(curve(&|speed| speed.cost_per_rug.low).into_iter().rev());
    pen.area(range, SCALE[2].mix(0.22).filled())?;
    let thin = ShapeStyle { color: PENCIL.to_rgba(), filled: false, stroke_width: 1 };
    pen.path(curve(&|speed| Some(speed.time_cost_per_rug)), thin)?;
    let costs = curve(&|speed| speed.cost_per_rug.estimate);
    pen.path(costs.clone(), ShapeStyle { color: SCALE[3].to_rgba(), filled: false, stroke_width: 2 })?;
    for at in costs {
        pen.dot(at, 5, SCALE[3].filled())?;
    }
    names(pen, report)?;
    if let Some(place) = report.accepted_ceiling_per_mille {
        mark(pen, place, "your ceiling")?;
    } else if let Some(ceiling) = report.proposal {
        mark(pen, ceiling.knob_per_mille, "proposed ceiling")?;
    }
    Ok(())
}

/// Where a place of the knob lies across.
fn across(per_mille: f64) -> i32 {
    LEFT + pixels(f64::from(RIGHT - LEFT) * per_mille / 1_000.0)
}

fn middle_of(speed: &SpeedCost) -> i32 {
    across(f64::midpoint(f64::from(speed.knob_low_per_mille), f64::from(speed.knob_high_per_mille)))
}

fn strokes_behind(pen: &Pen<'_, '_>, report: &CostReport) -> Result<(), String> {
    let most = report.speeds.iter().map(|speed| speed.strokes).fold(1.0, f64::max);
    for speed in &report.speeds {
        let bar = pixels(TALLEST * speed.strokes / most);
        let (from, to) =
            (across(f64::from(speed.knob_low_per_mille)), across(f64::from(speed.knob_high_per_mille)));
        pen.rectangle((from + 3, FOOT - bar), (to - 3, FOOT), SCALE[0].mix(0.6).filled())?;
    }
    Ok(())
}

fn names(pen: &Pen<'_, '_>, report: &CostReport) -> Result<(), String> {
    let step = report.speeds.len().div_ceil(MOST_NAMES).max(1);
    for speed in report.speeds.iter().step_by(step) {
        let x = middle_of(speed);
        // A place begins where the one below it ends.
        let from = speed.knob_low_per_mille.saturating_sub(1);
        let place =
            format!("{} to {} %", f64::from(from) / 10.0, f64::from(speed.knob_high_per_mille) / 10.0);
        pen.line((x, FOOT), (x, FOOT + 5), INK)?;
        pen.text(&place, (x, FOOT + 20), Type::Text, INK, HPos::Center)?;
        let rate = format!("{} a second", words::about(speed.strokes_per_second));
        pen.text(&rate, (x, FOOT + 42), Type::Small, PENCIL, HPos::Center)?;
    }
    Ok(())
}

fn mark(pen: &Pen<'_, '_>, per_mille: u32, name: &str) -> Result<(), String> {
    let x = across(f64::from(per_mille));
    pen.line((x, TOP), (x, FOOT), INK)?;
    pen.text(name, (x - 6, TOP + 12), Type::Small, INK, HPos::Right)
}
