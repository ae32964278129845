//! Sessions that the maker typed in, in words.

mod card;

use jiff::tz::TimeZone;

use crate::app::sessions::error::words as doubt_words;
use crate::app::sessions::note::SessionReport;
use crate::app::sessions::table::TableReport;
use crate::app::sessions::timer::TimerReport;
use crate::view::words::{self, count, counted_to, run_time};
use host_core::entries::{MotorShareSet, MotorShareSource};
use host_core::sessions::session_list::SessionLine;
use host_core::sessions::typed_doubts::TypedDoubt;
use host_core::stats::MINUTE_MS;

pub use card::week_card;

/// What was noted: "1 h 40 min at the frame on Fox, Thu 26 Nov 2026 18:30; the motor ran about 45 min of it."
#[must_use]
pub fn noted(report: &SessionReport, zone: &TimeZone) -> String {
    let line = &report.session;
    let whose: Vec<String> = line.parts.iter().map(counted_to).collect();
    let who = report.who.as_ref().map_or_else(String::new, |who| format!(", by {who}"));
    let mut text = format!(
        "Noted: {} for {}{who}, {}.",
        lengths(line),
        whose.join("; "),
        words::session_start(line, zone)
    );
    if let Some(share) = report.share {
        text.push_str(&format!(" The motor: {}.", share_words(share)));
    }
    if report.is_new_person
        && let Some(who) = &report.who
    {
        text.push_str(&format!("\n{who} is new and was entered as a person."));
    }
    text.push_str(&although(&report.doubts, zone));
    if let Some(old) = report.instead_of {
        text.push_str(&format!("\nSession e{} counts no more; it stays visible.", old.0));
    }
    text
}

/// What is doubtful about a session that was noted all the same, a line each.
#[must_use]
pub fn although(doubts: &[TypedDoubt], zone: &TimeZone) -> String {
    doubts
        .iter()
        .map(|doubt| format!("\nNoted all the same, although {}.", doubt_words(doubt, zone)))
        .collect()
}

/// "1 h 40 min at the frame, about 45 min of running".
fn lengths(line: &SessionLine) -> String {
    let about = if line.about { "about " } else { "" };
    let running = format!("{about}{} of running", run_time(line.run_time_ms));
    match line.frame_time_ms {
        Some(frame) => format!("{} at the frame, {running},", run_time(frame)),
        None => running,
    }
}

/// For how long the motor runs, and how that is known.
#[must_use]
pub fn share_words(share: MotorShareSet) -> String {
    let minutes = u64::from(share.run_ms_per_hour) / MINUTE_MS;
    let known = match share.source {
        MotorShareSource::Assumed => "our assumption; say yours: needlehours worked share 25min",
        MotorShareSource::Said => "as you said",
        MotorShareSource::Counted => "as the logger counted before",
    };
    format!("about {minutes} min in an hour at the frame, {known}")
}

/// What holds for a machine.
#[must_use]
pub fn share(machine: &str, share: MotorShareSet) -> String {
    format!("{machine}: {}.", share_words(share))
}

/// What was set.
#[must_use]
pub fn share_set(set: MotorShareSet) -> String {
    let where_ =
        set.machine.map_or_else(|| "everywhere".to_owned(), |machine| format!("on machine {}", machine.0));
    let minutes = u64::from(set.run_ms_per_hour) / MINUTE_MS;
    format!(
        "In an hour at the frame the motor runs about {minutes} min, {where_}, in the sessions typed in before too."
    )
}

/// A session goes on.
#[must_use]
pub fn begun(report: &TimerReport, zone: &TimeZone) -> String {
    let rug = report.begun.rug.as_ref().map_or_else(String::new, |rug| format!(", for {rug}"));
    format!(
        "At the frame with {}{rug}, since {}. When you stop: needlehours worked stop",
        report.machine_name,
        words::clock(report.begun.at, zone)
    )
}

/// What became of a notebook.
#[must_use]
pub fn table_noted(report: &TableReport) -> String {
    let mut text = format!("Noted {}", count(report.noted, "session", "sessions"));
    if report.frame_time_ms > 0 {
        text.push_str(&format!(", {} at the frame", run_time(report.frame_time_ms)));
    }
    text.push('.');
    if report.known > 0 {
        text.push_str(&format!(
            " {} noted before and {} not noted again.",
            count(report.known, "row was", "rows were"),
            if report.known == 1 { "was" } else { "were" }
        ));
    }
    text
}
