//! Due dates as a calendar file after RFC 5545: days without a time, one component for each task, a reminder in each.
//!
//! Without METHOD a component's DTSTAMP is the moment of its last revision (3.8.7.2), so a file whose dates have not changed is
//! the same to the byte.

use jiff::Timestamp;
use jiff::civil::Date;
use shared_types::{MachineTag, UtcMillis};

use super::forecast;
use crate::app::care::calendar::{CalendarItem, CalendarReport, Cancelled, WithoutDate};
use crate::view::words::{self, days, push};
use host_core::care::forecast::NoDate;
use host_core::entries::Drive;

/// Octets of a line, its break not counted (RFC 5545, 3.1).
const LINE_OCTETS: usize = 75;
/// The reminder: nine in the morning of the day itself, on the clock of whoever reads the calendar.
const REMINDER: &str = "PT9H";

/// As what a calendar shows a task.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Shown {
    /// An event that takes the whole day and leaves it free; every calendar shows these.
    Event,
    /// A task to be ticked off; not every calendar shows these.
    ToDo,
}

impl Shown {
    const fn name(self) -> &'static str {
        match self {
            Self::Event => "VEVENT",
            Self::ToDo => "VTODO",
        }
    }
}

/// The file; none when there is no task with a date, because a calendar without a component is none (3.6).
#[must_use]
pub fn file(report: &CalendarReport, shown: Shown) -> Option<String> {
    if report.items.is_empty() && report.cancelled.is_empty() {
        return None;
    }
    let mut lines = Lines::default();
    lines.add("BEGIN:VCALENDAR");
    lines.add("VERSION:2.0");
    lines.add("PRODID:-//Needlehours//Care of tufting machines//EN");
    lines.add("CALSCALE:GREGORIAN");
    for item in &report.items {
        component(&mut lines, item, shown);
    }
    for item in &report.cancelled {
        cancelled(&mut lines, item, shown);
    }
    lines.add("END:VCALENDAR");
    Some(lines.0)
}

/// The head of a component: which one it is, and which revision of it.
fn begin(lines: &mut Lines, name: &str, uid: &str, revised_at: UtcMillis, sequence: u32) {
    lines.add(&format!("BEGIN:{name}"));
    lines.add(&format!("UID:{}", text(uid)));
    lines.add(&format!("DTSTAMP:{}", moment(revised_at)));
    lines.add(&format!("SEQUENCE:{sequence}"));
}

/// A day that was told and holds no more (RFC 5545, 3.8.1.11): calendars take it out, or strike it through.
fn cancelled(lines: &mut Lines, item: &Cancelled, shown: Shown) {
    let name = shown.name();
    let summary = text(&title(&item.task, item.drive, &item.machine_name));
    begin(lines, name, &item.uid, item.revised_at_utc_ms, item.sequence);
    lines.add("STATUS:CANCELLED");
    day(lines, item.due_on, shown);
    lines.add(&format!("SUMMARY:{summary}"));
    lines.add(&format!("END:{name}"));
}

fn day(lines: &mut Lines, day: Date, shown: Shown) {
    let day = day.strftime("%Y%m%d");
    match shown {
        Shown::Event => {
            lines.add(&format!("DTSTART;VALUE=DATE:{day}"));
            lines.add("TRANSP:TRANSPARENT");
        }
        Shown::ToDo => lines.add(&format!("DUE;VALUE=DATE:{day}")),
    }
}

fn component(lines: &mut Lines, item: &CalendarItem, shown: Shown) {
    let name = shown.name();
    let summary = text(&title(&item.task, item.drive, &item.machine_name));
    begin(lines, name, &item.uid, item.revised_at_utc_ms, item.sequence);
    day(lines, item.due_on, shown);
    lines.add(&format!("SUMMARY:{summary}"));
    lines.add(&format!("DESCRIPTION:{}", text(&description(item))));
    lines.add("BEGIN:VALARM");
    lines.add("ACTION:DISPLAY");
    lines.add(&format!("DESCRIPTION:{summary}"));
    let counted_from = match shown {
        Shown::Event => "",
        Shown::ToDo => ";RELATED=END",
    };
    lines.add(&format!("TRIGGER{counted_from}:{REMINDER}"));
    lines.add("END:VALARM");
    lines.add(&format!("END:{name}"));
}

/// What a lock screen shows and nothing else: what is to be done before hands go near the machine stands first.
fn title(task: &str, drive: Drive, machine: &str) -> String {
    // The cloth and the air line are not the machine.
    let needs_standstill = !matches!(task, "re-tension" | "air-water" | "air-filter" | "air-oiler");
    let act = match task {
        "re-tension" => "tap the cloth, tighten it",
        "brush-out" => "brush out the lint",
        "oiling" => "oil",
        "screws" => "try the screws",
        "needle" => "feel the needle's point",
        "needle-change" => "look hard at the needle",
        "scissors" => "try the scissors",
        "scissors-sharpen" => "sharpen the scissors",
        "belt" => "look at the belt",
        "carbon-brushes" => "look at the carbon brushes",
        "gear-grease" => "grease the gears",
        "air-water" => "air off, line empty, then drain the water",
        "air-filter" => "air off, line empty, then look at the air filter",
        "air-oiler" => "air off, line empty, then look at the air's oiler",
        own => own,
    };
    let off = match drive {
        Drive::Electric => "Unplug, then ",
        Drive::Pneumatic => "Air and hose off, then ",
    };
    if needs_standstill {
        format!("{off}{act}: {machine}")
    } else {
        format!("{}: {machine}", words::capital(act))
    }
}

fn description(item: &CalendarItem) -> String {
    let mut told = String::new();
    push(&mut told, format_args!("{}", item.what));
    if let Some(lubricant) = &item.lubricant {
        push(&mut told, format_args!("Use {lubricant}."));
    }
    told.push_str(match item.drive {
        Drive::Electric => "Switch off and unplug first, and wait until everything stands still.\n",
        Drive::Pneumatic => {
            "First shut the air off, take the hose off, let what is in it go, and wait until everything stands still.\n"
        }
    });
    push(&mut told, format_args!("{}", kind_of_day(item)));
    told.trim_end().to_owned()
}

fn kind_of_day(item: &CalendarItem) -> String {
    const FORECAST: &str = "The day is a forecast from your own weeks of running, not an appointment.";
    match (item.earliest, item.latest) {
        _ if item.is_put_off => "You put it off until this day.".to_owned(),
        (Some(earliest), Some(latest)) if earliest == latest => FORECAST.to_owned(),
        (Some(_), Some(_)) => {
            format!("{FORECAST} It will likely be due {}.", days(item.earliest, item.latest))
        }
        (Some(_), None) => format!("{FORECAST} Not likely before {}.", days(item.earliest, None)),
        (None, Some(_)) => {
            "At the latest on this day, by its limit in days; running may make it due sooner.".to_owned()
        }
        (None, None) => "It was due already when this was written.".to_owned(),
    }
}

fn moment(at: UtcMillis) -> String {
    let at = Timestamp::from_millisecond(at.0).unwrap_or(Timestamp::UNIX_EPOCH);
    at.strftime("%Y%m%dT%H%M%SZ").to_string()
}

/// A text as it stands in a content line (3.3.11); control characters, which may not stand there, are left out.
fn text(plain: &str) -> String {
    let mut escaped = String::with_capacity(plain.len());
    for letter in plain.chars() {
        match letter {
            '\\' | ';' | ',' => escaped.extend(['\\', letter]),
            '\n' => escaped.push_str("\\n"),
            '\t' => escaped.push(letter),
            _ if letter.is_control() => {}
            _ => escaped.push(letter),
        }
    }
    escaped
}

/// Content lines, folded.
#[derive(Default)]
struct Lines(String);

impl Lines {
    /// Adds a line. A line that is too long goes on behind a line break and a blank, never within a letter, and never beside
    /// a blank of its own, which some readers take for part of the break.
    fn add(&mut self, line: &str) {
        let mut rest = line;
        let mut room = LINE_OCTETS;
        while rest.len() > room {
            let (head, tail) = rest.split_at(break_before(rest, room));
            self.0.push_str(head);
            self.0.push_str("\r\n ");
            rest = tail;
            room = LINE_OCTETS - 1;
        }
        self.0.push_str(rest);
        self.0.push_str("\r\n");
    }
}

/// The last place, at most `room` octets in, where a line may be broken: between two letters neither of which is a blank, or
/// between any two where there is no such place.
fn break_before(line: &str, room: usize) -> usize {
    let mut before = ' ';
    let mut last_any = 0;
    let mut last_good = 0;
    for (place, letter) in line.char_indices() {
        if place > room {
            break;
        }
        if place > 0 {
            last_any = place;
            if !before.is_whitespace() && !letter.is_whitespace() {
                last_good = place;
            }
        }
        before = letter;
    }
    if last_good > 0 { last_good } else { last_any }
}

/// What was left out, and why, and which dates are rough; empty when nothing was and none are.
#[must_use]
pub fn left_out(report: &CalendarReport) -> String {
    let mut told = String::new();
    for gone in &report.cancelled {
        push(
            &mut told,
            format_args!("Taken out: {} ({}), told for {}.", gone.task, gone.machine_name, on(gone.due_on)),
        );
    }
    // Tasks of a machine that are left out for one reason share a line; a new log would fill a page otherwise.
    let mut lines: Vec<(MachineTag, String, Vec<String>)> = Vec::new();
    for task in &report.without_date {
        let why = format!("({}): {}.", task.machine_name, why(task));
        match lines.iter_mut().find(|(machine, because, _)| *machine == task.machine && *because == why) {
            Some((.., tasks)) => tasks.push(task.task.clone()),
            None => lines.push((task.machine, why, vec![task.task.clone()])),
        }
    }
    for (_, why, tasks) in &lines {
        push(&mut told, format_args!("Left out: {} {why}", words::all_of(tasks)));
    }
    for machine in &report.rough {
        let of = format!(" for {}", machine.machine_name);
        push(&mut told, format_args!("{}", forecast::rough(&of, machine.whole_weeks)));
    }
    told
}

fn why(task: &WithoutDate) -> String {
    match task.because {
        NoDate::TooFewWeeks => format!(
            "a date needs {} whole weeks of your own running; so far there {}",
            task.least_whole_weeks,
            words::so_many_weeks(task.whole_weeks)
        ),
        NoDate::NotNow => "it does not apply now, or is put off without a day".to_owned(),
        NoDate::DueNow => "it is due now".to_owned(),
        NoDate::EndOfDay => "it is done at the end of each day worked".to_owned(),
        NoDate::TooFar => "at this pace it is not due within a year".to_owned(),
    }
}

/// What was written, in words.
#[must_use]
pub fn written(report: &CalendarReport, file: &str) -> String {
    let mut told = String::new();
    let mut items: Vec<&CalendarItem> = report.items.iter().collect();
    items.sort_by_key(|item| item.due_on);
    for item in items {
        let due = if item.is_due { ", due since then" } else { "" };
        push(&mut told, format_args!("{}: {} ({}){due}", on(item.due_on), item.task, item.machine_name));
    }
    push(&mut told, format_args!("Written: {file}"));
    told
}

fn on(day: Date) -> String {
    day.strftime("%a %-d %b %Y").to_string()
}

#[cfg(test)]
#[path = "calendar_tests.rs"]
mod tests;
