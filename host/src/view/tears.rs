//! What `speed` and `tear` say in plain words.

use jiff::tz::TimeZone;

use super::words::{about, count, moment, push, run_time};
use crate::app::tears::{HarmChanged, HarmList};
use crate::core::entries::Harm;
use crate::core::stats::Estimate;
use crate::core::tears::report::{Part, SpeedBand, Verdict};
use crate::core::tears::table::TableVerdict;
use crate::core::tears::{HarmRecord, SpeedBy, SpeedReport, TableReport};

/// Tears by speed of a machine.
#[must_use]
pub fn speed(report: &SpeedReport) -> String {
    let by = match report.by {
        SpeedBy::Knob => "knob place",
        SpeedBy::Rate => "stroke rate",
    };
    let mut text = format!("{}: tears by {by} in the seconds before them\n", report.machine_name);
    for band in &report.bands {
        push(&mut text, format_args!("  {:<24} {}", range(band), tears_in(band.part)));
        push(&mut text, format_args!("      {}", one_tear_in(band.tears_per_100000_strokes, band.part)));
    }
    let unknown = report.unknown_knob;
    if unknown != Part::default() {
        push(&mut text, format_args!("  {:<24} {}", "not known", tears_in(unknown)));
    }
    push(&mut text, format_args!("  {:<24} {}", "together", tears_in(report.totals)));
    push(&mut text, format_args!("      {}", one_tear_in(report.tears_per_100000_strokes, report.totals)));
    beside(&mut text, report);
    text.push_str(&verdict(report));
    text
}

fn beside(text: &mut String, report: &SpeedReport) {
    if report.not_recorded_run_time_ms > 0 {
        push(
            text,
            format_args!(
                "Beside these: {} of running of which no record tells.",
                run_time(report.not_recorded_run_time_ms)
            ),
        );
    }
    if report.by_hand_run_time_ms > 0 {
        push(
            text,
            format_args!(
                "Beside these: {} written by hand, without strokes.",
                run_time(report.by_hand_run_time_ms)
            ),
        );
    }
    if report.on_no_machine > 0 {
        push(
            text,
            format_args!(
                "{} came from a logger that sat on no machine, and is not counted here.",
                count(report.on_no_machine, "press", "presses")
            ),
        );
    }
}

fn verdict(report: &SpeedReport) -> String {
    let mut text = String::new();
    match (report.verdict, report.missing) {
        (Verdict::CannotTellYet, missing) => {
            text.push_str("Whether speed matters: cannot tell yet.\n");
            if let Some(missing) = missing {
                let mut takes = format!("It takes at least {} more", count(missing.tears, "tear", "tears"));
                if let Some(run) = missing.run_time_ms.filter(|run| *run > 0.0) {
                    takes.push_str(&format!(": about {} more hours of running", about(run / 3_600_000.0)));
                }
                if let Some(months) = missing.months {
                    takes.push_str(&format!(", about {} months at your pace", about(months)));
                }
                push(&mut text, format_args!("{takes}."));
            }
        }
        (Verdict::HintOnly, _) => {
            text.push_str("Look at the ranges, not at the single numbers: where they overlap, chance may be all there is.\n");
            if let Some(ratio) = report.fastest_to_slowest.estimate {
                let limits = match (report.fastest_to_slowest.low, report.fastest_to_slowest.high) {
                    (Some(low), Some(high)) => format!("between {} and {} times", about(low), about(high)),
                    (Some(low), None) => format!("{} times or more", about(low)),
                    _ => "not bounded".to_owned(),
                };
                push(
                    &mut text,
                    format_args!(
                        "Fastest against slowest, per stroke: {} times as many tears; most likely {limits}. A hint, not a verdict.",
                        about(ratio)
                    ),
                );
            }
        }
    }
    text.push_str(
        "That faster running tears more is what many makers believe; it is not established. Slack cloth is named first by nearly all.\n",
    );
    text
}

fn range(band: &SpeedBand) -> String {
    let percent = |per_mille: u32| format!("{}", f64::from(per_mille) / 10.0);
    match (band.knob_low_per_mille, band.knob_high_per_mille) {
        (Some(low), Some(high)) => format!("knob {} to {} %", percent(low), percent(high)),
        _ => match (band.rate_low_strokes_per_second, band.rate_high_strokes_per_second) {
            (Some(low), None) if low <= 0.0 => "all rates".to_owned(),
            (Some(low), Some(high)) if low <= 0.0 => format!("up to {high} strokes a second"),
            (Some(low), Some(high)) => format!("{low} to {high} strokes a second"),
            (Some(low), None) => format!("{low} and more a second"),
            _ => String::new(),
        },
    }
}

fn tears_in(part: Part) -> String {
    format!(
        "{}, {} in {} and {}",
        count(part.tears, "tear", "tears"),
        count(part.near_misses, "near-miss", "near-misses"),
        count(part.strokes, "stroke", "strokes"),
        run_time(part.run_time_ms)
    )
}

/// The rate turned over, because "one tear in about so many strokes" is how it is lived.
fn one_tear_in(per_100000: Estimate, part: Part) -> String {
    let strokes = |rate: f64| about(100_000.0 / rate);
    match (per_100000.estimate, per_100000.low, per_100000.high) {
        (Some(rate), Some(low), Some(high)) if rate > 0.0 => format!(
            "one tear in about {} strokes; most likely between {} and {}",
            strokes(rate),
            strokes(high),
            strokes(low)
        ),
        (Some(_), _, Some(high)) if part.tears == 0 => {
            format!("no tear yet; most likely no more than one in {} strokes", strokes(high))
        }
        _ => "no strokes, so no rate".to_owned(),
    }
}

/// What a table says.
#[must_use]
pub fn table(report: &TableReport) -> String {
    let mut text = String::new();
    for band in &report.bands {
        let knob = if band.knob_low == band.knob_high {
            format!("knob {}", band.knob_low)
        } else {
            format!("knob {} to {}", band.knob_low, band.knob_high)
        };
        push(
            &mut text,
            format_args!(
                "  {knob:<24} {} in {}; {}",
                count(band.tears, "tear", "tears"),
                about(band.exposure),
                limits(Estimate { estimate: band.rate, low: band.low, high: band.high })
            ),
        );
    }
    if report.dropped_rows > 0 {
        push(
            &mut text,
            format_args!("{} without running were left out.", count(report.dropped_rows, "row", "rows")),
        );
    }
    let exact = report.stratified_exact;
    let ratio = Estimate { estimate: exact.estimate, low: exact.low, high: exact.high };
    if exact.informative_strata > 0 {
        push(&mut text, format_args!("Highest against lowest knob: {} times as many tears.", limits(ratio)));
    }
    if report.trend.dispersion.is_some_and(|scatter| scatter > 1.5) {
        text.push_str(
            "Sessions differ more than chance alone would make them; the answer is weaker for it.\n",
        );
    }
    text.push_str(match report.verdict {
        TableVerdict::FasterTearsMore => "Faster tears more in this table.\n",
        TableVerdict::SlowerTearsMore => "Slower tears more in this table.\n",
        TableVerdict::DoublingIsUnlikely => "A doubling from slow to fast is unlikely.\n",
        TableVerdict::CannotTellYet => "Whether speed matters: cannot tell yet.\n",
    });
    text
}

fn limits(estimate: Estimate) -> String {
    let small = |value: f64| if value < 0.1 { format!("{value:.2e}") } else { format!("{value:.2}") };
    let or_unknown = |value: Option<f64>| value.map_or_else(|| "no limit".to_owned(), small);
    format!(
        "{} (most likely {} to {})",
        or_unknown(estimate.estimate),
        or_unknown(estimate.low),
        or_unknown(estimate.high)
    )
}

/// Every tear and near-miss, one a line.
#[must_use]
pub fn list(list: &HarmList, zone: &TimeZone) -> String {
    if list.harms.is_empty() {
        return "No tear has been noted yet. Press the logger's tear button when one happens, or: needlehours tear --rug NAME"
            .to_owned();
    }
    let mut text = String::new();
    for harm in &list.harms {
        push(&mut text, format_args!("{}", one(harm, zone)));
    }
    push(
        &mut text,
        format_args!(
            "{} and {}; {} taken back.",
            count(list.tears, "tear", "tears"),
            count(list.near_misses, "near-miss", "near-misses"),
            list.withdrawn
        ),
    );
    text
}

/// What was noted, answered or taken back.
#[must_use]
pub fn changed(changed: &HarmChanged, zone: &TimeZone) -> String {
    changed
        .now
        .as_ref()
        .map_or_else(|| format!("{} is noted.\n", changed.id), |harm| format!("{}\n", one(harm, zone)))
}

fn one(harm: &HarmRecord, zone: &TimeZone) -> String {
    let mut line = format!(
        "{}: {}, {}",
        harm.id,
        match harm.harm {
            Harm::Tear => "tear",
            Harm::NearMiss => "near-miss",
        },
        moment(harm.when, zone)
    );
    if let Some(knob) = harm.knob_before {
        line.push_str(&format!(", knob at {} % before it", f64::from(knob.get()) / 10.0));
    }
    if let Some(rug) = &harm.rug {
        line.push_str(&format!(", {rug}{}", if harm.rug_is_assumed { " (assumed)" } else { "" }));
    }
    if let Some(lot) = &harm.cloth_lot {
        line.push_str(&format!(", cloth {lot}"));
    }
    if let Some(note) = &harm.note {
        line.push_str(&format!(", \"{note}\""));
    }
    if let Some(reason) = &harm.withdrawn {
        line.push_str(&format!(" - taken back: {reason}"));
    }
    line
}
