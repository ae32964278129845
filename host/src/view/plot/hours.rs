//! A machine's running hours as they grew, and below them a lane for each kind of care with a mark for each time.

use jiff::Timestamp;
use jiff::civil::Date;
use jiff::tz::TimeZone;
use plotters::style::text_anchor::HPos;
use plotters::style::{Color, ShapeStyle};

use super::heading::Heading;
use super::pen::{Pen, document, pixels, round_step};
use super::theme::{GRID, INK, MARGIN, PlotError, RIGHT, SCALE, Type, WIDTH};
use crate::view::words;
use host_core::hours::course::HoursCourse;
use host_core::stats::{self, DAY_MS, number};

/// From the axis across to the top of the axis up.
const UP: i32 = 240;
const LANE: i32 = 24;
/// As many kinds of care have a lane of their own, those given most often; the others share one.
const MOST_LANES: usize = 9;
/// The widest name of a care task, in pixels.
const WIDEST_TASK: i32 = 150;
const A_DAY_MS: i64 = DAY_MS.cast_signed();

/// The picture as an SVG document. `zone` is the maker's.
///
/// # Errors
/// When the backend refuses, which it has no reason to.
pub fn svg(course: &HoursCourse, zone: &TimeZone) -> Result<String, PlotError> {
    let lanes = lanes(course);
    let heading = Heading::new(
        &format!("Running hours: {}", course.machine_name),
        "as they grew from session to session; below, the care that was given",
        &source(course),
    );
    let foot = heading.top() + 24 + UP;
    let height = foot + 44 + LANE * i32::try_from(lanes.len()).unwrap_or(0) + heading.foot();
    document((WIDTH, height), |pen| {
        heading.draw(pen, height)?;
        draw(pen, course, &lanes, foot, zone)
    })
}

/// The kinds of care, most often given first, each with its moments.
fn lanes(course: &HoursCourse) -> Vec<(String, Vec<i64>)> {
    let mut lanes: Vec<(String, Vec<i64>)> = Vec::new();
    for mark in &course.care {
        match lanes.iter_mut().find(|(task, _)| *task == mark.task) {
            Some((_, at)) => at.push(mark.at_utc_ms),
            None => lanes.push((mark.task.clone(), vec![mark.at_utc_ms])),
        }
    }
    lanes.sort_by_key(|(_, at)| std::cmp::Reverse(at.len()));
    if lanes.len() > MOST_LANES {
        let others: Vec<i64> = lanes.split_off(MOST_LANES - 1).into_iter().flat_map(|(_, at)| at).collect();
        lanes.push(("other care".to_owned(), others));
    }
    lanes
}

/// How time and hours become pixels.
#[derive(Clone, Copy, Debug)]
struct Scale {
    left: i32,
    foot: i32,
    from: i64,
    to: i64,
    top_hours: f64,
    step_hours: f64,
}

impl Scale {
    fn of(course: &HoursCourse, left: i32, foot: i32) -> Self {
        let moments = || {
            let sessions = course.points.iter().flat_map(|point| [point.from_utc_ms, point.to_utc_ms]);
            sessions.chain(course.care.iter().map(|mark| mark.at_utc_ms))
        };
        let from = moments().min().unwrap_or(0);
        let to = moments().max().unwrap_or(0).max(from.saturating_add(A_DAY_MS));
        let most = course.points.last().map_or(0.0, |point| stats::hours(point.run_time_ms));
        let step_hours = round_step(most);
        Self { left, foot, from, to, top_hours: step_hours * (most / step_hours).ceil().max(1.0), step_hours }
    }

    fn x(self, at: i64) -> i32 {
        let share = share(at.saturating_sub(self.from), self.to.saturating_sub(self.from));
        self.left + pixels(f64::from(RIGHT - self.left) * share)
    }

    fn y(self, hours: f64) -> i32 {
        self.foot - pixels(f64::from(UP) * hours / self.top_hours)
    }
}

fn share(part: i64, whole: i64) -> f64 {
    number(part.max(0).unsigned_abs()) / number(whole.max(1).unsigned_abs())
}

fn draw(
    pen: &Pen<'_, '_>,
    course: &HoursCourse,
    lanes: &[(String, Vec<i64>)],
    foot: i32,
    zone: &TimeZone,
) -> Result<(), String> {
    let widest =
        lanes.iter().map(|(task, _)| Type::Small.width_of(&Type::Small.fitted(task, WIDEST_TASK))).max();
    let scale = Scale::of(course, (MARGIN + widest.unwrap_or(0) + 10).max(64), foot);
    let mut hours = 0.0;
    while hours <= scale.top_hours + scale.step_hours / 2.0 {
        let y = scale.y(hours);
        pen.line((scale.left, y), (RIGHT, y), GRID)?;
        pen.text(&words::about(hours), (scale.left - 8, y + 5), Type::Small, INK, HPos::Right)?;
        hours += scale.step_hours;
    }
    pen.text("hours", (scale.left - 8, foot - UP - 16), Type::Small, INK, HPos::Right)?;
    let lanes_foot = foot + 44 + LANE * i32::try_from(lanes.len()).unwrap_or(0);
    days(pen, scale, zone, if lanes.is_empty() { foot } else { lanes_foot })?;
    let mut line = vec![(scale.left, scale.y(0.0))];
    let mut before = 0.0;
    for point in &course.points {
        let hours = stats::hours(point.run_time_ms);
        line.push((scale.x(point.from_utc_ms), scale.y(before)));
        line.push((scale.x(point.to_utc_ms), scale.y(hours)));
        before = hours;
    }
    line.push((scale.x(scale.to), scale.y(before)));
    let [_, amber, plum, night] = SCALE;
    pen.path(line, ShapeStyle { color: night.to_rgba(), filled: false, stroke_width: 2 })?;
    pen.line((scale.left, foot), (RIGHT, foot), INK)?;
    for (place, (task, moments)) in (0..).zip(lanes) {
        let y = foot + 44 + place * LANE + LANE / 2;
        pen.text(
            &Type::Small.fitted(task, WIDEST_TASK),
            (scale.left - 8, y + 5),
            Type::Small,
            INK,
            HPos::Right,
        )?;
        pen.line((scale.left, y), (RIGHT, y), GRID)?;
        for at in moments {
            let x = scale.x(*at);
            let colour = if place % 2 == 0 { plum } else { amber };
            pen.rectangle((x - 2, y - 7), (x + 2, y + 7), colour.filled())?;
        }
    }
    Ok(())
}

/// The days under the axis: as many firsts of a month, or Mondays, or days, as fit.
fn days(pen: &Pen<'_, '_>, scale: Scale, zone: &TimeZone, foot: i32) -> Result<(), String> {
    let day_of = |at: i64| {
        let moment = Timestamp::from_millisecond(at).ok()?;
        Some(moment.to_zoned_datetime(zone.clone()).date())
    };
    let (Some(first), Some(last)) = (day_of(scale.from), day_of(scale.to)) else { return Ok(()) };
    let span = scale.to.saturating_sub(scale.from) / A_DAY_MS;
    let is_tick = |day: Date| match span {
        0..=14 => true,
        15..=110 => day.weekday() == jiff::civil::Weekday::Monday,
        111..=700 => day.day() == 1,
        _ => day.day() == 1 && day.month() == 1,
    };
    let pattern = if span <= 700 { "%-d %b" } else { "%Y" };
    let mut day = first;
    let mut free_from = scale.left - 30;
    while day <= last {
        let at = day
            .at(0, 0, 0, 0)
            .to_zoned_datetime(zone.clone())
            .map_or(i64::MIN, |start| start.timestamp().as_millisecond());
        if is_tick(day) && at >= scale.from && at <= scale.to {
            let label = day.strftime(pattern).to_string();
            let (x, half) = (scale.x(at), Type::Small.width_of(&label) / 2);
            pen.line((x, scale.foot - UP), (x, foot), GRID)?;
            if x - half >= free_from && x + half <= WIDTH - 4 {
                pen.text(&label, (x, scale.foot + 22), Type::Small, INK, HPos::Center)?;
                free_from = x + half + 8;
            }
        }
        match day.tomorrow() {
            Ok(next) => day = next,
            Err(_) => break,
        }
    }
    Ok(())
}

fn source(course: &HoursCourse) -> String {
    let run = course.points.last().map_or(0, |point| point.run_time_ms);
    let mut text = format!(
        "{}: {} in {}; {}.",
        words::known_by(run, course.entered_run_time_ms),
        words::run_time(run),
        words::count_of(&course.points, "session", "sessions"),
        words::count_of(&course.care, "care entry", "care entries")
    );
    if course.entered_run_time_ms < run {
        text.push_str(&words::typed_in(course.entered_run_time_ms));
    }
    if course.not_dated_run_time_ms > 0 {
        text.push_str(&format!(
            " Not drawn: {} whose date is not known.",
            words::run_time(course.not_dated_run_time_ms)
        ));
    }
    text
}
