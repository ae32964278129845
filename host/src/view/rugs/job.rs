//! `job` on screen.

use jiff::tz::TimeZone;
use shared_types::UtcMillis;

use crate::app::rugs::job::{JobLine, JobList};
use crate::app::rugs::timer_name::word;
use crate::view::words::table::{Column, Table};
use crate::view::words::{clock, run_time};
use host_core::entries::JobKind;
use host_core::rugs::job_time::RunningTimer;

/// Running timers and all job time.
#[must_use]
pub fn list(list: &JobList, zone: &TimeZone) -> String {
    if list.jobs.is_empty() {
        return "No job time has been written down yet: needlehours job start gluing --rug NAME, or needlehours job add \
                shearing 40min --rug NAME"
            .to_owned();
    }
    let mut parts: Vec<String> = list.running.iter().map(|timer| running(timer, zone)).collect();
    let mut table = Table::new(&[
        Column::Numbers("entry"),
        Column::Words("what"),
        Column::Words("rug"),
        Column::Dates("when"),
        Column::Numbers("time"),
        Column::Words("note"),
    ]);
    for line in &list.jobs {
        table.row([
            line.entry.0.to_string(),
            word(line.job).to_owned(),
            line.rug.clone().unwrap_or_default(),
            clock(UtcMillis(line.at_utc_ms), zone),
            line.lasted_ms.map_or_else(|| "running".to_owned(), run_time),
            line.note.clone().unwrap_or_default(),
        ]);
    }
    parts.push(table.text());
    parts.push(format!(
        "Labour: {}. Waiting, kept apart: {}.",
        run_time(list.labour_ms),
        run_time(list.waiting_ms)
    ));
    parts.join("\n")
}

/// One running timer in a sentence.
#[must_use]
pub fn running(timer: &RunningTimer, zone: &TimeZone) -> String {
    let name = named(word(timer.job), timer.rug.as_deref());
    let mut text = format!(
        "Running: {name}, {} so far, since {}; not counted until it is stopped.",
        run_time(timer.running_for_ms),
        clock(UtcMillis(timer.since_utc_ms), zone)
    );
    if timer.is_probably_forgotten {
        text.push_str(&format!(
            " That is more than {}: was it forgotten? needlehours job stop --after TIME",
            run_time(timer.asked_after_ms)
        ));
    }
    text
}

fn named(job: &str, rug: Option<&str>) -> String {
    rug.map_or_else(|| job.to_owned(), |rug| format!("{job} {rug}"))
}

/// A timer was started.
#[must_use]
pub fn started(line: &JobLine, zone: &TimeZone) -> String {
    let text = format!(
        "The timer for {} runs since {}. To stop it: needlehours job stop",
        named(word(line.job), line.rug.as_deref()),
        clock(UtcMillis(line.at_utc_ms), zone)
    );
    with_air(text, line)
}

/// Glue and what comes out of it while it cures want fresh air.
fn with_air(text: String, line: &JobLine) -> String {
    match line.job {
        JobKind::Gluing | JobKind::Drying => {
            format!("{text}\nVentilate while you glue and while it cures; the tin says what else.")
        }
        _ => text,
    }
}

/// A timer was stopped.
#[must_use]
pub fn stopped(line: &JobLine) -> String {
    lasted("Stopped", line)
}

/// Time was written down.
#[must_use]
pub fn added(line: &JobLine) -> String {
    lasted("Written down", line)
}

fn lasted(what: &str, line: &JobLine) -> String {
    let waiting = if line.job.is_labour() { "" } else { " of waiting, which is no labour" };
    let text = format!(
        "{what}: {}, {}{waiting}.",
        named(word(line.job), line.rug.as_deref()),
        run_time(line.lasted_ms.unwrap_or(0))
    );
    with_air(text, line)
}
