//! Doubtful running on screen.

use jiff::tz::TimeZone;
use shared_types::UtcMillis;

use crate::app::hours::check::{CheckList, Checked};
use crate::view::words;
use crate::view::words::table::{Column, Table};
use host_core::entries::DoubtAnswer;
use host_core::records::when::When;
use host_core::sessions::doubt::Doubt;
use host_core::sessions::doubtful_runs::DoubtfulRun;
use host_core::sessions::ledger::Standing;
use host_core::sessions::session_list::CountedTo;

/// As many are listed where they are only a part of an answer; the rest are counted.
const LISTED: usize = 8;

/// The question, where there is one; the newest first.
#[must_use]
pub fn to_check(runs: &[DoubtfulRun], zone: &TimeZone) -> Option<String> {
    let newest = runs.last()?;
    let mut lines =
        vec!["To check: real work, or not? No machine at work is known to run like this:".to_owned()];
    lines.push(table(runs.iter().rev().take(LISTED), zone));
    if runs.len() > LISTED {
        lines.push(format!("... and {} older: needlehours hours check", runs.len() - LISTED));
    }
    if runs.iter().any(|run| run.standing == Standing::Open) {
        lines.push(
            "Until you say, it has no rug yet and is no care; only what is due counts it, so that care comes rather too early.".to_owned(),
        );
    }
    lines.push(format!(
        "To answer: needlehours hours check {} --real   (or --not-real; several numbers at once, or --all)",
        newest.run
    ));
    Some(lines.join("\n"))
}

/// Everything doubtful, the answered too.
#[must_use]
pub fn list(list: &CheckList, zone: &TimeZone) -> String {
    let (open, answered): (Vec<DoubtfulRun>, Vec<DoubtfulRun>) =
        list.runs.iter().cloned().partition(|run| run.standing.is_to_check());
    let mut parts = Vec::new();
    if open.is_empty() {
        parts.push("There is nothing to check.".to_owned());
    } else {
        let newest = open.last().map(|run| run.run.to_string()).unwrap_or_default();
        parts.push(format!(
            "To check: real work, or not?\n{}\nTo answer: needlehours hours check {newest} --real   (or --not-real; several \
             numbers at once, or --all)\nCauses are mostly wires: unplug the machine, then see `needlehours doctor` and \
             WIRING.md.",
            table(open.iter(), zone)
        ));
    }
    if !answered.is_empty() {
        parts.push(format!(
            "Answered:\n{}\nTo take an answer back: needlehours take-back ENTRY",
            answered_table(&answered, zone)
        ));
    }
    parts.join("\n\n")
}

/// What was answered, repeated for the maker.
#[must_use]
pub fn answered(checked: &Checked, zone: &TimeZone) -> String {
    let run_ms = checked.runs.iter().fold(0, |sum: u64, run| sum.saturating_add(run.run_time_ms));
    let what = match checked.runs.as_slice() {
        [one] => format!("{}, {} of running", began(one, zone), words::run_time(run_ms)),
        several => format!("{} stretches, {} of running", several.len(), words::run_time(run_ms)),
    };
    let said = match checked.answer {
        DoubtAnswer::Real => "real work; it counts as any other now",
        DoubtAnswer::NotReal | DoubtAnswer::LeftOpen => "no work; it is set aside, and nothing is deleted",
    };
    let mut lines = vec![format!("{}: {said}.", words::capital(&what))];
    if checked.answer == DoubtAnswer::Real {
        let mut whose: Vec<String> = checked.runs.iter().map(counted_to).collect();
        whose.sort();
        whose.dedup();
        lines.push(format!("Counted to: {}.", whose.join("; ")));
    }
    let mut entries: Vec<i64> = checked.now.iter().filter_map(|run| run.entry).collect();
    entries.sort_unstable();
    entries.dedup();
    if let [first, ..] = entries.as_slice() {
        lines.push(format!("To take that back: needlehours take-back {first}"));
    }
    lines.join("\n")
}

fn table<'run>(runs: impl Iterator<Item = &'run DoubtfulRun>, zone: &TimeZone) -> String {
    let mut table = Table::new(&[
        Column::Numbers("number"),
        Column::Words("began"),
        Column::Numbers("running"),
        Column::Numbers("strokes"),
        Column::Words("why"),
        Column::Words("counted now"),
    ]);
    for run in runs {
        table.row([
            run.run.to_string(),
            began(run, zone),
            words::run_time(run.run_time_ms),
            words::thousands(run.strokes),
            why(run),
            if run.standing.counts() { counted_to(run) } else { "nowhere".to_owned() },
        ]);
    }
    table.text()
}

fn answered_table(runs: &[DoubtfulRun], zone: &TimeZone) -> String {
    let mut table = Table::new(&[
        Column::Numbers("number"),
        Column::Words("began"),
        Column::Numbers("running"),
        Column::Words("answer"),
        Column::Words("counted now"),
        Column::Numbers("entry"),
    ]);
    for run in runs {
        table.row([
            run.run.to_string(),
            began(run, zone),
            words::run_time(run.run_time_ms),
            if run.standing == Standing::Real { "real work" } else { "no work" }.to_owned(),
            if run.standing.counts() { counted_to(run) } else { "set aside".to_owned() },
            run.entry.map(|entry| entry.to_string()).unwrap_or_default(),
        ]);
    }
    table.text()
}

fn began(run: &DoubtfulRun, zone: &TimeZone) -> String {
    let when = match (run.starts_earliest_utc_ms, run.starts_latest_utc_ms) {
        (Some(earliest), Some(latest)) if earliest == latest => When::Dated(UtcMillis(earliest)),
        (Some(earliest), Some(latest)) => {
            When::Between { earliest: UtcMillis(earliest), latest: UtcMillis(latest) }
        }
        _ => When::Undated,
    };
    words::moment(when, zone)
}

fn counted_to(run: &DoubtfulRun) -> String {
    match run.counted_to {
        CountedTo::Rug => run.rug.clone().unwrap_or_else(|| "a rug".to_owned()),
        CountedTo::Care => "care".to_owned(),
        CountedTo::Nobody => "no rug yet".to_owned(),
        CountedTo::Undated => "no rug yet: date not known".to_owned(),
    }
}

fn why(run: &DoubtfulRun) -> String {
    let reasons: Vec<String> = run.because.iter().map(|doubt| reason(*doubt).to_owned()).collect();
    reasons.join("; ")
}

const fn reason(doubt: Doubt) -> &'static str {
    match doubt {
        Doubt::SegmentTooLong => "rest was taken for running",
        Doubt::EdgesTooFarApart => "strokes too far apart for running",
        Doubt::TooManyEdges => "more strokes than a machine can make",
        Doubt::RateFault => "the logger saw an impossible speed",
        Doubt::SteadyAndFast => "too fast and too steady, like mains hum",
    }
}
