//! What `speed --more` adds: the ranges, the waiting time, the ceiling, and hints.

use super::speed_band::{by_rug, range};
use super::{speed_cost, speed_hints, speed_table};
use crate::view::words::{self, about, count, push, run_time};
use host_core::cloth::SpeedReport;
use host_core::cloth::Verdict;
use host_core::cloth::banded::Part;
use host_core::cloth::notes::Notes;
use host_core::cloth::verdict::{Missing, Primary};
use host_core::stats::{Estimate, HOUR_MS, number};
use speed_hints::times;

/// All that stands under the tears and the table.
#[must_use]
pub fn more(report: &SpeedReport) -> String {
    let mut text = String::from("Tears by strokes:\n");
    for band in &report.bands {
        let rate = one_tear_in(band.tears_per_100000_strokes, band.part);
        push(&mut text, format_args!("  {:<24} {rate}", range(band)));
    }
    let rate = one_tear_in(report.tears_per_100000_strokes, report.totals);
    push(&mut text, format_args!("  {:<24} {rate}", "together"));
    if let Some(by_rug) = by_rug(report.totals.tears, report.rugs) {
        push(&mut text, format_args!("  {:<24} {by_rug}", ""));
    }
    // One lot is all there is, and two or more are worth a line each.
    for lot in report.by_cloth_lot.iter().filter(|_| report.by_cloth_lot.len() > 1) {
        push(&mut text, format_args!("  {:<24} {}", format!("cloth {}", lot.name), tears_in(lot.together)));
    }
    beside(&mut text, report);
    text.push('\n');
    text.push_str(&verdict(&report.primary));
    text.push('\n');
    match &report.decision {
        Some(decision) => speed_cost::decision(&mut text, decision),
        None => push(
            &mut text,
            format_args!(
                "Which speed costs least can be worked out once you enter what tears and time cost:\n  {}",
                speed_cost::ENTER_COSTS
            ),
        ),
    }
    text.push_str("\nBeside that, hints only. With so many of them, some lie away from 1 by chance alone:\n");
    speed_hints::push_all(&mut text, report);
    push(&mut text, format_args!("\n{}", words::sure(report.level)));
    text.push_str(
        "That faster running tears more is what many makers believe;\nit is not established. Slack cloth is named first by nearly all.\n",
    );
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
            format_args!("Beside these: {} typed in, without strokes.", run_time(report.by_hand_run_time_ms)),
        );
    }
    if let Some(notes) = report.notes.as_ref().filter(|_| report.totals.strokes > 0) {
        text.push_str(&from_notes(notes));
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

fn verdict(primary: &Primary) -> String {
    let mut text =
        String::from("Does fast running tear more than slow running, stroke for stroke, on the same rug?\n");
    let cut = primary.cut_knob_per_mille.map(|cut| f64::from(cut) / 10.0);
    match (primary.verdict, cut) {
        (_, None) => push(
            &mut text,
            format_args!(
                "  Cannot tell yet: where this machine's slow ends and fast begins is known after 20 hours; {} are missing.",
                run_time(primary.cut_needs_run_time_ms)
            ),
        ),
        (Verdict::FasterTearsMore, Some(cut)) => {
            push(&mut text, format_args!("  Yes: faster tears more. Fast means the knob above {cut} %."));
        }
        (Verdict::SlowerTearsMore, Some(cut)) => push(
            &mut text,
            format_args!("  The other way round: slower tears more. Slow means the knob at {cut} % or below."),
        ),
        (Verdict::DoublingIsUnlikely, Some(_)) => text.push_str(
            "  Hardly: that one of the two tears twice as often as the other is unlikely. Look for other causes.\n",
        ),
        (Verdict::CannotTellYet, Some(_)) => text.push_str("  Cannot tell yet.\n"),
    }
    if let (Some(tears), Some(ratio)) = (primary.look_at_tears, primary.ratio)
        && ratio.informative_strata > 0
    {
        let estimate = Estimate { estimate: ratio.estimate, low: ratio.low, high: ratio.high };
        push(
            &mut text,
            format_args!("  With the first {tears} tears: fast tore {} as often as slow.", times(estimate)),
        );
    }
    if let Some(missing) = primary.to_next_look {
        push(
            &mut text,
            format_args!(
                "  The answer is looked at again with {}: {}.",
                count(primary.next_look_at_tears, "tear", "tears"),
                takes(missing)
            ),
        );
    }
    if let Some(missing) = primary.to_tell_a_tripling {
        push(
            &mut text,
            format_args!(
                "  Even if fast running tore three times as often, seeing it would probably take {}.",
                takes(missing)
            ),
        );
    }
    who_can_tell(&mut text, primary);
    text
}

fn who_can_tell(text: &mut String, primary: &Primary) {
    let rugs = primary.informative_rugs + primary.silent_rugs;
    if rugs > 0 && primary.cut_knob_per_mille.is_some() {
        push(
            text,
            format_args!(
                "  {} of {} with tears were run both fast and slow; only these can tell.",
                primary.informative_rugs,
                count(rugs, "rug", "rugs")
            ),
        );
    }
    if primary.tears_not_placed > 0 {
        push(
            text,
            format_args!(
                "  {} cannot be used: the rug or the knob before it is not known. Say what you know: needlehours tear list",
                count(primary.tears_not_placed, "tear", "tears")
            ),
        );
    }
}

fn takes(missing: Missing) -> String {
    let mut text = format!("{} more", count(missing.tears, "tear", "tears"));
    if let Some(run) = missing.run_time_ms.filter(|run| *run > 0.0) {
        text.push_str(&format!(", about {} more hours of running", about(run / number(HOUR_MS))));
    }
    if let Some(months) = missing.months {
        text.push_str(&format!(", about {} months at your pace", about(months)));
    }
    text
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
            "one tear in about {} strokes; between {} and {}",
            strokes(rate),
            strokes(high),
            strokes(low)
        ),
        (Some(_), _, Some(high)) if part.tears == 0 => {
            format!("no tear yet; no more than one in {} strokes", strokes(high))
        }
        _ => "no strokes, so no rate".to_owned(),
    }
}

/// What was noted without a logger tells of speed.
pub(super) fn from_notes(notes: &Notes) -> String {
    let compared = notes.by_knob.as_ref().filter(|by_knob| by_knob.bands.len() > 1);
    let Some(by_knob) = compared else {
        return "From notes: cannot tell. It takes tears of which you noted the knob before it (needlehours tear --knob 60), and \
                sessions with the knob at more than one quarter of its travel (needlehours worked 1h40 --knob 60): one knob a \
                session is not the speed before the tear, and memory afterwards is biased."
            .to_owned();
    };
    format!(
        "From notes, per hour of motor time ({} of {} tears, {} of motor time{}):\n{}",
        notes.tears_compared,
        notes.tears,
        run_time(notes.run_time_ms),
        if notes.about_run_time_ms > 0 { ", partly about" } else { "" },
        speed_table::by_knob(by_knob)
    )
}
