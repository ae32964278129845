//! Bars lying on their side, each stacked from parts of an ordered scale.

use plotters::style::text_anchor::HPos;
use plotters::style::{Color, ShapeStyle};

use super::heading::{Heading, Legend};
use super::pen::{Pen, document};
use super::theme::{INK, MARGIN, PAPER, PENCIL, PlotError, RIGHT, SCALE, Type, WIDTH};
use super::time_axis::TimeAxis;

/// One bar.
#[derive(Clone, Debug)]
pub struct Bar {
    /// Its name above it.
    pub name: String,
    /// Its parts, in the order of the scale, in milliseconds; the one after the scale is drawn hatched.
    pub parts_ms: Vec<u64>,
    /// What stands at the right above it.
    pub total: String,
}

/// What is in the picture.
#[derive(Clone, Debug)]
pub struct StackedBars {
    /// The title.
    pub title: String,
    /// A line under it.
    pub subtitle: String,
    /// What the parts are, in the order of the scale.
    pub parts: Vec<String>,
    /// The bars from top to bottom.
    pub bars: Vec<Bar>,
    /// What the axis counts, without its unit.
    pub axis: String,
    /// Where the numbers come from.
    pub source: String,
}

const BAR: i32 = 20;
const ROW: i32 = 54;
const AXIS: i32 = 56;

impl StackedBars {
    /// The picture as an SVG document.
    ///
    /// # Errors
    /// When the backend refuses, which it has no reason to.
    pub fn svg(&self) -> Result<String, PlotError> {
        let heading = Heading::new(&self.title, &self.subtitle, &self.source);
        let legend = Legend::new(self.parts.iter().cloned().enumerate());
        let rows = i32::try_from(self.bars.len().max(1)).unwrap_or(1);
        let top = heading.top() + legend.height();
        let foot = top + rows * ROW;
        let height = foot + AXIS + heading.foot();
        document((WIDTH, height), |pen| {
            heading.draw(pen, height)?;
            legend.draw(pen, heading.top(), |part, from, to| draw_part(pen, part, from, to))?;
            let longest = self.bars.iter().map(|bar| bar.parts_ms.iter().sum()).max().unwrap_or(0);
            let axis = TimeAxis::of(longest, MARGIN, RIGHT - MARGIN - 10);
            for (index, bar) in (0..).zip(&self.bars) {
                draw_bar(pen, bar, axis, top + index * ROW)?;
            }
            axis.draw_values(pen, foot, &self.axis)
        })
    }
}

fn draw_bar(pen: &Pen<'_, '_>, bar: &Bar, axis: TimeAxis, top: i32) -> Result<(), String> {
    let room = RIGHT - MARGIN - Type::Small.width_of(&bar.total) - 12;
    pen.text(&Type::Text.fitted(&bar.name, room), (MARGIN, top + 18), Type::Text, INK, HPos::Left)?;
    pen.text(&bar.total, (RIGHT, top + 18), Type::Small, INK, HPos::Right)?;
    let (top, foot) = (top + 24, top + 24 + BAR);
    axis.draw_steps(pen, top - 2, foot + 2)?;
    let mut before = 0;
    for (index, part) in bar.parts_ms.iter().enumerate() {
        let (from, to) = (axis.x(before), axis.x(before + part));
        if to > from {
            draw_part(pen, index, (from, top), (to, foot))?;
        }
        before += part;
    }
    Ok(())
}

/// A part of a bar: filled with its step of the scale, or hatched where it has none.
fn draw_part(pen: &Pen<'_, '_>, index: usize, from: (i32, i32), to: (i32, i32)) -> Result<(), String> {
    let fill = SCALE.get(index).copied().unwrap_or(PAPER);
    pen.rectangle(from, to, fill.filled())?;
    if index >= SCALE.len() {
        pen.hatch(from, to, 6, PENCIL)?;
    }
    pen.rectangle(from, to, ShapeStyle { color: INK.mix(0.55), filled: false, stroke_width: 1 })
}
