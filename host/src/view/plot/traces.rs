//! Where the knob stood in the seconds before tears, over the same from moments drawn at random in the same sessions.

use plotters::style::text_anchor::HPos;
use plotters::style::{Color, ShapeStyle};

use super::frame::{Frame, LEFT, Plane, RIGHT};
use super::heading::Heading;
use super::pen::Pen;
use super::theme::{INK, PENCIL, PlotError, SCALE, Type};
use crate::view::words;
use host_core::cloth::traces::{TraceLine, TraceReport};

/// Running that a trace holds, in milliseconds.
const LONGEST_MS: i32 = 10_000;

/// The picture as an SVG document.
///
/// # Errors
/// When the backend refuses, which it has no reason to.
pub fn svg(report: &TraceReport) -> Result<String, PlotError> {
    let controls = report.tears.iter().map(|tear| tear.controls.len()).sum::<usize>();
    let source = format!(
        "{} and {}. After a tear the hand lets go of the trigger, so the last second says nothing. A picture to look at; it decides nothing.",
        words::count_of(&report.tears, "tear", "tears"),
        words::count(u64::try_from(controls).unwrap_or(u64::MAX), "random moment", "random moments")
    );
    let frame = Frame {
        heading: Heading::new(
            &format!("The seconds before a tear: {}", report.machine_name),
            "thick and dark: before tears; thin and light: at moments drawn at random in the same sessions, before the tear",
            &source,
        ),
        up: "the knob's place".to_owned(),
        values: [0.0, 0.25, 0.5, 0.75, 1.0].map(|share| (share, format!("{} %", 100.0 * share))).to_vec(),
        across: "seconds of running before the last stroke (before a tear) or before the moment drawn"
            .to_owned(),
        below: 34,
    };
    frame.svg(|pen, plane| inside(pen, plane, report))
}

fn inside(pen: &Pen<'_, '_>, plane: Plane, report: &TraceReport) -> Result<(), String> {
    for seconds in [10, 8, 6, 4, 2, 0] {
        let x = across(seconds * 1_000);
        pen.line((x, plane.foot), (x, plane.foot + 5), INK)?;
        pen.text(&seconds.to_string(), (x, plane.foot + 22), Type::Small, INK, HPos::Center)?;
    }
    // The last second is the hand letting go, and says nothing.
    pen.line((across(1_000), plane.top), (across(1_000), plane.foot), PENCIL)?;
    pen.text("the hand lets go", (RIGHT, plane.top - 16), Type::Small, PENCIL, HPos::Right)?;
    let light = ShapeStyle { color: SCALE[1].mix(0.7), filled: false, stroke_width: 1 };
    for control in report.tears.iter().flat_map(|tear| &tear.controls) {
        trace(pen, plane, control, light)?;
    }
    let dark = ShapeStyle { color: SCALE[3].mix(0.9), filled: false, stroke_width: 3 };
    for tear in &report.tears {
        trace(pen, plane, &tear.before, dark)?;
    }
    Ok(())
}

fn across(before_end_ms: i32) -> i32 {
    RIGHT - 24 - (RIGHT - 24 - LEFT) * before_end_ms.min(LONGEST_MS) / LONGEST_MS
}

fn trace(pen: &Pen<'_, '_>, plane: Plane, line: &TraceLine, style: ShapeStyle) -> Result<(), String> {
    let points: Vec<(i32, i32)> = line
        .points
        .iter()
        .map(|point| {
            let age = i32::try_from(point.before_end_ms).unwrap_or(LONGEST_MS);
            (across(age), plane.foot - (plane.foot - plane.top) * i32::from(point.knob_per_mille) / 1000)
        })
        .collect();
    if let Some(end) = points.last() {
        pen.dot(*end, 3, style.color.filled())?;
    }
    pen.path(points, style)
}
