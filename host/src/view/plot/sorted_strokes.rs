//! Few tears: a line a rug with its strokes from slow to fast, and a cross where each tear lies among them.

use plotters::style::ShapeStyle;
use plotters::style::text_anchor::HPos;

use super::heading::{Heading, Legend};
use super::pen::{Pen, document, pixels};
use super::theme::{GRID, INK, MARGIN, PENCIL, PlotError, RIGHT, Type, WIDTH};
use crate::view::words;
use host_core::cloth::SpeedReport;
use host_core::cloth::sorted_strokes::{FEWEST_FOR_RATES, RugStrokes};
use host_core::entries::Harm;

const BAR: i32 = 36;
const ROW: i32 = 92;
/// White at both ends of a line, so that the first and the last knob value have room.
const INSET: i32 = 12;

/// The picture as an SVG document.
///
/// # Errors
/// When the backend refuses, which it has no reason to.
pub(super) fn svg(report: &SpeedReport) -> Result<String, PlotError> {
    let rugs = &report.sorted_strokes.rugs;
    let heading = Heading::new(
        &format!("Tears among the strokes: {}", report.machine_name),
        "each bar: a rug's strokes, sorted from slow to fast. Where speed does nothing the crosses lie anywhere; where it tears they crowd to the right",
        &source(report),
    );
    let legend = Legend::new([(Harm::Tear, "tear".to_owned()), (Harm::NearMiss, "near-miss".to_owned())]);
    let top = heading.top() + legend.height() + 4;
    let foot = top + i32::try_from(rugs.len().max(1)).unwrap_or(1) * ROW;
    let height = foot + heading.foot();
    document((WIDTH, height), |pen| {
        heading.draw(pen, height)?;
        legend.draw(pen, heading.top(), |harm, from, to| {
            mark(pen, harm, (i32::midpoint(from.0, to.0), i32::midpoint(from.1, to.1)))
        })?;
        if rugs.is_empty() {
            let nothing = "No tear or near-miss can be placed among strokes yet.";
            return pen.text(nothing, (MARGIN, top + 30), Type::Small, PENCIL, HPos::Left);
        }
        (0..).zip(rugs).try_for_each(|(place, rug)| draw_rug(pen, rug, top + place * ROW))
    })
}

/// Where a share of the strokes lies.
fn across(share: f64) -> i32 {
    MARGIN + INSET + pixels(f64::from(RIGHT - MARGIN - 2 * INSET) * share)
}

fn draw_rug(pen: &Pen<'_, '_>, rug: &RugStrokes, top: i32) -> Result<(), String> {
    let strokes = words::count(rug.strokes, "stroke", "strokes");
    let room = RIGHT - MARGIN - Type::Small.width_of(&strokes) - 12;
    pen.text(&Type::Text.fitted(&rug.rug, room), (MARGIN, top + 18), Type::Text, INK, HPos::Left)?;
    pen.text(&strokes, (RIGHT, top + 18), Type::Small, INK, HPos::Right)?;
    let (upper, lower) = (top + 24, top + 24 + BAR);
    pen.rectangle((across(0.0), upper), (across(1.0), lower), ShapeStyle::from(&INK))?;
    for at in &rug.knob {
        let x = across(at.slower_share);
        pen.line((x, upper + 1), (x, lower - 1), GRID)?;
        pen.line((x, lower), (x, lower + 4), INK)?;
        let knob = format!("{:.0} %", f64::from(at.knob_per_mille) / 10.0);
        pen.text(&knob, (x, lower + 21), Type::Small, PENCIL, HPos::Center)?;
    }
    // Near-misses have a track of their own, so that none hides a tear.
    for harm in &rug.harms {
        let y = if harm.harm == Harm::Tear { lower - 10 } else { upper + 11 };
        mark(pen, harm.harm, (across(harm.slower_share), y))?;
    }
    Ok(())
}

fn mark(pen: &Pen<'_, '_>, harm: Harm, at: (i32, i32)) -> Result<(), String> {
    match harm {
        Harm::Tear => pen.cross(at, 6, INK),
        Harm::NearMiss => pen.hollow_cross(at, 8, INK),
    }
}

fn source(report: &SpeedReport) -> String {
    let mut text = format!(
        "Under the bars: where the knob stood. Measured: {} and {} in {}. Rates are drawn from {FEWEST_FOR_RATES} tears on.",
        words::count(report.totals.tears, "tear", "tears"),
        words::count(report.totals.near_misses, "near-miss", "near-misses"),
        words::count(report.totals.strokes, "stroke", "strokes"),
    );
    let (tears, near) =
        (report.sorted_strokes.tears_not_placed, report.sorted_strokes.near_misses_not_placed);
    if tears > 0 || near > 0 {
        text.push_str(&format!(
            " Not drawn, as rug or knob is not known: {} and {}.",
            words::count(tears, "tear", "tears"),
            words::count(near, "near-miss", "near-misses")
        ));
    }
    text
}
