//! Dry runs against the freshly oiled value, and sessions against the knob curve, one under the other.

use jiff::Timestamp;
use jiff::tz::TimeZone;
use plotters::style::text_anchor::HPos;
use plotters::style::{Color, RGBColor, ShapeStyle};

use super::heading::{Heading, Legend};
use super::pen::{Pen, document, pixels};
use super::theme::{GRID, INK, MARGIN, PAPER, PENCIL, PlotError, RIGHT, SCALE, Type, WIDTH};
use crate::view::words;
use host_core::records::when::When;
use host_core::slowing::SlowingReport;
use host_core::stats::{DAY_MS, number};

const LEFT: i32 = 96;
const UP: i32 = 180;
/// Under a chart: what is compared, and the dates.
const BELOW: i32 = 64;
const DAY: i64 = DAY_MS.cast_signed();

/// The picture as an SVG document. `zone` is the maker's.
///
/// # Errors
/// When the backend refuses, which it has no reason to.
pub fn svg(report: &SlowingReport, zone: &TimeZone) -> Result<String, PlotError> {
    let source = format!(
        "{} and {}. Sessions differ by cloth and yarn too; a new rug's first session only shows where it stands.",
        words::count_of(&report.dry.runs, "dry run", "dry runs"),
        words::count_of(&report.sessions.lines, "session", "sessions")
    );
    let heading = Heading::new(
        &format!("Is it slowing down? {}", report.machine_name),
        "stroke rate at the same place of the knob, against the machine's own past",
        &source,
    );
    let marks = [
        (Mark::Well, "how it is when well"),
        (Mark::Compared, "compared"),
        (Mark::Slow, "slow"),
        (Mark::Limit, "below it is slow"),
        (Mark::Average, "moving average"),
    ];
    let legend = Legend::new(marks.map(|(mark, words)| (mark, words.to_owned())));
    let mut y = heading.top() + legend.height();
    let mut panels = [dry_panel(report), session_panel(report)];
    for panel in &mut panels {
        panel.title_at = y + 14;
        let title = lines_of(&panel.title);
        panel.top = y + title * Type::Small.line() + 10;
        panel.foot = if panel.has_points() { panel.top + UP } else { panel.top };
        y = panel.foot + if panel.has_points() { BELOW } else { 16 };
    }
    let height = y + heading.foot();
    document((WIDTH, height), |pen| {
        heading.draw(pen, height)?;
        legend.draw(pen, heading.top(), |mark, from, to| {
            draw_mark(pen, mark, (i32::midpoint(from.0, to.0), i32::midpoint(from.1, to.1)))
        })?;
        panels.iter().try_for_each(|panel| draw_panel(pen, panel, zone))
    })
}

fn lines_of(title: &str) -> i32 {
    i32::try_from(Type::Small.wrapped(title, RIGHT - MARGIN).len()).unwrap_or(1)
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Mark {
    Well,
    Compared,
    Slow,
    Limit,
    Average,
}

fn draw_mark(pen: &Pen<'_, '_>, mark: Mark, at: (i32, i32)) -> Result<(), String> {
    let [_, amber, plum, night] = SCALE;
    match mark {
        Mark::Well => {
            pen.dot(at, 4, PAPER.filled())?;
            pen.dot(at, 4, ShapeStyle::from(&INK))
        }
        Mark::Compared => {
            pen.dot(at, 4, amber.filled())?;
            pen.dot(at, 4, ShapeStyle::from(&INK))
        }
        Mark::Slow => {
            let corners = [(-7, -5), (7, -5), (0, 7)];
            pen.area(corners.map(|(x, y)| (at.0 + x, at.1 + y)).to_vec(), plum.filled())
        }
        Mark::Limit => stroke(pen, vec![(at.0 - 5, at.1), (at.0 + 5, at.1)], plum, 2),
        Mark::Average => stroke(pen, vec![(at.0 - 11, at.1), (at.0 + 11, at.1)], night, 3),
    }
}

/// One point of a chart: a share, 1 being as before; whether it counts; whether it is slow.
#[derive(Clone, Copy)]
struct Point {
    share: f64,
    counts: bool,
    slow: bool,
}

/// One of the two charts.
struct Panel {
    title: String,
    nothing: &'static str,
    title_at: i32,
    top: i32,
    foot: i32,
    /// When each was, in milliseconds UTC; one of which that is not known stands with the one before it.
    at: Vec<i64>,
    points: Vec<Option<Point>>,
    /// From this point on the line is drawn and compared.
    judged_from: usize,
    line: Vec<f64>,
    limits: Vec<Option<f64>>,
    span: f64,
}

fn moments(of: impl Iterator<Item = When>) -> Vec<i64> {
    let mut known: Vec<Option<i64>> =
        of.map(|when| when.earliest().or(when.latest()).map(|at| at.0)).collect();
    let mut before = known.iter().flatten().next().copied().unwrap_or(0);
    for at in &mut known {
        before = at.unwrap_or(before).max(before);
        *at = Some(before);
    }
    known.into_iter().flatten().collect()
}

fn dry_panel(report: &SlowingReport) -> Panel {
    let fresh = report.dry.fresh_strokes_per_second;
    let runs: Vec<_> = report.dry.runs.iter().filter(|run| run.at_usual_place).collect();
    let share = |rate: f64| fresh.map(|fresh| rate / fresh);
    let points: Vec<Option<Point>> = runs
        .iter()
        .map(|run| {
            let share = share(run.strokes_per_second)?;
            Some(Point { share, counts: run.rate_share.is_some(), slow: run.is_slow })
        })
        .collect();
    let judged_from = runs.iter().position(|run| run.rate_share.is_some()).unwrap_or(runs.len());
    let place = report
        .dry
        .place_per_mille
        .map_or_else(String::new, |place| format!(", knob at about {:.0} %", place / 10.0));
    Panel {
        title: format!("Dry runs after oiling{place}"),
        nothing: "no dry run can be compared yet",
        title_at: 0,
        top: 0,
        foot: 0,
        at: moments(runs.iter().map(|run| run.when)),
        span: span(&points),
        points,
        judged_from,
        line: Vec::new(),
        limits: runs.iter().map(|run| run.limit_share).collect(),
    }
}

fn session_panel(report: &SlowingReport) -> Panel {
    let state = &report.sessions;
    let chart = state.chart.as_ref();
    let baseline = chart.map_or(0, |chart| usize::try_from(chart.baseline_sessions).unwrap_or(usize::MAX));
    let points: Vec<Option<Point>> = (0..)
        .zip(&state.lines)
        .map(|(place, line)| {
            Some(Point { share: line.rate_share?, counts: place >= baseline, slow: line.is_alarm })
        })
        .collect();
    Panel {
        title: "Sessions, each compared on its own rug".to_owned(),
        nothing: "not enough sessions yet",
        title_at: 0,
        top: 0,
        foot: 0,
        at: moments(state.lines.iter().map(|line| line.starts)),
        span: span(&points),
        limits: (0..points.len())
            .map(|place| chart.map(|chart| chart.limit_share).filter(|_| place >= baseline))
            .collect(),
        points,
        judged_from: baseline,
        line: state.lines.iter().map(|line| line.average_share).collect(),
    }
}

/// How far from one the picture reaches up and down, in tenths.
fn span(points: &[Option<Point>]) -> f64 {
    let farthest = points.iter().flatten().map(|point| (point.share - 1.0).abs()).fold(0.1, f64::max);
    ((farthest * 10.0).ceil() / 10.0).min(0.9)
}

impl Panel {
    fn has_points(&self) -> bool {
        self.points.iter().any(Option::is_some)
    }

    /// From the first moment to the last, at least a day.
    fn reach(&self) -> (i64, i64) {
        let from = self.at.first().copied().unwrap_or(0);
        (from, self.at.last().copied().unwrap_or(0).max(from.saturating_add(DAY)))
    }

    fn x(&self, place: usize) -> i32 {
        let (from, to) = self.reach();
        let at = self.at.get(place).copied().unwrap_or(to);
        let share = number(at.abs_diff(from)) / number(to.abs_diff(from));
        LEFT + 12 + pixels(f64::from(RIGHT - LEFT - 24) * share)
    }

    fn y(&self, share: f64) -> i32 {
        let half = f64::from(self.foot - self.top) / 2.0;
        let middle = f64::midpoint(f64::from(self.foot), f64::from(self.top));
        pixels(middle - half * ((share - 1.0) / self.span).clamp(-1.0, 1.0))
    }
}

fn draw_panel(pen: &Pen<'_, '_>, panel: &Panel, zone: &TimeZone) -> Result<(), String> {
    let title =
        if panel.has_points() { panel.title.clone() } else { format!("{}: {}", panel.title, panel.nothing) };
    for (place, line) in (0..).zip(Type::Small.wrapped(&title, RIGHT - MARGIN)) {
        let y = panel.title_at + place * Type::Small.line();
        pen.text(&line, (MARGIN, y), Type::Small, INK, HPos::Left)?;
    }
    if !panel.has_points() {
        return Ok(());
    }
    for tenths in [-1.0, -0.5, 0.0, 0.5, 1.0] {
        let share = 1.0 + tenths * panel.span;
        let y = panel.y(share);
        pen.line((LEFT, y), (RIGHT, y), if tenths == 0.0 { PENCIL } else { GRID })?;
        let label =
            if tenths == 0.0 { "as before".to_owned() } else { format!("{:+.0} %", 100.0 * (share - 1.0)) };
        pen.text(&label, (LEFT - 8, y + 5), Type::Small, INK, HPos::Right)?;
    }
    for (place, limit) in panel.limits.iter().enumerate() {
        let Some(limit) = limit else { continue };
        draw_mark(pen, Mark::Limit, (panel.x(place), panel.y(*limit)))?;
    }
    for (place, point) in panel.points.iter().enumerate() {
        let Some(point) = point else { continue };
        let mark = match (point.slow, point.counts) {
            (true, _) => Mark::Slow,
            (false, true) => Mark::Compared,
            (false, false) => Mark::Well,
        };
        draw_mark(pen, mark, (panel.x(place), panel.y(point.share)))?;
    }
    let judged = panel.line.iter().enumerate().skip(panel.judged_from);
    let line: Vec<(i32, i32)> = judged.map(|(place, share)| (panel.x(place), panel.y(*share))).collect();
    if line.len() > 1 {
        stroke(pen, line, SCALE[3], 3)?;
    }
    if panel.judged_from > 0 && panel.judged_from < panel.points.len() {
        let x = i32::midpoint(panel.x(panel.judged_from - 1), panel.x(panel.judged_from));
        pen.line((x, panel.top), (x, panel.foot), PENCIL)?;
    }
    dates(pen, panel, zone)
}

/// The first day, the middle and the last under a chart.
fn dates(pen: &Pen<'_, '_>, panel: &Panel, zone: &TimeZone) -> Result<(), String> {
    let (from, to) = panel.reach();
    let pattern = if to.saturating_sub(from) > 300 * DAY { "%-d %b %Y" } else { "%-d %b" };
    let right = RIGHT - 12;
    let ticks = [
        (from, LEFT + 12, HPos::Left),
        (i64::midpoint(from, to), i32::midpoint(LEFT + 12, right), HPos::Center),
        (to, right, HPos::Right),
    ];
    pen.line((LEFT, panel.foot), (RIGHT, panel.foot), INK)?;
    for (at, x, across) in ticks {
        let Ok(moment) = Timestamp::from_millisecond(at) else { continue };
        let day = moment.to_zoned_datetime(zone.clone()).strftime(pattern).to_string();
        pen.line((x, panel.foot), (x, panel.foot + 5), INK)?;
        pen.text(&day, (x, panel.foot + 22), Type::Small, INK, across)?;
    }
    Ok(())
}

fn stroke(pen: &Pen<'_, '_>, points: Vec<(i32, i32)>, colour: RGBColor, width: u32) -> Result<(), String> {
    let style = ShapeStyle { color: colour.to_rgba(), filled: false, stroke_width: width };
    pen.path(points, style)
}

#[cfg(test)]
mod tests {
    use super::*;
    use shared_types::UtcMillis;

    #[test]
    fn what_is_not_dated_stands_with_the_one_before_it() {
        let dated = |at| When::Dated(UtcMillis(at));
        let at = [When::Undated, dated(50), When::Undated, dated(90)];
        assert_eq!(moments(at.into_iter()), [50, 50, 50, 90]);
        assert_eq!(moments([When::Undated].into_iter()), [0]);
    }
}
