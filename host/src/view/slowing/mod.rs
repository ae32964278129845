//! What `slowing` says in plain words.

use jiff::tz::TimeZone;

use super::words::figures::figures;
use super::words::{count, moment, one_of, thousands};
use host_core::slowing::{Cause, DRY_LEAST, EWMA_WEIGHT, SlowingReport, Verdict};
use host_core::stats::Estimate;

/// Whether the machine is slowing down, and what to look for.
#[must_use]
pub fn slowing(report: &SlowingReport, explain: bool, zone: &TimeZone) -> String {
    let mut text = format!("{}: {}\n", report.machine_name, verdict(report.verdict, report.rate_share));
    if report.is_without_logger {
        text.push_str("  It would be seen in what a logger records, and there is none on it.\n");
        return text;
    }
    text.push_str(&dry_runs(report, zone));
    text.push_str(&sessions(report, zone));
    if !report.causes.is_empty() {
        text.push_str(&causes(&report.causes));
    }
    if explain {
        text.push_str(&explained(report));
    }
    text
}

/// The verdict in a sentence; `rate_share` is the rate as a share of before.
#[must_use]
pub fn verdict(verdict: Verdict, rate_share: Option<f64>) -> String {
    match (verdict, rate_share) {
        (Verdict::Slower, Some(share)) => {
            format!("about {} % slower than before at the same place of the knob.", slower_by(share))
        }
        (Verdict::Slower, None) => "slower than before at the same place of the knob.".to_owned(),
        (Verdict::CaredForSince, _) => {
            "it was slower, and was cared for since; the next dry run and sessions will tell.".to_owned()
        }
        (Verdict::Fine, _) => "as fast as before, as far as can be told.".to_owned(),
        (Verdict::CannotTell, _) => "cannot tell yet whether it is slowing down.".to_owned(),
    }
}

/// By how many of a hundred, never less than one.
fn slower_by(share: f64) -> String {
    format!("{:.0}", (100.0 * (1.0 - share)).max(1.0))
}

fn dry_runs(report: &SlowingReport, zone: &TimeZone) -> String {
    let dry = &report.dry;
    let Some(place) = dry.place_per_mille else {
        return "  Dry runs: none yet. After oiling, press the care button and let the machine run dry for about half a minute, always \
                with the knob at the same place, best at its end stop.\n"
            .to_owned();
    };
    let place = figures(place / 10.0);
    if dry.missing > 0 {
        let there = dry.runs.iter().filter(|run| run.at_usual_place).count();
        return format!(
            "  Dry runs: {there} with the knob at about {place} %; {} before one can be judged (the first {DRY_LEAST} say how fast it is \
             freshly oiled).\n",
            count(dry.missing, "more", "more")
        );
    }
    let Some(last) = dry.runs.iter().rfind(|run| run.rate_share.is_some()) else { return String::new() };
    let (Some(fresh), Some(share), Some(limit)) =
        (dry.fresh_strokes_per_second, last.rate_share, last.limit_share)
    else {
        return String::new();
    };
    let comparison = if last.is_slow {
        format!("{} % slower; more than chance explains", slower_by(share))
    } else {
        format!("{} % is within chance (a drop of {} % would not be)", signed(share), slower_by(limit))
    };
    format!(
        "  Dry runs, knob at about {place} %: {} strokes a second {}, {} freshly oiled: {comparison}.\n",
        figures(last.strokes_per_second),
        moment(last.when, zone),
        figures(fresh)
    )
}

fn signed(share: f64) -> String {
    let percent = 100.0 * (share - 1.0);
    if percent.abs() < 0.05 { "0".to_owned() } else { format!("{percent:+.1}") }
}

fn sessions(report: &SlowingReport, zone: &TimeZone) -> String {
    let state = &report.sessions;
    let mut text = match &state.chart {
        None => {
            let missing = state.sessions_needed.saturating_sub(state.sessions);
            let what = if missing > 0 {
                format!("{missing} more before they can be judged{}", pace(state.days_until_enough))
            } else {
                "more are needed that are not the first on their rug, with the knob at places where it ran before"
                    .to_owned()
            };
            format!("  Sessions: {} on rugs so far; {what}.\n", state.sessions)
        }
        Some(chart) => {
            let judged = state.sessions.saturating_sub(chart.baseline_sessions);
            let head = format!(
                "  Sessions: {} looked at, after {} that said how fast it is when well",
                judged, chart.baseline_sessions
            );
            match chart.last_alarm {
                None if judged == 0 => format!("{head}.\n"),
                None => format!("{head}: none is slower than chance, cloth and yarn would explain.\n"),
                Some(alarm) => format!(
                    "{head}. Found slower {}: about {} % since the session {}.\n",
                    moment(alarm.at, zone),
                    slower_by(alarm.rate_share),
                    moment(alarm.since, zone)
                ),
            }
        }
    };
    if state.chart.is_some() {
        text.push_str(
            "  Each session is compared only with others on the same rug, because cloth and yarn slow the needle too. Slowing that begins \
             exactly with a new rug looks like its cloth; only dry runs can tell it.\n",
        );
    }
    let left_out = [
        (
            state.bursts_knob_unknown,
            "with the knob's place not known (read its two ends: needlehours machine calibrate)",
        ),
        (state.bursts_of_nobody, "with no rug yet"),
    ];
    for (many, why) in left_out.into_iter().filter(|(many, _)| *many > 0) {
        text.push_str(&format!("  Left out: {} {why}.\n", count(many, "run", "runs")));
    }
    text
}

/// ", at your pace of late in about 2 to 4 months"; nothing where there is no pace.
fn pace(days: Estimate) -> String {
    let (Some(low), Some(high)) = (days.low, days.high) else { return String::new() };
    let span = |days: f64| if high < 75.0 { days / 7.0 } else { days / 30.44 };
    let unit = if high < 75.0 { "weeks" } else { "months" };
    let (soonest, latest) = (format!("{:.0}", span(low).max(1.0)), format!("{:.0}", span(high).max(1.0)));
    if soonest == latest {
        return format!(
            ", at your pace of late in about {latest} {}",
            if latest == "1" { "week" } else { unit }
        );
    }
    format!(", at your pace of late in about {soonest} to {latest} {unit}")
}

fn causes(causes: &[Cause]) -> String {
    let others: Vec<String> =
        causes.iter().filter_map(|cause| other_cause(*cause)).map(str::to_owned).collect();
    // Only a machine on air can lack pressure.
    let off = if causes.contains(&Cause::AirPressure) {
        "Shut the air off, take the hose off, let what is in it go,"
    } else {
        "Switch off, unplug,"
    };
    format!(
        "Dry or choked? {off} and wait until everything stands still. Brush it out, oil it, and make a dry run: if that \
         is as fast as it used to be, that was it.\nIt may also be {}.\n",
        one_of(&others)
    )
}

const fn other_cause(cause: Cause) -> Option<&'static str> {
    match cause {
        Cause::Dry | Cause::Choked => None,
        Cause::DullScissors => Some("dull scissors"),
        Cause::YarnOrCloth => Some("thicker yarn or denser cloth on the same rug"),
        Cause::SupplyVoltage => Some("a lower supply voltage (a long lead, another socket)"),
        Cause::WornBrushes => Some("worn carbon brushes"),
        Cause::Belt => Some("a belt that is too slack or too tight"),
        Cause::AirPressure => Some("too little air pressure (the regulator, a leak, water in the line)"),
    }
}

fn explained(report: &SlowingReport) -> String {
    let mut text = "The figures:\n".to_owned();
    for run in report.dry.runs.iter().filter(|run| !run.at_usual_place) {
        text.push_str(&format!(
            "  left out: a dry run at {} % of the knob, {} strokes a second\n",
            figures(run.knob_per_mille / 10.0),
            figures(run.strokes_per_second)
        ));
    }
    let state = &report.sessions;
    text.push_str(&format!(
        "  {} runs of three seconds and more; {} left out because the knob moved\n",
        thousands(state.bursts),
        thousands(state.bursts_knob_moved)
    ));
    if let Some(chart) = &state.chart {
        text.push_str(&format!(
            "  sessions scatter by {:.1} %; moving average (weight {EWMA_WEIGHT}) now {}, limit {} (once in {} healthy sessions, by simulation)\n",
            100.0 * chart.scatter_share,
            figures(state.lines.last().map_or(1.0, |line| line.average_share)),
            figures(chart.limit_share),
            figures(chart.healthy_sessions_per_alarm)
        ));
        let curve: Vec<String> = chart
            .knob_curve
            .iter()
            .map(|(knob, rate)| format!("{} at {} %", figures(*rate), figures(knob / 10.0)))
            .collect();
        text.push_str(&format!("  knob curve, strokes a second: {}\n", curve.join(", ")));
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;
    use host_core::slowing::{DryState, SessionState};
    use shared_types::MachineTag;

    fn report(verdict: Verdict, causes: Vec<Cause>) -> SlowingReport {
        SlowingReport {
            machine: MachineTag(1),
            machine_name: "Old one".to_owned(),
            is_without_logger: false,
            verdict,
            rate_share: Some(0.9),
            causes,
            dry: DryState::default(),
            sessions: SessionState { sessions: 3, sessions_needed: 20, ..SessionState::default() },
        }
    }

    #[test]
    fn a_slow_machine_is_asked_about_oil_and_lint_before_anything_else() {
        let text = slowing(
            &report(Verdict::Slower, vec![Cause::Dry, Cause::Choked, Cause::WornBrushes, Cause::Belt]),
            false,
            &TimeZone::UTC,
        );
        assert!(text.starts_with("Old one: about 10 % slower"), "{text}");
        assert!(text.contains("Dry or choked?") && text.contains("unplug"), "{text}");
        assert!(text.contains("worn carbon brushes or a belt"), "{text}");
        assert!(!text.contains("scissors"), "{text}");
    }

    #[test]
    fn a_slow_machine_on_air_is_not_to_be_unplugged_but_to_be_let_go_empty() {
        let causes = vec![Cause::Dry, Cause::Choked, Cause::AirPressure];
        let text = slowing(&report(Verdict::Slower, causes), false, &TimeZone::UTC);
        assert!(text.contains("take the hose off") && text.contains("air pressure"), "{text}");
        assert!(!text.contains("unplug"), "{text}");
    }

    #[test]
    fn a_pace_is_told_as_a_range_in_weeks_or_months_or_not_at_all() {
        let days = |low: f64, high: f64| Estimate { estimate: None, low: Some(low), high: Some(high) };
        assert_eq!(pace(Estimate::default()), "");
        assert_eq!(pace(days(20.0, 50.0)), ", at your pace of late in about 3 to 7 weeks");
        assert_eq!(pace(days(60.0, 130.0)), ", at your pace of late in about 2 to 4 months");
        assert_eq!(pace(days(2.0, 6.0)), ", at your pace of late in about 1 week");
    }

    #[test]
    fn too_little_says_what_is_missing() {
        let text = slowing(&report(Verdict::CannotTell, Vec::new()), false, &TimeZone::UTC);
        for words in ["cannot tell yet", "Dry runs: none yet", "3 on rugs so far; 17 more"] {
            assert!(text.contains(words), "{words}: {text}");
        }
        assert!(!text.contains("Dry or choked"), "{text}");
    }
}
