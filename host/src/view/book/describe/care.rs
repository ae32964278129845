//! Entries about care, parts and faults, in words.

use super::{Reader, Sentence, tenths};
use crate::view::parts::fate;
use crate::view::words::{capital, clock, count, one_of, run_time, thousands};
use host_core::entries::{
    CareTaskAdded, EntryBody, Lubricant, MoreLimits, OilPointChange, OilPointChanged, TakenOff,
};
use shared_types::RunMillis;

/// The words; none for other entries.
pub fn describe(body: &EntryBody, reader: &Reader<'_>) -> Option<String> {
    let zone = reader.zone;
    match body {
        EntryBody::CareDone(done) => Sentence::new(format!("{} done", capital(&done.task.0)))
            .and_if(done.finding.map(|finding| format!("found: {}", finding.words())))
            .quoting("", done.note.as_ref())
            .done(),
        EntryBody::CareSnoozed(off) => {
            let lasts = [
                off.for_run.map(|run| format!("for {} of running", run_time(run.0))),
                off.until.map(|until| format!("until {}", clock(until, zone))),
            ];
            let lasts: Vec<String> = lasts.into_iter().flatten().collect();
            Sentence::new(format!("{} put off {}", capital(&off.task.0), one_of(&lasts)).trim_end())
                .quoting("because: ", Some(&off.reason))
                .done()
        }
        EntryBody::CareSkipped(left) => {
            Sentence::new(format!("{} left out this time", capital(&left.task.0)))
                .quoting("because: ", left.reason.as_ref())
                .done()
        }
        EntryBody::CareLimitSet(set) => Sentence::new(format!(
            "Limits of {} changed: {}",
            set.task.0,
            limits(set.every_run, set.every_days, &set.more)
        ))
        .done(),
        EntryBody::CareTaskAdded(task) => added(task),
        EntryBody::CareTaskSwitched(task) => Sentence::new(format!(
            "{} switched {}",
            capital(&task.task.0),
            if task.on { "on" } else { "off" }
        ))
        .quoting("because: ", task.reason.as_ref())
        .done(),
        EntryBody::OilPointChanged(point) => Some(oil_point(point)),
        EntryBody::PileHeightSet(set) => Some(format!("Pile height set to {} mm", tenths(set.tenths_mm))),
        EntryBody::DuePublished(due) => {
            let day = |day: jiff::civil::Date| day.strftime("%a %-d %b %Y").to_string();
            if due.cancelled {
                let task = capital(&due.task.0);
                return Some(format!("{task} on {} holds no more: taken out", day(due.due_on)));
            }
            Sentence::new(format!("{} on {}", capital(&due.task.0), day(due.due_on)))
                .and_if(due.earliest.map(|earliest| format!("not before {}", day(earliest))))
                .and_if(due.latest.map(|latest| format!("not after {}", day(latest))))
                .done()
        }
        EntryBody::PartFitted(fitted) => {
            Sentence::new(format!("{}{} fitted", capital(&fitted.part.0), mark(fitted.serial.as_deref())))
                .quoting("", fitted.note.as_ref())
                .done()
        }
        EntryBody::PartTakenOff(off) => Sentence::new(format!(
            "{}{} {}",
            capital(&off.part.0),
            mark(off.serial.as_deref()),
            match off.why {
                TakenOff::StillGood => fate(Some(off.why)).to_owned(),
                why => format!("taken off: {}", fate(Some(why))),
            }
        ))
        .quoting("", off.note.as_ref())
        .done(),
        EntryBody::MachineFault(fault) => Sentence::new(format!("Failed: \u{201C}{}\u{201D}", fault.what))
            .quoting("mended: ", fault.mended.as_ref())
            .done(),
        _ => None,
    }
}

/// The maker's mark on a part, after its name.
fn mark(serial: Option<&str>) -> String {
    serial.map_or_else(String::new, |serial| format!(" {serial}"))
}

fn added(task: &CareTaskAdded) -> Option<String> {
    Sentence::new(format!("Task {} added: \u{201C}{}\u{201D}", task.task.0, task.what))
        .quoting("mind: ", task.caution.as_ref())
        .quoting("with: ", task.lubricant.as_ref())
        .and(limits(task.every_run, task.every_days, &task.more))
        .done()
}

fn oil_point(point: &OilPointChanged) -> String {
    let gets = |lubricant: &Lubricant| lubricant.words().to_owned();
    let name = &point.point;
    match &point.change {
        OilPointChange::Added(lubricant) => {
            format!("Point \u{201C}{name}\u{201D} added; it gets {}", gets(lubricant))
        }
        OilPointChange::Renamed(new) => {
            format!("Point \u{201C}{name}\u{201D} is called \u{201C}{new}\u{201D} now")
        }
        OilPointChange::Gets(lubricant) => {
            format!("Point \u{201C}{name}\u{201D} gets {} now", gets(lubricant))
        }
        OilPointChange::Removed => format!("Point \u{201C}{name}\u{201D} taken away: this machine has none"),
    }
}

/// What was said of the limits; zero switches one off.
fn limits(every_run: Option<RunMillis>, every_days: Option<u32>, more: &MoreLimits) -> String {
    let every = |number: u64, words: String, what: &str| {
        if number == 0 { format!("no limit by {what}") } else { format!("every {words}") }
    };
    let switched =
        |on: bool, what: &str| if on { format!("after {what}") } else { format!("not after {what}") };
    let days = |days: u32| count(days.into(), "day", "days");
    let said = [
        every_run.map(|run| every(run.0, format!("{} of running", run_time(run.0)), "running")),
        every_days.map(|number| every(number.into(), days(number), "days")),
        more.every_strokes
            .map(|strokes| every(strokes, format!("{} strokes", thousands(strokes)), "strokes")),
        more.every_sessions
            .map(|number| every(number.into(), count(number.into(), "session", "sessions"), "sessions")),
        more.idle_days
            .map(|number| every(number.into(), format!("{} standing still", days(number)), "standing still")),
        more.after_tear.map(|on| switched(on, "every tear")),
        more.after_pile_height.map(|on| switched(on, "every change of the pile height")),
    ];
    let said: Vec<String> = said.into_iter().flatten().collect();
    if said.is_empty() { "no limit named".to_owned() } else { said.join(", ") }
}
