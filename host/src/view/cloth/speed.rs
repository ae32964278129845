//! What `speed` says in plain words: the answer, the tears behind it, and where the knob stood.

use jiff::tz::TimeZone;

use super::speed_band::range;
use super::{speed_more, tears};
use crate::view::words::table::{Column, Table};
use crate::view::words::{self, about, count, push, run_time, thousands};
use host_core::cloth::banded::Part;
use host_core::cloth::{HarmLine, SpeedBy, SpeedReport, Verdict};
use host_core::entries::Harm;
use host_core::stats::number;

/// So many tears are listed, the latest.
const MOST_TEARS: usize = 10;

/// Tears by speed of a machine; with `more` all that is known of them.
#[must_use]
pub fn speed(report: &SpeedReport, zone: &TimeZone, more: bool) -> String {
    let mut text = format!("Speed: {}.\n\n", answer(report));
    text.push_str(&latest(report, zone));
    if report.totals.strokes > 0 {
        push(&mut text, format_args!("\n{}", by_place(report).text()));
    } else if let Some(notes) = &report.notes {
        text.push_str(&format!("\n{}", speed_more::from_notes(notes)));
    }
    text.push('\n');
    if more {
        text.push_str(&words::wrapped(&speed_more::more(report)));
    } else {
        let machine =
            if report.machine.0 == 1 { String::new() } else { format!(" --machine {}", report.machine.0) };
        push(&mut text, format_args!("Ranges, waiting time, hints: needlehours speed --more{machine}"));
    }
    text
}

/// What is known by now, with the tears that it rests on.
#[must_use]
pub fn answer(report: &SpeedReport) -> String {
    let tears = count(report.totals.tears, "tear", "tears");
    let cut = report.primary.cut_knob_per_mille.map(|cut| f64::from(cut) / 10.0);
    match (report.primary.verdict, cut) {
        (Verdict::FasterTearsMore, Some(cut)) => {
            format!("faster tears more ({tears}); fast is the knob above {cut} %")
        }
        (Verdict::SlowerTearsMore, Some(cut)) => {
            format!("slower tears more ({tears}); slow is the knob at {cut} % or below")
        }
        (Verdict::DoublingIsUnlikely, Some(_)) => {
            format!("hardly matters ({tears}); that it doubles the tears is unlikely")
        }
        _ => format!("cannot tell yet ({tears})"),
    }
}

/// The latest tears, one a line, and how many more there are.
fn latest(report: &SpeedReport, zone: &TimeZone) -> String {
    let torn: Vec<&HarmLine> = report.harms.iter().filter(|line| line.harm.harm == Harm::Tear).collect();
    let older = torn.len().saturating_sub(MOST_TEARS);
    let mut text = if torn.is_empty() {
        format!("No tear of {} is noted.\n", report.machine_name)
    } else {
        let shown = torn.get(older..).unwrap_or_default();
        format!("Tears of {}:\n{}", report.machine_name, tears::lines(shown, zone))
    };
    let near = report.totals.near_misses;
    let rest = [
        (older > 0).then(|| format!("{older} more")),
        (near > 0).then(|| count(near, "near-miss", "near-misses")),
    ];
    let rest: Vec<String> = rest.into_iter().flatten().collect();
    if !rest.is_empty() {
        push(&mut text, format_args!("{}: needlehours tear list", rest.join(", ")));
    }
    text
}

/// The table by the knob's place or the stroke rate.
#[must_use]
pub fn by_place(report: &SpeedReport) -> Table {
    let by = match report.by {
        SpeedBy::Knob => "knob place",
        SpeedBy::Rate => "strokes a second",
    };
    let mut table = Table::new(&[
        Column::Dates(by),
        Column::Numbers("tears"),
        Column::Numbers("near-misses"),
        Column::Numbers("strokes"),
        Column::Numbers("running"),
        Column::Numbers("strokes a tear"),
    ]);
    let mut row = |place: String, part: Part| {
        table.row([
            place,
            thousands(part.tears),
            thousands(part.near_misses),
            thousands(part.strokes),
            run_time(part.run_time_ms),
            if part.tears > 0 && part.strokes > 0 {
                about(number(part.strokes) / number(part.tears))
            } else {
                String::new()
            },
        ]);
    };
    for band in &report.bands {
        row(range(band), band.part);
    }
    if report.unknown_knob != Part::default() {
        row("not known".to_owned(), report.unknown_knob);
    }
    row("together".to_owned(), report.totals);
    table
}
