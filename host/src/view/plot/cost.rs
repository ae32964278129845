//! What a rug costs at each speed, with its range: the time, and the tears on top of it.

use plotters::style::text_anchor::HPos;
use plotters::style::{Color, ShapeStyle};

use super::frame::{self, Frame, LEFT, Plane, RIGHT, five_values, round_top};
use super::heading::Heading;
use super::pen::{Pen, pixels};
use super::theme::{INK, PAPER, PENCIL, PlotError, SCALE, Type};
use crate::view::{cloth, words};
use host_core::cloth::cost::CostReport;
use host_core::cloth::cost::saving::SpeedCost;

/// The tallest bar of strokes, in pixels.
const TALLEST: f64 = 44.0;
/// The strip of strokes: its head and its foot under the axis across, in pixels.
const STRIP: (i32, i32) = (34, 84);
/// Room for the name of a speed, in pixels; as many are named as have it.
const NAME: i32 = 108;

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
        heading: Heading::new(
            &format!("What a rug costs by speed: {}", report.machine_name),
            &format!(
                "dots: time and tears; shaded: the range ({}); thin line: the time alone; dashed: hardly any strokes were made there",
                words::times_in_100(report.level)
            ),
            &source,
        ),
        up: "cost of a rug".to_owned(),
        values: five_values(top, words::about),
        across: "the knob's place in per cent, and strokes a second there".to_owned(),
        below: STRIP.1 + 3 * Type::Small.line() + 10,
    };
    frame.svg(|pen, plane| inside(pen, plane, report, top))
}

/// The highest upper limit, but no more than three times the highest middle, rounded up.
fn top_of(report: &CostReport) -> f64 {
    let highest = |of: fn(&SpeedCost) -> Option<f64>| report.speeds.iter().filter_map(of).fold(0.0, f64::max);
    let (middle, high) =
        (highest(|speed| speed.cost_per_rug.estimate), highest(|speed| speed.cost_per_rug.high));
    round_top(high.min(3.0 * middle))
}

fn inside(pen: &Pen<'_, '_>, plane: Plane, report: &CostReport, top: f64) -> Result<(), String> {
    strokes_below(pen, plane, report)?;
    let curve = |of: &dyn Fn(&SpeedCost) -> Option<f64>| -> Vec<(i32, i32)> {
        let speeds = report.speeds.iter();
        speeds
            .filter_map(|speed| of(speed).map(|cost| (middle_of(speed), plane.height(cost / top))))
            .collect()
    };
    let mut range = curve(&|speed| speed.cost_per_rug.high);
    range.extend(curve(&|speed| speed.cost_per_rug.low).into_iter().rev());
    pen.area(range, SCALE[2].mix(0.22).filled())?;
    let thin = ShapeStyle { color: PENCIL.to_rgba(), filled: false, stroke_width: 1 };
    pen.path(curve(&|speed| Some(speed.time_cost_per_rug)), thin)?;
    let style = ShapeStyle { color: SCALE[3].to_rgba(), filled: false, stroke_width: 2 };
    let costs: Vec<(bool, (i32, i32))> = report
        .speeds
        .iter()
        .filter_map(|speed| {
            let cost = speed.cost_per_rug.estimate?;
            Some((report.hardly_ran_at(speed), (middle_of(speed), plane.height(cost / top))))
        })
        .collect();
    for pair in costs.windows(2) {
        let [(hardly_from, from), (hardly_to, to)] = pair else { continue };
        if *hardly_from || *hardly_to {
            pen.dashed(&[*from, *to], style)?;
        } else {
            pen.path(vec![*from, *to], style)?;
        }
    }
    for (hardly, at) in costs {
        pen.dot(at, 5, if hardly { PAPER.filled() } else { SCALE[3].filled() })?;
        pen.dot(at, 5, ShapeStyle::from(&SCALE[3]))?;
    }
    names(pen, plane, report)?;
    if let Some(place) = report.accepted_ceiling_per_mille {
        mark(pen, plane, place, "your ceiling")?;
    } else if let Some(ceiling) = report.proposal {
        mark(pen, plane, ceiling.knob_per_mille, "proposed ceiling")?;
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

/// The strokes stand in a strip of their own, with a scale of their own.
fn strokes_below(pen: &Pen<'_, '_>, plane: Plane, report: &CostReport) -> Result<(), String> {
    let most = report.speeds.iter().map(|speed| speed.strokes).fold(1.0, f64::max);
    let (head, foot) = (plane.foot + STRIP.0, plane.foot + STRIP.1);
    let says = format!("strokes made there; the highest bar: {}", words::about(most));
    pen.text(&says, (LEFT, head - 10), Type::Small, INK, HPos::Left)?;
    for speed in &report.speeds {
        let bar = pixels(TALLEST * speed.strokes / most);
        let (from, to) =
            (across(f64::from(speed.knob_low_per_mille)), across(f64::from(speed.knob_high_per_mille)));
        pen.rectangle((from + 1, foot - bar), (to - 1, foot), SCALE[1].filled())?;
    }
    pen.line((LEFT, foot), (RIGHT, foot), INK)
}

fn names(pen: &Pen<'_, '_>, plane: Plane, report: &CostReport) -> Result<(), String> {
    let foot = plane.foot + STRIP.1;
    let mut free_from = LEFT - NAME;
    for speed in &report.speeds {
        let middle = middle_of(speed);
        if middle - NAME / 2 < free_from || middle + NAME / 2 > RIGHT + 10 {
            continue;
        }
        free_from = middle + NAME / 2;
        // A place begins where the one below it ends.
        let from = speed.knob_low_per_mille.saturating_sub(1);
        let place =
            format!("{} to {}\u{A0}%", f64::from(from) / 10.0, f64::from(speed.knob_high_per_mille) / 10.0);
        let rate = format!("{} a second", words::about(speed.strokes_per_second));
        pen.line((middle, foot), (middle, foot + 5), INK)?;
        let y = frame::label(pen, &place, (middle, foot + 4), NAME)?;
        frame::label(pen, &rate, (middle, y), NAME)?;
    }
    Ok(())
}

fn mark(pen: &Pen<'_, '_>, plane: Plane, per_mille: u32, name: &str) -> Result<(), String> {
    let x = across(f64::from(per_mille));
    pen.line((x, plane.top - 12), (x, plane.foot), INK)?;
    let half = Type::Small.width_of(name) / 2;
    let x = x.clamp(LEFT + Type::Small.width_of("cost of a rug") + half, RIGHT - half);
    pen.text(name, (x, plane.top - 16), Type::Small, INK, HPos::Center)
}
