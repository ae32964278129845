//! A year by day: a square for each day, the darker the longer the motor ran; weeks from left to right, Monday on top.

use jiff::civil::Date;
use plotters::style::text_anchor::HPos;
use plotters::style::{Color, RGBColor, ShapeStyle};

use super::pen::{Pen, document};
use super::theme::{GRID, INK, PAPER, PENCIL, PlotError, SCALE, Type};
use crate::view::words;
use host_core::hours::year_days::YearReport;
use host_core::stats::MINUTE_MS;

const SIZE: (i32, i32) = (960, 300);
const LEFT: i32 = 66;
const TOP: i32 = 112;
const CELL: i32 = 13;
const STEP: i32 = 16;
/// Ends of the first three steps of the scale, in minutes; the first row whose longest day fits is used.
const ENDS: [[u64; 3]; 4] = [[5, 10, 20], [15, 30, 60], [30, 60, 120], [60, 120, 240]];

/// The picture as an SVG document.
///
/// # Errors
/// When the backend refuses, which it has no reason to.
pub fn svg(report: &YearReport) -> Result<String, PlotError> {
    document(SIZE, |pen| draw(pen, report))
}

fn draw(pen: &Pen<'_, '_>, report: &YearReport) -> Result<(), String> {
    pen.text(&format!("The machine in {}", report.year), (24, 34), Type::Title, INK, HPos::Left)?;
    let subtitle = "one square a day: how long the motor ran; a session belongs to the day on which it began";
    pen.text(subtitle, (24, 60), Type::Text, PENCIL, HPos::Left)?;
    let ends = ends(report);
    let Some(mut day) = Date::new(report.year, 1, 1).ok() else { return Ok(()) };
    let first = day;
    let mut used = report.days.iter().peekable();
    for (row, name) in [(0, "Mon"), (2, "Wed"), (4, "Fri"), (6, "Sun")] {
        pen.text(name, (LEFT - 8, TOP + row * STEP + CELL - 2), Type::Small, INK, HPos::Right)?;
    }
    loop {
        let ran = used.next_if(|on| on.day == day).map_or(0, |on| on.run_time_ms);
        let (column, row) = cell(first, day);
        let (x, y) = (LEFT + column * STEP, TOP + row * STEP);
        let fill = colour(ran, ends);
        pen.rectangle((x, y), (x + CELL, y + CELL), fill.filled())?;
        let edge = if ran == 0 { GRID } else { fill };
        pen.rectangle((x, y), (x + CELL, y + CELL), ShapeStyle::from(&edge))?;
        if day.day() == 1 {
            let month = day.strftime("%b").to_string();
            let at = if row == 0 { column } else { column + 1 };
            pen.text(&month, (LEFT + at * STEP, TOP - 8), Type::Small, INK, HPos::Left)?;
        }
        match day.tomorrow() {
            Ok(next) if next.year() == report.year => day = next,
            _ => break,
        }
    }
    legend(pen, ends)?;
    pen.text(&source(report), (24, SIZE.1 - 16), Type::Small, PENCIL, HPos::Left)
}

/// The week's column and the weekday's row.
fn cell(first: Date, day: Date) -> (i32, i32) {
    let row = i32::from(day.weekday().to_monday_zero_offset());
    let before = i32::from(first.weekday().to_monday_zero_offset());
    let since = i32::from(day.day_of_year()) - 1;
    ((since + before) / 7, row)
}

fn ends(report: &YearReport) -> [u64; 3] {
    let longest = report.days.iter().map(|on| on.run_time_ms).max().unwrap_or(0);
    let [.., widest] = ENDS;
    let fitting = ENDS.iter().find(|[.., last]| longest <= last * 2 * MINUTE_MS);
    fitting.copied().unwrap_or(widest)
}

fn colour(ran_ms: u64, ends: [u64; 3]) -> RGBColor {
    let [lightest, light, dark, darkest] = SCALE;
    let [first, second, third] = ends.map(|minutes| minutes * MINUTE_MS);
    match ran_ms {
        0 => PAPER,
        ms if ms <= first => lightest,
        ms if ms <= second => light,
        ms if ms <= third => dark,
        _ => darkest,
    }
}

fn legend(pen: &Pen<'_, '_>, ends: [u64; 3]) -> Result<(), String> {
    let said = ends.map(|minutes| words::run_time(minutes * MINUTE_MS));
    let [first, second, third] = &said;
    let parts =
        [format!("up to {first}"), format!("up to {second}"), format!("up to {third}"), "longer".to_owned()];
    let y = TOP + 7 * STEP + 18;
    let mut x = LEFT;
    for (colour, part) in
        [(PAPER, "not at all")].into_iter().chain(SCALE.into_iter().zip(parts.iter().map(String::as_str)))
    {
        pen.rectangle((x, y), (x + CELL, y + CELL), colour.filled())?;
        let edge = if colour == PAPER { GRID } else { colour };
        pen.rectangle((x, y), (x + CELL, y + CELL), ShapeStyle::from(&edge))?;
        pen.text(part, (x + 20, y + CELL - 2), Type::Small, INK, HPos::Left)?;
        x += 20 + Type::Small.width_of(part) + 20;
    }
    Ok(())
}

fn source(report: &YearReport) -> String {
    let entered = report.days.iter().map(|on| on.entered_run_time_ms).sum();
    let mut text = format!(
        "{}: {} on {}, in {}.",
        words::known_by(report.run_time_ms, entered),
        words::run_time(report.run_time_ms),
        words::count_of(&report.days, "day", "days"),
        words::count(report.sessions, "session", "sessions")
    );
    if entered < report.run_time_ms {
        text.push_str(&words::typed_in(entered));
    }
    if report.day_not_known_run_time_ms > 0 {
        text.push_str(&format!(
            " Not drawn: {} of which the day is not known.",
            words::run_time(report.day_not_known_run_time_ms)
        ));
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;
    use host_core::hours::year_days::DayUse;
    use jiff::civil::date;

    #[test]
    fn weeks_run_from_left_to_right_with_monday_on_top() {
        // 1 January 2026 is a Thursday; the first Monday is the fifth; 31 December 2024 is a Tuesday of a leap year that
        // began on a Monday.
        let cells = [(2026, 1, 1), (2026, 1, 4), (2026, 1, 5), (2026, 12, 31)]
            .map(|(year, month, day)| cell(date(year, 1, 1), date(year, month, day)));
        assert_eq!(cells, [(0, 3), (0, 6), (1, 0), (52, 3)]);
        assert_eq!(cell(date(2024, 1, 1), date(2024, 12, 31)), (52, 1));
    }

    #[test]
    fn a_leap_year_has_a_square_for_each_day_and_every_step_of_the_legend() {
        let on = |month, day, minutes| DayUse {
            entered_run_time_ms: 0,
            day: date(2024, month, day),
            run_time_ms: minutes * MINUTE_MS,
            sessions: 1,
        };
        let days = vec![on(2, 29, 10), on(3, 1, 300)];
        let report =
            YearReport { year: 2024, days, run_time_ms: 0, sessions: 2, day_not_known_run_time_ms: 60_000 };
        let picture = svg(&report).unwrap_or_default();
        // Two rectangles a day, two for each of five of the legend, and the paper.
        assert_eq!(picture.matches("<rect").count(), 366 * 2 + 10 + 1);
        for words in ["The machine in 2024", "Feb", "up to 4 h", "of which the day is not known"] {
            assert!(picture.contains(words), "{words} is missing");
        }
    }

    #[test]
    fn the_scale_fits_the_longest_day() {
        let of = |minutes| {
            let days = vec![DayUse {
                day: date(2026, 1, 1),
                run_time_ms: minutes * MINUTE_MS,
                entered_run_time_ms: 0,
                sessions: 1,
            }];
            ends(&YearReport { year: 2026, days, run_time_ms: 0, sessions: 1, day_not_known_run_time_ms: 0 })
        };
        assert_eq!(
            [of(40), of(41), of(120), of(240), of(10_000)],
            [[5, 10, 20], [15, 30, 60], [15, 30, 60], [30, 60, 120], [60, 120, 240]]
        );
    }
}
