//! A year in twelve lines, one a month: each day a bar hanging from the line like a yarn's end, as long as the motor ran.

use jiff::civil::Date;
use plotters::style::text_anchor::HPos;
use plotters::style::{Color, ShapeStyle};

use super::heading::{Heading, Legend};
use super::pen::{Pen, document, pixels};
use super::theme::{INK, MARGIN, PENCIL, PlotError, RIGHT, SCALE, Type, UNKNOWN, WIDTH};
use crate::app::hours::year_marks::YearPicture;
use crate::view::words;
use host_core::hours::year_days::DayUse;
use host_core::stats::number;

const DAY: i32 = 13;
const LEFT: i32 = RIGHT - 31 * DAY;
/// The longest day hangs so far down, in pixels.
const LONGEST: i32 = 34;
const LANE: i32 = 21;
const MARKS: i32 = 14;
const BETWEEN: i32 = 12;
/// At most so many rugs at once are named.
const MOST_LANES: usize = 4;
const DAYS_OF_MONTH: i32 = 20;

/// A rug in one month: its thread, and its name where it began or the year does.
#[derive(Clone, Debug, PartialEq, Eq)]
struct Thread {
    from: i32,
    to: i32,
    begins: bool,
    ends: bool,
    name: Option<(i32, String)>,
    lane: usize,
}

/// One month as it is laid out.
struct Month {
    first: Date,
    threads: Vec<Thread>,
    lanes: i32,
    has_marks: bool,
}

#[derive(Clone, Copy, Debug)]
enum Mark {
    Ran,
    Entered,
    Oiled,
    Torn,
    NotKnown,
}

/// The picture as an SVG document.
///
/// # Errors
/// When the backend refuses, which it has no reason to.
pub fn svg(picture: &YearPicture) -> Result<String, PlotError> {
    let firsts = (1..=12).filter_map(|month| Date::new(picture.report.year, month, 1).ok());
    let mut not_named = 0;
    let months: Vec<Month> = firsts
        .map(|first| {
            let (threads, left_out) = threads(picture, first);
            not_named += left_out;
            let on = |days: &[Date]| days.iter().any(|day| day.month() == first.month());
            Month {
                first,
                lanes: threads.iter().map(|thread| thread.lane + 1).max().map_or(0, lanes_as_pixels),
                threads,
                has_marks: on(&picture.oiled) || on(&picture.torn),
            }
        })
        .collect();
    let heading = Heading::new(
        &format!("The machine in {}", picture.report.year),
        "a line a month, a bar a day: as long as the motor ran; above the line the rugs, from first day to last",
        &source(picture, not_named),
    );
    let legend = legend(picture);
    let top = heading.top() + legend.height() + DAYS_OF_MONTH;
    let height = top + months.iter().map(Month::height).sum::<i32>() + heading.foot();
    document((WIDTH, height), |pen| {
        heading.draw(pen, height)?;
        legend.draw(pen, heading.top(), |mark, from, to| draw_legend(pen, mark, from, to))?;
        for day in [1, 8, 15, 22, 29] {
            pen.text(&day.to_string(), (middle(day), top - 4), Type::Small, PENCIL, HPos::Center)?;
        }
        let mut y = top;
        for month in &months {
            draw_month(pen, picture, month, y)?;
            y += month.height();
        }
        Ok(())
    })
}

impl Month {
    fn height(&self) -> i32 {
        self.lanes + LONGEST + if self.has_marks { MARKS } else { 0 } + BETWEEN
    }
}

fn lanes_as_pixels(lanes: usize) -> i32 {
    i32::try_from(lanes).unwrap_or(0) * LANE + 4
}

const fn left_of(day: i32) -> i32 {
    LEFT + (day - 1) * DAY
}

const fn middle(day: i32) -> i32 {
    left_of(day) + DAY / 2
}

/// The rugs of a month in lanes in which neither threads nor names meet, and how many found none.
fn threads(picture: &YearPicture, first: Date) -> (Vec<Thread>, usize) {
    let last = first.last_of_month();
    let mut free_from = [LEFT; MOST_LANES];
    let mut left_out = 0;
    let mut threads = Vec::new();
    for rug in picture.rugs.iter().filter(|rug| rug.days.first <= last && rug.days.last >= first) {
        let begins = rug.days.first >= first;
        let from = left_of(i32::from(rug.days.first.max(first).day())) + 1;
        let to = left_of(i32::from(rug.days.last.min(last).day())) + DAY - 1;
        let is_named = begins || first.month() == 1;
        let name = is_named.then(|| {
            let name = Type::Small.fitted(&rug.rug, RIGHT - LEFT);
            (from.min(RIGHT - Type::Small.width_of(&name)), name)
        });
        let starts = name.as_ref().map_or(from, |(at, _)| (*at).min(from));
        let ends = name.as_ref().map_or(to, |(at, name)| to.max(at + Type::Small.width_of(name)));
        let Some((lane, free)) = (0..).zip(&mut free_from).find(|(_, free)| **free <= starts) else {
            left_out += usize::from(is_named);
            continue;
        };
        *free = ends + 10;
        threads.push(Thread { from, to, begins, ends: rug.days.last <= last, name, lane });
    }
    (threads, left_out)
}

fn draw_month(pen: &Pen<'_, '_>, picture: &YearPicture, month: &Month, top: i32) -> Result<(), String> {
    for thread in &month.threads {
        let lane = i32::try_from(thread.lane).unwrap_or(0);
        // Lanes fill from the line upwards.
        let y = top + month.lanes - lane * LANE - 6;
        draw_thread(pen, thread, y)?;
    }
    let line = top + month.lanes;
    let name = month.first.strftime("%b").to_string();
    pen.text(&name, (MARGIN, line + 6), Type::Small, INK, HPos::Left)?;
    let is_here = |day: Date| day.month() == month.first.month();
    for days in &picture.not_known {
        let from = days.first.max(month.first);
        let to = days.last.min(month.first.last_of_month());
        if from <= to {
            let corner = (left_of(i32::from(to.day())) + DAY, line + LONGEST);
            pen.hatch((left_of(i32::from(from.day())), line), corner, 6, UNKNOWN)?;
        }
    }
    if let Some(last) = picture.last_day.filter(|last| *last >= month.first) {
        let last = i32::from(last.min(month.first.last_of_month()).day());
        let style = ShapeStyle { color: INK.to_rgba(), filled: false, stroke_width: 2 };
        pen.path(vec![(LEFT, line), (left_of(last) + DAY, line)], style)?;
    }
    for on in picture.report.days.iter().filter(|on| is_here(on.day)) {
        draw_day(pen, on, picture.longest_run_time_ms, line)?;
    }
    let marks = line + LONGEST + MARKS / 2;
    // Two marks of one day stand side by side.
    let aside = |others: &[Date], day: &Date| if others.contains(day) { 4 } else { 0 };
    for day in picture.oiled.iter().filter(|day| is_here(**day)) {
        drop_at(pen, (middle(i32::from(day.day())) - aside(&picture.torn, day), marks))?;
    }
    for day in picture.torn.iter().filter(|day| is_here(**day)) {
        pen.cross((middle(i32::from(day.day())) + aside(&picture.oiled, day), marks), 4, INK)?;
    }
    Ok(())
}

fn draw_thread(pen: &Pen<'_, '_>, thread: &Thread, y: i32) -> Result<(), String> {
    let [_, _, plum, _] = SCALE;
    pen.line((thread.from, y), (thread.to, y), plum)?;
    for x in [(thread.begins, thread.from), (thread.ends, thread.to)].iter().filter(|(is, _)| *is) {
        pen.line((x.1, y - 3), (x.1, y + 3), plum)?;
    }
    match &thread.name {
        Some((at, name)) => pen.text(name, (*at, y - 3), Type::Small, INK, HPos::Left),
        None => Ok(()),
    }
}

/// What was counted is filled, what was typed in hangs on below it as an outline.
fn draw_day(pen: &Pen<'_, '_>, on: &DayUse, longest_ms: u64, line: i32) -> Result<(), String> {
    let down = |ms: u64| line + pixels(f64::from(LONGEST) * number(ms) / number(longest_ms.max(1)));
    let (from, to) = (left_of(i32::from(on.day.day())) + 3, left_of(i32::from(on.day.day())) + DAY - 3);
    let foot = down(on.run_time_ms).max(line + 2);
    let counted = down(on.run_time_ms.saturating_sub(on.entered_run_time_ms));
    let [_, _, _, night] = SCALE;
    if counted > line || on.entered_run_time_ms == 0 {
        let counted = if on.entered_run_time_ms == 0 { foot } else { counted };
        pen.rectangle((from, line), (to, counted), night.filled())?;
    }
    if on.entered_run_time_ms > 0 {
        pen.blank((from, counted), (to, foot))?;
        pen.rectangle((from, counted), (to, foot), ShapeStyle::from(&night))?;
    }
    Ok(())
}

fn drop_at(pen: &Pen<'_, '_>, at: (i32, i32)) -> Result<(), String> {
    let [_, amber, ..] = SCALE;
    let corners = [(0, -6), (3, -1), (4, 2), (2, 5), (-2, 5), (-4, 2), (-3, -1), (0, -6)];
    let points = corners.map(|(across, down)| (at.0 + across, at.1 + down)).to_vec();
    pen.area(points.clone(), amber.filled())?;
    pen.path(points, ShapeStyle::from(&INK))
}

fn legend(picture: &YearPicture) -> Legend<Mark> {
    let longest = words::run_time(picture.longest_run_time_ms);
    let days = &picture.report.days;
    let items = [
        (Mark::Ran, format!("{longest}, the longest day"), true),
        (Mark::Entered, "typed in".to_owned(), days.iter().any(|on| on.entered_run_time_ms > 0)),
        (Mark::Oiled, "oiled".to_owned(), !picture.oiled.is_empty()),
        (Mark::Torn, "tear".to_owned(), !picture.torn.is_empty()),
        (Mark::NotKnown, "nothing known".to_owned(), !picture.not_known.is_empty()),
    ];
    Legend::new(items.into_iter().filter(|(_, _, is_there)| *is_there).map(|(mark, words, _)| (mark, words)))
}

fn draw_legend(pen: &Pen<'_, '_>, mark: Mark, from: (i32, i32), to: (i32, i32)) -> Result<(), String> {
    let middle = (i32::midpoint(from.0, to.0), i32::midpoint(from.1, to.1));
    let [_, _, _, night] = SCALE;
    let bar = ((middle.0 - 4, from.1), (middle.0 + 4, to.1));
    match mark {
        Mark::Ran => pen.rectangle(bar.0, bar.1, night.filled()),
        Mark::Entered => pen.rectangle(bar.0, bar.1, ShapeStyle::from(&night)),
        Mark::Oiled => drop_at(pen, middle),
        Mark::Torn => pen.cross(middle, 5, INK),
        Mark::NotKnown => pen.hatch(from, to, 6, UNKNOWN),
    }
}

fn source(picture: &YearPicture, not_named: usize) -> String {
    let report = &picture.report;
    let entered = report.days.iter().map(|on| on.entered_run_time_ms).sum();
    let mut text = format!(
        "{}: {} on {}, in {}. A session belongs to the day on which it began.",
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
    if not_named > 0 {
        let not_named = u64::try_from(not_named).unwrap_or(u64::MAX);
        text.push_str(&format!(" Not named: {}.", words::count(not_named, "rug", "rugs")));
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::app::hours::year_marks::{Days, RugDays};
    use host_core::hours::year_days::YearReport;
    use host_core::stats::MINUTE_MS;
    use jiff::civil::date;

    fn on(month: i8, day: i8, minutes: u64) -> DayUse {
        DayUse {
            entered_run_time_ms: 0,
            day: date(2024, month, day),
            run_time_ms: minutes * MINUTE_MS,
            sessions: 1,
        }
    }

    fn picture(days: Vec<DayUse>) -> YearPicture {
        let longest_run_time_ms = days.iter().map(|on| on.run_time_ms).max().unwrap_or(0);
        let report =
            YearReport { year: 2024, days, run_time_ms: 0, sessions: 2, day_not_known_run_time_ms: 60_000 };
        YearPicture {
            report,
            longest_run_time_ms,
            rugs: Vec::new(),
            oiled: Vec::new(),
            torn: Vec::new(),
            not_known: Vec::new(),
            last_day: Some(date(2024, 12, 31)),
        }
    }

    fn rug(name: &str, first: Date, last: Date) -> RugDays {
        RugDays { rug: name.to_owned(), days: Days { first, last } }
    }

    #[test]
    fn a_day_hangs_from_its_months_line_as_far_as_it_ran() {
        let drawn = svg(&picture(vec![on(2, 29, 60), on(3, 1, 120)])).unwrap();
        // The 29th begins 28 days from the left; half of the longest day hangs half as far.
        for (day, long) in [(29, LONGEST / 2), (1, LONGEST)] {
            let bar = format!("<rect x=\"{}\"", left_of(day) + 3);
            assert!(drawn.contains(&bar) && drawn.contains(&format!("height=\"{long}\"")), "{day}: {drawn}");
        }
        for words in ["The machine in 2024", "2 h, the longest day", "of which the day is not known"] {
            assert!(drawn.contains(words), "{words} is missing");
        }
        assert!(!drawn.contains("nothing known"), "what is nowhere needs no legend");
    }

    #[test]
    fn days_of_which_nothing_is_known_are_hatched_and_days_to_come_have_no_line() {
        let mut year = picture(vec![on(3, 2, 60)]);
        let lines = |year: &YearPicture| svg(year).unwrap().matches("stroke-width=\"2\"").count();
        let whole = lines(&year);
        year.last_day = Some(date(2024, 3, 15));
        assert_eq!(whole - lines(&year), 9, "April to December");
        year.not_known = vec![Days { first: date(2024, 1, 1), last: date(2024, 3, 1) }];
        let drawn = svg(&year).unwrap();
        assert!(drawn.contains("nothing known"));
        assert!(drawn.matches("#96969E").count() > 100, "three months have strokes");
    }

    #[test]
    fn a_rug_is_named_at_its_first_day_and_names_that_would_meet_lie_in_lanes() {
        let mut year = picture(vec![on(3, 2, 60)]);
        year.rugs = vec![
            rug("Harbour at night", date(2024, 3, 2), date(2024, 4, 10)),
            rug("Fox", date(2024, 3, 5), date(2024, 3, 6)),
            rug("At the very end", date(2024, 3, 31), date(2024, 3, 31)),
        ];
        let (march, left_out) = threads(&year, date(2024, 3, 1));
        let lanes: Vec<usize> = march.iter().map(|thread| thread.lane).collect();
        assert_eq!((lanes, left_out), (vec![0, 1, 1], 0));
        assert!(march[0].begins && !march[0].ends);
        assert!(march.iter().filter_map(|thread| thread.name.as_ref()).all(|(at, _)| *at >= LEFT));
        let (april, _) = threads(&year, date(2024, 4, 1));
        assert_eq!((april.len(), &april[0].name, april[0].ends), (1, &None, true));
        year.rugs =
            (0..9).map(|place| rug(&format!("Rug {place}"), date(2024, 3, 2), date(2024, 3, 3))).collect();
        let (march, left_out) = threads(&year, date(2024, 3, 1));
        assert_eq!((march.len(), left_out), (4, 5));
        assert!(svg(&year).unwrap().contains("Not named: 5 rugs"));
    }

    #[test]
    fn oiling_and_tears_have_their_marks() {
        let mut year = picture(vec![on(3, 2, 60)]);
        year.oiled = vec![date(2024, 3, 2)];
        year.torn = vec![date(2024, 3, 3)];
        let drawn = svg(&year).unwrap();
        assert!(drawn.contains("oiled") && drawn.contains("tear"), "{drawn}");
    }
}
