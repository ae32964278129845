//! Dry runs against the freshly oiled value, and sessions against the knob curve, one under the other.

use plotters::style::text_anchor::HPos;
use plotters::style::{Color, RGBColor, ShapeStyle};

use super::pen::{Pen, document, pixels};
use super::theme::{GRID, INK, PENCIL, PlotError, SCALE, Type};
use crate::view::words;
use host_core::slowing::SlowingReport;

const SIZE: (i32, i32) = (960, 640);
const LEFT: i32 = 84;
const RIGHT: i32 = 936;

/// The picture as an SVG document.
///
/// # Errors
/// When the backend refuses, which it has no reason to.
pub fn svg(report: &SlowingReport) -> Result<String, PlotError> {
    document(SIZE, |pen| draw(pen, report))
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
    top: i32,
    foot: i32,
    points: Vec<Option<Point>>,
    /// From this point on the line is drawn and compared.
    judged_from: usize,
    line: Vec<f64>,
    limits: Vec<Option<f64>>,
    span: f64,
}

fn draw(pen: &Pen<'_, '_>, report: &SlowingReport) -> Result<(), String> {
    let title = format!("Is it slowing down? {}", report.machine_name);
    pen.text(&title, (24, 34), Type::Title, INK, HPos::Left)?;
    let subtitle = "stroke rate at the same place of the knob, against the machine's own past; below the thin line is slow";
    pen.text(subtitle, (24, 60), Type::Text, PENCIL, HPos::Left)?;
    let dry = dry_panel(report);
    let place = report
        .dry
        .place_per_mille
        .map_or_else(String::new, |place| format!(", knob at about {:.0} %", place / 10.0));
    pen.text(&format!("Dry runs after oiling{place}"), (LEFT, 92), Type::Text, INK, HPos::Left)?;
    panel(pen, &dry, "no dry run can be compared yet")?;
    let sessions = session_panel(report);
    let words =
        "Sessions, each on its own rug: light dots as they were, dark line the moving average within rugs";
    pen.text(words, (LEFT, 330), Type::Text, INK, HPos::Left)?;
    panel(pen, &sessions, "not enough sessions yet")?;
    let source = format!(
        "{} and {}. Light dots differ by cloth and yarn too; a new rug's first session only shows where it stands.",
        words::count_of(&report.dry.runs, "dry run", "dry runs"),
        words::count_of(&report.sessions.lines, "session", "sessions")
    );
    pen.text(&source, (24, SIZE.1 - 16), Type::Small, PENCIL, HPos::Left)
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
    Panel {
        top: 104,
        foot: 286,
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
        top: 342,
        foot: 564,
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
    fn x(&self, place: usize) -> i32 {
        let many = i32::try_from(self.points.len().max(2)).unwrap_or(i32::MAX);
        let place = i32::try_from(place).unwrap_or(i32::MAX);
        let width = i64::from(RIGHT - LEFT - 24);
        let along = width * i64::from(place) / i64::from(many - 1);
        LEFT + 12 + i32::try_from(along).unwrap_or(0)
    }

    fn y(&self, share: f64) -> i32 {
        let half = f64::from(self.foot - self.top) / 2.0;
        let middle = f64::midpoint(f64::from(self.foot), f64::from(self.top));
        pixels(middle - half * ((share - 1.0) / self.span).clamp(-1.0, 1.0))
    }
}

fn panel(pen: &Pen<'_, '_>, panel: &Panel, nothing: &str) -> Result<(), String> {
    for tenths in [-1.0, -0.5, 0.0, 0.5, 1.0] {
        let share = 1.0 + tenths * panel.span;
        let y = panel.y(share);
        pen.line((LEFT, y), (RIGHT, y), if tenths == 0.0 { PENCIL } else { GRID })?;
        let label =
            if tenths == 0.0 { "as before".to_owned() } else { format!("{:+.0} %", 100.0 * (share - 1.0)) };
        pen.text(&label, (LEFT - 10, y + 4), Type::Small, INK, HPos::Right)?;
    }
    if panel.points.iter().flatten().next().is_none() {
        let middle = ((LEFT + RIGHT) / 2, i32::midpoint(panel.top, panel.foot) - 12);
        return pen.text(nothing, middle, Type::Text, PENCIL, HPos::Center);
    }
    for (place, limit) in panel.limits.iter().enumerate() {
        let Some(limit) = limit else { continue };
        let (x, y) = (panel.x(place), panel.y(*limit));
        stroke(pen, vec![(x - 5, y), (x + 5, y)], SCALE[2], 2)?;
    }
    for (place, point) in panel.points.iter().enumerate() {
        let Some(point) = point else { continue };
        let colour = match (point.slow, point.counts) {
            (true, _) => SCALE[2],
            (false, true) => SCALE[1],
            (false, false) => SCALE[0],
        };
        let radius = if point.slow { 7 } else { 5 };
        pen.dot((panel.x(place), panel.y(point.share)), radius, colour.filled())?;
    }
    let judged = panel.line.iter().enumerate().skip(panel.judged_from);
    let line: Vec<(i32, i32)> = judged.map(|(place, share)| (panel.x(place), panel.y(*share))).collect();
    if line.len() > 1 {
        stroke(pen, line, SCALE[3], 3)?;
    }
    if panel.judged_from > 0 && panel.judged_from < panel.points.len() {
        let x = i32::midpoint(panel.x(panel.judged_from - 1), panel.x(panel.judged_from));
        pen.line((x, panel.top), (x, panel.foot), PENCIL)?;
        pen.text("how it is when well", (x - 6, panel.foot + 18), Type::Small, PENCIL, HPos::Right)?;
        pen.text("compared", (x + 6, panel.foot + 18), Type::Small, PENCIL, HPos::Left)?;
    }
    Ok(())
}

fn stroke(pen: &Pen<'_, '_>, points: Vec<(i32, i32)>, colour: RGBColor, width: u32) -> Result<(), String> {
    let style = ShapeStyle { color: colour.to_rgba(), filled: false, stroke_width: width };
    pen.path(points, style)
}
