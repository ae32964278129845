//! Usage per rug: an open bar for the time at the frame, the motor time in it, and a cross under it for each tear.

use plotters::style::text_anchor::HPos;
use plotters::style::{Color, ShapeStyle};

use super::heading::{Heading, Legend};
use super::pen::{Pen, document};
use super::theme::{INK, MARGIN, PAPER, PENCIL, PlotError, RIGHT, SCALE, Type, WIDTH};
use super::time_axis::TimeAxis;
use crate::app::hours::rug_times::{RugUsage, UsageRow};
use crate::view::words;
use host_core::sessions::session_list::CountedTo;

/// As many rows are drawn, the last ones; more would be a carpet.
const MOST_ROWS: usize = 40;
const BAR: i32 = 20;
const ROW: i32 = 62;
const AXIS: i32 = 56;

/// What a bar is made of, and what stands under it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Mark {
    Frame,
    Motor,
    Assumed,
    Entered,
    Tear,
}

/// The picture as an SVG document.
///
/// # Errors
/// When the backend refuses, which it has no reason to.
pub fn svg(usage: &RugUsage) -> Result<String, PlotError> {
    let older = usage.rows.len().saturating_sub(MOST_ROWS);
    let rows = usage.rows.get(older..).unwrap_or_default();
    let heading = Heading::new(
        "Time for each rug",
        "open bar: at the frame; in it: so long the motor ran",
        &source(usage, rows, older),
    );
    let legend = legend(rows);
    let top = heading.top() + legend.height();
    let foot = top + i32::try_from(rows.len().max(1)).unwrap_or(1) * ROW;
    let height = foot + AXIS + heading.foot();
    document((WIDTH, height), |pen| {
        heading.draw(pen, height)?;
        legend.draw(pen, heading.top(), |mark, from, to| draw_mark(pen, mark, from, to))?;
        let longest =
            rows.iter().map(|row| row.all_run_time_ms.max(row.frame_time_ms.unwrap_or(0))).max().unwrap_or(0);
        let widest = rows.iter().map(|row| Type::Small.width_of(&motor(row))).max().unwrap_or(0);
        let axis = TimeAxis::of(longest, MARGIN, RIGHT - MARGIN - widest - 12);
        for (index, row) in (0..).zip(rows) {
            draw_row(pen, row, axis, top + index * ROW)?;
        }
        axis.draw_values(pen, foot, "time")
    })
}

fn legend(rows: &[UsageRow]) -> Legend<Mark> {
    let any = |has: fn(&UsageRow) -> bool| rows.iter().any(has);
    let items = [
        (Mark::Frame, "at the frame", any(|row| row.frame_time_ms.is_some())),
        (Mark::Motor, "motor", any(|row| row.run_time_ms > 0)),
        (Mark::Assumed, "motor, rug only assumed", any(|row| row.assumed_run_time_ms > 0)),
        (Mark::Entered, "motor, typed in", any(|row| row.entered_run_time_ms > 0)),
        (Mark::Tear, "a tear, at its minute", any(|row| !row.tears_at_frame_ms.is_empty())),
    ];
    let there = items.into_iter().filter(|(_, _, is_there)| *is_there);
    Legend::new(there.map(|(mark, words, _)| (mark, words.to_owned())))
}

fn draw_row(pen: &Pen<'_, '_>, row: &UsageRow, axis: TimeAxis, top: i32) -> Result<(), String> {
    let frame = frame(row);
    let room = RIGHT - MARGIN - Type::Small.width_of(&frame) - 12;
    pen.text(&Type::Text.fitted(&name(row), room), (MARGIN, top + 18), Type::Text, INK, HPos::Left)?;
    pen.text(&frame, (RIGHT, top + 18), Type::Small, INK, HPos::Right)?;
    let (upper, lower) = (top + 24, top + 24 + BAR);
    pen.text(&motor(row), (RIGHT, lower - 4), Type::Small, INK, HPos::Right)?;
    axis.draw_steps(pen, upper - 2, lower + 2)?;
    if let Some(frame) = row.frame_time_ms {
        draw_mark(pen, Mark::Frame, (axis.x(0), upper), (axis.x(frame), lower))?;
    }
    let mut before = 0;
    let parts = [
        (Mark::Motor, row.run_time_ms),
        (Mark::Assumed, row.assumed_run_time_ms),
        (Mark::Entered, row.entered_run_time_ms),
    ];
    for (mark, ms) in parts {
        if ms > 0 {
            // However short, it is seen.
            let (from, to) = (axis.x(before), axis.x(before + ms).max(axis.x(before) + 2));
            draw_mark(pen, mark, (from, upper + 3), (to, lower - 3))?;
        }
        before += ms;
    }
    for at in &row.tears_at_frame_ms {
        let x = axis.x(*at);
        pen.line((x, lower), (x, lower + 5), INK)?;
        pen.cross((x, lower + 9), 4, INK)?;
    }
    Ok(())
}

fn draw_mark(pen: &Pen<'_, '_>, mark: Mark, from: (i32, i32), to: (i32, i32)) -> Result<(), String> {
    let edge = ShapeStyle { color: INK.to_rgba(), filled: false, stroke_width: 1 };
    let [_, _, _, night] = SCALE;
    match mark {
        Mark::Frame => {
            pen.rectangle(from, to, PAPER.filled())?;
            pen.rectangle(from, to, edge)
        }
        Mark::Motor => pen.rectangle(from, to, night.filled()),
        Mark::Assumed => {
            pen.hatch(from, to, 5, night)?;
            pen.rectangle(from, to, edge)
        }
        Mark::Entered => {
            for x in ((from.0 + 3)..to.0).step_by(6) {
                for y in ((from.1 + 3)..to.1).step_by(5) {
                    pen.dot((x, y), 1, night.filled())?;
                }
            }
            let corners = [from, (to.0, from.1), to, (from.0, to.1), from];
            pen.dashed(&corners, ShapeStyle { color: PENCIL.to_rgba(), filled: false, stroke_width: 1 })
        }
        Mark::Tear => pen.cross((i32::midpoint(from.0, to.0), i32::midpoint(from.1, to.1)), 5, INK),
    }
}

fn name(row: &UsageRow) -> String {
    match row.counted_to {
        CountedTo::Rug => row.rug.clone().unwrap_or_default(),
        CountedTo::Care => "care".to_owned(),
        CountedTo::Nobody => "no rug yet".to_owned(),
        CountedTo::Undated => "date not known".to_owned(),
    }
}

fn frame(row: &UsageRow) -> String {
    row.frame_time_ms.map_or_else(String::new, |ms| {
        let at_least = if row.frame_time_is_at_least { "at least " } else { "" };
        format!("{at_least}{} at the frame", words::run_time(ms))
    })
}

fn motor(row: &UsageRow) -> String {
    let about = if row.run_time_is_about { "about " } else { "" };
    format!("{about}{} motor", words::run_time(row.all_run_time_ms))
}

/// From what the picture is; nothing was measured where all of it was typed in.
fn source(usage: &RugUsage, rows: &[UsageRow], older: usize) -> String {
    let report = &usage.by_knob;
    let sessions = words::count(report.sessions, "session", "sessions");
    let days = words::days(report.first_day, report.last_day);
    let mut text = if report.bursts == 0 {
        format!("Typed in: {sessions}, {days}.")
    } else {
        format!("Measured: {} in {sessions}, {days}.", words::count(report.bursts, "run", "runs"))
    };
    if older > 0 {
        text.push_str(&format!(" Not drawn: {older} earlier rugs."));
    }
    let without: u64 = rows.iter().map(|row| row.tears_without_time).sum();
    if without > 0 {
        text.push_str(&format!(
            " Not drawn: {} whose minute is not known.",
            words::count(without, "tear", "tears")
        ));
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;
    use host_core::hours::usage::UsageReport;
    use jiff::civil::date;

    const HOUR: u64 = 3_600_000;

    fn row(rug: &str) -> UsageRow {
        UsageRow {
            counted_to: CountedTo::Rug,
            rug: Some(rug.to_owned()),
            frame_time_ms: Some(4 * HOUR),
            frame_time_is_at_least: false,
            run_time_ms: HOUR,
            assumed_run_time_ms: 0,
            entered_run_time_ms: 0,
            all_run_time_ms: HOUR,
            run_time_is_about: false,
            tears_at_frame_ms: Vec::new(),
            tears_without_time: 0,
        }
    }

    /// The words of a picture, as they are read over the ends of its lines.
    fn words_of(picture: &str) -> String {
        let shown = picture.split('>').filter_map(|part| part.split('<').next());
        shown.flat_map(str::split_whitespace).collect::<Vec<_>>().join(" ")
    }

    fn usage(rows: Vec<UsageRow>) -> RugUsage {
        let day = Some(date(2026, 3, 4));
        let by_knob =
            UsageReport { bars: Vec::new(), bursts: 1_234, sessions: 17, first_day: day, last_day: day };
        RugUsage { by_knob, rows }
    }

    #[test]
    fn both_times_stand_at_a_row_and_odd_letters_do_not_break_it() {
        let picture = svg(&usage(vec![row("Fox & <Hen>")])).unwrap();
        for words in ["Fox &amp; &lt;Hen&gt;", "4 h at the frame", "1 h motor", "1,234 runs in 17 sessions"] {
            assert!(picture.contains(words), "{words} is missing");
        }
        for words in ["assumed", "typed in", "a tear"] {
            assert!(!picture.contains(words), "{words} is nowhere and needs no legend");
        }
    }

    #[test]
    fn the_motor_fills_its_share_of_the_time_at_the_frame_and_a_tear_stands_at_its_minute() {
        let torn = UsageRow { tears_at_frame_ms: vec![2 * HOUR], ..row("Fox") };
        let picture = svg(&usage(vec![torn])).unwrap();
        // By hand: "1 h motor" leaves so much for four hours.
        let width = RIGHT - MARGIN - Type::Small.width_of("1 h motor") - 12;
        let open = format!("width=\"{width}\" height=\"{BAR}\"");
        let motor = format!("width=\"{}\" height=\"{}\"", width / 4, BAR - 6);
        // A cross of four to each side, its first arm from the upper left.
        let tear = format!("points=\"{},", MARGIN + width / 2 - 4);
        for drawn in [open, motor, tear] {
            assert!(picture.contains(&drawn), "{drawn} in {picture}");
        }
    }

    #[test]
    fn of_many_rugs_the_last_are_drawn() {
        let rows = (0..60).map(|place| row(&format!("Rug {place}"))).collect();
        let picture = svg(&usage(rows)).unwrap();
        assert!(picture.contains("Rug 59") && picture.contains("Rug 20") && !picture.contains("Rug 19"));
        assert!(words_of(&picture).contains("20 earlier rugs"), "{picture}");
    }

    #[test]
    fn what_is_not_known_is_said() {
        let typed = UsageRow {
            run_time_ms: 0,
            entered_run_time_ms: HOUR,
            run_time_is_about: true,
            frame_time_is_at_least: true,
            tears_without_time: 2,
            ..row("Fox")
        };
        let picture = words_of(&svg(&usage(vec![typed])).unwrap());
        for words in ["about 1 h motor", "at least 4 h at the frame", "motor, typed in", "2 tears whose"] {
            assert!(picture.contains(words), "{words} is missing");
        }
    }
}
