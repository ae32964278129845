//! Strokes for each square metre, rug by rug.

use plotters::style::text_anchor::HPos;
use plotters::style::{Color, ShapeStyle};

use super::heading::{Heading, Legend};
use super::pen::{Pen, document, pixels, round_step};
use super::theme::{GRID, INK, MARGIN, PENCIL, PlotError, RIGHT, SCALE, Type, WIDTH};
use crate::view::words;
use crate::view::words::figures::whole;
use host_core::rugs::density::{DensityBar, DensityReport};

const BAR: i32 = 18;
const ROW: i32 = 48;
const AXIS: i32 = 40;
/// As many rugs are drawn, the newest; more would be a carpet.
const MOST_RUGS: usize = 40;

#[derive(Clone, Copy, Debug)]
enum Mark {
    Finished,
    Growing,
    Usual,
}

/// The picture as an SVG document.
///
/// # Errors
/// When the backend refuses, which it has no reason to.
pub fn svg(report: &DensityReport) -> Result<String, PlotError> {
    let older = report.rugs.len().saturating_sub(MOST_RUGS);
    let shown = report.rugs.get(older..).unwrap_or_default();
    let heading = Heading::new(
        "Strokes per square metre",
        "by rug, in the order in which they were taken",
        &source(report, older),
    );
    let any = |done| shown.iter().any(|bar| bar.state.is_done() == done);
    let usual = report.usual_strokes_per_m2;
    let average = usual.map_or_else(String::new, |usual| {
        format!("{}, the geometric mean of your finished rugs", rounded(usual))
    });
    let items = [
        (Mark::Finished, "tufting finished".to_owned(), any(true)),
        (Mark::Growing, "not finished, it still grows".to_owned(), any(false)),
        (Mark::Usual, average, usual.is_some()),
    ];
    let there = items.into_iter().filter(|(_, _, is_there)| *is_there);
    let legend = Legend::new(there.map(|(mark, words, _)| (mark, words)));
    let top = heading.top() + legend.height();
    let foot = top + i32::try_from(shown.len().max(1)).unwrap_or(1) * ROW;
    let height = foot + AXIS + heading.foot();
    document((WIDTH, height), |pen| {
        heading.draw(pen, height)?;
        legend.draw(pen, heading.top(), |mark, from, to| draw_mark(pen, mark, from, to))?;
        draw(pen, report, shown, (top, foot))
    })
}

fn draw(
    pen: &Pen<'_, '_>,
    report: &DensityReport,
    shown: &[DensityBar],
    (top, foot): (i32, i32),
) -> Result<(), String> {
    let most = shown.iter().map(|bar| bar.strokes_per_m2).fold(0.0, f64::max);
    let most = report.usual_strokes_per_m2.map_or(most, |usual| most.max(usual));
    // Half as many steps as there is room for at the full width: the values are long.
    let step = round_step(most) * 2.0;
    let steps = pixels((most / step).ceil()).max(1);
    let room = f64::from(RIGHT - MARGIN - Type::Small.width_of("1,000,000") / 2);
    let x = |value: f64| MARGIN + pixels(room * value / (step * f64::from(steps)));
    for (place, bar) in (0..).zip(shown) {
        let top = top + place * ROW;
        let label = rounded(bar.strokes_per_m2);
        let room = RIGHT - MARGIN - Type::Small.width_of(&label) - 12;
        pen.text(&Type::Text.fitted(&bar.rug, room), (MARGIN, top + 18), Type::Text, INK, HPos::Left)?;
        pen.text(&label, (RIGHT, top + 18), Type::Small, INK, HPos::Right)?;
        let (upper, lower) = (top + 24, top + 24 + BAR);
        for tick in 0..=steps {
            let at = x(step * f64::from(tick));
            pen.line((at, upper - 2), (at, lower + 2), GRID)?;
        }
        let mark = if bar.state.is_done() { Mark::Finished } else { Mark::Growing };
        draw_mark(pen, mark, (MARGIN, upper), (x(bar.strokes_per_m2), lower))?;
        if let Some(usual) = report.usual_strokes_per_m2 {
            draw_mark(pen, Mark::Usual, (x(usual), upper - 4), (x(usual), lower + 4))?;
        }
    }
    pen.line((MARGIN, foot), (x(step * f64::from(steps)), foot), INK)?;
    for tick in 0..=steps {
        let value = step * f64::from(tick);
        let across = if tick == 0 { HPos::Left } else { HPos::Center };
        pen.line((x(value), foot), (x(value), foot + 5), INK)?;
        pen.text(&whole(value), (x(value), foot + 22), Type::Small, INK, across)?;
    }
    Ok(())
}

fn draw_mark(pen: &Pen<'_, '_>, mark: Mark, from: (i32, i32), to: (i32, i32)) -> Result<(), String> {
    let [_, _, strong, _] = SCALE;
    match mark {
        Mark::Finished => pen.rectangle(from, to, strong.filled()),
        Mark::Growing => {
            pen.hatch(from, to, 5, strong)?;
            pen.rectangle(from, to, ShapeStyle::from(&PENCIL))
        }
        Mark::Usual => {
            let x = i32::midpoint(from.0, to.0);
            // White around it, so that it is seen on a bar as well.
            pen.blank((x - 2, from.1), (x + 2, to.1))?;
            pen.line((x, from.1), (x, to.1), INK)
        }
    }
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
