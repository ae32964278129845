//! What `speed` says in plain words.

use super::speed_cost;
use super::speed_hints::{self, times};
use crate::view::words::figures::two_figures;
use crate::view::words::{about, count, push, run_time, thousands};
use host_core::cloth::banded::Part;
use host_core::cloth::notes::Notes;
use host_core::cloth::report::SpeedBand;
use host_core::cloth::verdict::{Missing, Primary};
use host_core::cloth::{SpeedBy, SpeedReport, TableReport, Verdict};
use host_core::stats::{Estimate, HOUR_MS, number};

/// A rate below this is told for more running.
const SMALLEST_READABLE: f64 = 0.01;
/// More running than this is not spoken of, in hours or strokes.
const MOST_RUNNING: u64 = 1_000_000_000;

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
    if let Some(by_rug) = by_rug(report.totals.tears, report.rugs) {
        push(&mut text, format_args!("      {by_rug}"));
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
    text.push_str(
        "\nThat faster running tears more is what many makers believe; it is not established. Slack cloth is named first by nearly all.\n",
    );
    text
}

/// "one tear in about 6 rugs", or the other way round where rugs tear more than once; none without tears or rugs.
#[must_use]
pub fn by_rug(tears: u64, rugs: u64) -> Option<String> {
    if tears == 0 || rugs == 0 {
        return None;
    }
    let (tears_made, rugs_made) = (count(tears, "tear", "tears"), count(rugs, "rug", "rugs"));
    let one_in = about(number(rugs) / number(tears));
    Some(if tears < rugs && one_in != "1" {
        format!("one tear in about {one_in} rugs ({tears_made} on {rugs_made})")
    } else {
        let each = about(number(tears) / number(rugs));
        let what = if each == "1" { "tear" } else { "tears" };
        format!("about {each} {what} on each rug ({tears} on {rugs_made})")
    })
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
    if let Some(notes) = &report.notes {
        push(text, format_args!("{}", from_notes(notes)));
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
    if let Some(run) = missing.run_time_ms {
        text.push_str(&format!(", about {} more hours of running", about(run / number(HOUR_MS))));
    }
    if let Some(months) = missing.months {
        text.push_str(&format!(", about {} months at your pace", about(months)));
    }
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

/// What was noted without a logger tells of speed.
fn from_notes(notes: &Notes) -> String {
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
        table(by_knob)
    )
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
                "  {knob:<24} {} in {} {}; {}",
                count(band.tears, "tear", "tears"),
                about(band.exposure),
                if report.counts_strokes { "strokes" } else { "h" },
                rates(
                    Estimate { estimate: band.rate, low: band.low, high: band.high },
                    report.counts_strokes
                )
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
        push(
            &mut text,
            format_args!("Highest against lowest knob: {}.", limits(ratio, " times as many tears")),
        );
    }
    if report.trend.dispersion.is_some_and(|scatter| scatter > 1.5) {
        text.push_str(
            "Sessions differ more than chance alone would make them; the answer is weaker for it.\n",
        );
    }
    text.push_str(match report.verdict {
        Verdict::FasterTearsMore => "Faster tears more in this table.\n",
        Verdict::SlowerTearsMore => "Slower tears more in this table.\n",
        Verdict::DoublingIsUnlikely => "A doubling from slow to fast is unlikely.\n",
        Verdict::CannotTellYet => "Whether speed matters: cannot tell yet.\n",
    });
    text
}

/// "0.083 an hour (most likely 0.0021 to 0.46)"; of strokes in 100,000, which is about three hours. A rate that is smaller
/// than a hundredth then is told for a thousand times as much running, until it is not.
fn rates(rate: Estimate, counts_strokes: bool) -> String {
    let mut exposure = if counts_strokes { 100_000 } else { 1 };
    let size = rate.estimate.filter(|rate| *rate > 0.0).or(rate.high).unwrap_or(0.0);
    while size > 0.0 && size * number(exposure) < SMALLEST_READABLE && exposure < MOST_RUNNING {
        exposure *= 1_000;
    }
    let unit = match (counts_strokes, exposure) {
        (true, _) => format!(" in {} strokes", thousands(exposure)),
        (false, 1) => " an hour".to_owned(),
        (false, _) => format!(" in {} h", thousands(exposure)),
    };
    limits(rate.times(number(exposure)), &unit)
}

fn limits(estimate: Estimate, unit: &str) -> String {
    let or_unknown = |value: Option<f64>| value.map_or_else(|| "no limit".to_owned(), small);
    let of = if estimate.estimate.is_some() { unit } else { "" };
    format!(
        "{}{of} (most likely {} to {})",
        or_unknown(estimate.estimate),
        or_unknown(estimate.low),
        or_unknown(estimate.high)
    )
}

/// Never a row of noughts.
fn small(value: f64) -> String {
    if value <= 0.0 {
        "0".to_owned()
    } else if value < 0.001 {
        "less than 0.001".to_owned()
    } else {
        two_figures(value)
    }
}

#[cfg(test)]
mod table_tests {
    use super::{rates, small};
    use host_core::stats::Estimate;

    #[test]
    fn small_rates_are_plain_numbers_with_their_unit() {
        assert_eq!([0.0, 0.083_33, 0.000_2].map(small), ["0", "0.083", "less than 0.001"]);
        let rate = Estimate { estimate: Some(0.000_012), low: Some(0.0), high: None };
        assert_eq!(rates(rate, true), "1.2 in 100,000 strokes (most likely 0 to no limit)");
        assert_eq!(rates(rate, false), "0.012 in 1,000 h (most likely 0 to no limit)");
        let none = Estimate { estimate: Some(0.0), low: Some(0.0), high: Some(0.000_003_7) };
        assert_eq!(rates(none, false), "0 in 1,000,000 h (most likely 0 to 3.7)");
        let common = Estimate { estimate: Some(0.033), low: Some(0.000_1), high: Some(0.12) };
        assert_eq!(rates(common, false), "0.033 an hour (most likely less than 0.001 to 0.12)");
        let nothing = Estimate { estimate: Some(0.0), low: Some(0.0), high: Some(0.0) };
        assert_eq!(rates(nothing, false), "0 an hour (most likely 0 to 0)");
    }
}
