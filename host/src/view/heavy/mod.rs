//! `heavy` on screen.

use jiff::tz::TimeZone;
use shared_types::log::Fault;

use super::slowing::verdict;
use super::words::figures::decimal;
use super::words::{count, days, moment, run_time};
use crate::app::heavy::LimitsSet;
use host_core::entries::HeavyLimit;
use host_core::heavy::HeavyReport;
use host_core::heavy::findings::{FaultSeen, Finding, Judgement, Looked, Unit};
use host_core::heavy::report::{LimitLine, MachineHeavy};
use host_core::slowing::Verdict;

/// The whole answer; `all_limits` lists the limits as well.
#[must_use]
pub fn text(report: &HeavyReport, all_limits: bool, zone: &TimeZone) -> String {
    let mut parts: Vec<String> =
        report.machines.iter().map(|machine| of_machine(machine, all_limits, zone)).collect();
    let cautions: Vec<String> = report.cautions.iter().map(|caution| format!("- {caution}")).collect();
    parts.push(cautions.join("\n"));
    parts.join("\n\n")
}

fn of_machine(machine: &MachineHeavy, all_limits: bool, zone: &TimeZone) -> String {
    let mut lines =
        vec![format!("{}: {} of running looked at", machine.machine_name, run_time(machine.run_time_ms))];
    if machine.run_time_ms == 0 {
        lines.push(match machine.is_without_logger {
            true => "  Heavy use is seen in what a logger records, and there is none on it.".to_owned(),
            false => "  Nothing has been read from a logger on it yet: needlehours pull".to_owned(),
        });
        lines.extend(by_hand(machine));
        return lines.join("\n");
    }
    for (judgement, heading) in [
        (Judgement::TooMuch, "Too much:"),
        (Judgement::Hint, "Worth a look:"),
        (Judgement::Fine, "Within the limits:"),
        (Judgement::NotJudged, "Shown, not judged:"),
        (Judgement::CannotTellYet, "Cannot tell yet:"),
    ] {
        let findings: Vec<&Finding> =
            machine.findings.iter().filter(|finding| finding.judgement == judgement).collect();
        if !findings.is_empty() {
            lines.push(heading.to_owned());
            lines.extend(findings.into_iter().map(|finding| line(finding, machine, zone)));
        }
    }
    if machine.not_recorded_run_time_ms > 0 {
        lines.push(format!(
            "{} of running are known from the totals only; nothing could be found in them.",
            run_time(machine.not_recorded_run_time_ms)
        ));
    }
    if machine.day_unknown_run_time_ms > 0 {
        lines.push(format!(
            "{} of running are of no certain day and left out of the long days.",
            run_time(machine.day_unknown_run_time_ms)
        ));
    }
    lines.extend(by_hand(machine));
    if all_limits {
        lines.push("Limits:".to_owned());
        lines.extend(machine.limits.iter().map(limit));
    }
    lines.join("\n")
}

fn by_hand(machine: &MachineHeavy) -> Option<String> {
    (machine.by_hand_run_time_ms > 0).then(|| {
        format!(
            "{} of it typed in: in the long days, and in nothing else here, as nobody noted how it was spread over them.",
            run_time(machine.by_hand_run_time_ms)
        )
    })
}

/// One sentence for everything that is too much, faults of the sensors left out.
#[must_use]
pub fn too_much(machine: &MachineHeavy, zone: &TimeZone) -> Vec<String> {
    let found = machine.findings.iter().filter(|finding| {
        finding.judgement == Judgement::TooMuch && finding.looked_at != Looked::SensorFaults
    });
    found.map(|finding| sentence(finding, machine, zone)).collect()
}

fn line(finding: &Finding, machine: &MachineHeavy, zone: &TimeZone) -> String {
    let mut text = format!("  {}", sentence(finding, machine, zone));
    for fault in &finding.faults {
        text.push_str(&format!("\n    {}", fault_line(fault, zone)));
    }
    if !finding.what_to_do.is_empty() {
        text.push_str(&format!("\n    What to do: {}", finding.what_to_do));
    }
    text
}

fn sentence(finding: &Finding, machine: &MachineHeavy, zone: &TimeZone) -> String {
    let mut text = what(finding, machine);
    let is_seen = finding.found.is_some_and(|found| found > 0.0);
    match (finding.when, finding.day) {
        (_, Some(day)) => text.push_str(&format!(", on {}", days(Some(day), None))),
        (Some(when), None) if is_seen => text.push_str(&format!(", {}", moment(when, zone))),
        _ => {}
    }
    if finding.times > 1 && finding.looked_at != Looked::SensorFaults {
        text.push_str(&format!("; {} above the limit", count(finding.times, "time", "times")));
    }
    text.push_str(&format!(". {}", bound(finding, machine)));
    text
}

fn what(finding: &Finding, machine: &MachineHeavy) -> String {
    let Some(found) = finding.found else { return nothing_known(finding) };
    match finding.looked_at {
        Looked::LongestRun => format!("Longest run without a pause: {}", minutes(found)),
        Looked::LongestStretch => {
            let pause = machine.limits.iter().find(|line| line.limit == HeavyLimit::PauseSeconds);
            let pause = pause.and_then(|line| line.value).unwrap_or_default();
            format!("Longest stretch with no pause over {pause} s: {}", minutes(found))
        }
        Looked::DutyFactor if finding.unit == Unit::Minutes => {
            format!("Longest stretch, against the duty rating: {}", minutes(found))
        }
        Looked::DutyFactor => format!(
            "Busiest {} minutes: {} of them running (cyclic duration factor over a sliding window of {} min)",
            machine.duty.window_minutes,
            percent(found),
            machine.duty.window_minutes
        ),
        Looked::KnobAboveCeiling => match finding.run_time_above_ms {
            Some(above) if above > 0 => {
                format!("Knob above your ceiling for {}, {} at the highest", run_time(above), percent(found))
            }
            _ => format!("Highest place of the knob: {}", percent(found)),
        },
        Looked::LongDay => format!("Longest day: {} of running", minutes(found * 60.0)),
        Looked::SlowRunning => format!("Very slow running: {} of the run time", percent(found)),
        Looked::StrokeRateSag => slowing(finding),
        Looked::SensorFaults => match finding.times {
            0 if finding.faults.is_empty() => "No fault of a sensor was recorded".to_owned(),
            times => format!("Faults of the sensors: {}", count(times, "time", "times")),
        },
    }
}

/// What `slowing` says.
fn slowing(finding: &Finding) -> String {
    let rate_share = finding.found.map(|percent| 1.0 - percent / 100.0);
    let said = verdict(finding.slowing.unwrap_or(Verdict::CannotTell), rate_share);
    format!("Slowing: {}", said.trim_end_matches('.'))
}

fn nothing_known(finding: &Finding) -> String {
    match finding.looked_at {
        Looked::LongestRun | Looked::LongestStretch | Looked::DutyFactor => {
            "How long it ran at once: nothing recorded"
        }
        Looked::KnobAboveCeiling => {
            "Where the knob stood: not known; read its two ends with `needlehours machine calibrate`"
        }
        Looked::LongDay => "The longest day: no day is certain",
        Looked::SlowRunning => "Very slow running: it takes two hours of running to see a habit",
        Looked::StrokeRateSag => return slowing(finding),
        Looked::SensorFaults => "Faults of the sensors: nothing recorded",
    }
    .to_owned()
}

/// The limit with its mark.
fn bound(finding: &Finding, machine: &MachineHeavy) -> String {
    let mark = finding.source_in_words;
    match finding.looked_at {
        Looked::SensorFaults => return format!("({mark})"),
        Looked::StrokeRateSag => return "See `needlehours slowing`".to_owned(),
        _ => {}
    }
    match (finding.limit, finding.judgement) {
        (Some(limit), _) => {
            let limit = match finding.unit {
                Unit::Minutes => minutes(limit),
                Unit::Hours => minutes(limit * 60.0),
                Unit::Percent => percent(limit),
                Unit::Times => format!("{limit}"),
            };
            match (&machine.duty.rating, finding.looked_at) {
                (Some(rating), Looked::DutyFactor) => format!("{} ({mark})", rated(rating, &limit)),
                _ => format!("Limit {limit} ({mark})"),
            }
        }
        (None, Judgement::CannotTellYet) => String::new(),
        (None, _) => match finding.looked_at {
            Looked::DutyFactor => {
                "No duty rating was entered; if the plate or manual names one: needlehours heavy set --duty \"S3 25 %\"".to_owned()
            }
            Looked::KnobAboveCeiling => {
                "No ceiling was set; to set one: needlehours heavy set --knob-ceiling-percent 80".to_owned()
            }
            _ => "The limit is switched off".to_owned(),
        },
    }
    .trim_end()
    .to_owned()
}

/// A duty rating with what it asks for; the names of the duty types are those of IEC 60034-1.
fn rated(rating: &str, limit: &str) -> String {
    match rating.get(..2) {
        Some("S1") => format!(
            "Rated {rating}, continuous running duty: no rest is asked for, so up to {limit} may be running"
        ),
        Some("S2") => {
            format!("Rated {rating}, short-time duty: {limit} at once, then a rest until it is cold")
        }
        _ => format!("Rated {rating}, intermittent periodic duty: {limit} of each cycle may be running"),
    }
}

/// Minutes as "40 s", "12 min" or "5 h 10 min".
fn minutes(minutes: f64) -> String {
    let seconds = format!("{:.0}", (minutes * 60.0).floor());
    seconds.parse::<u64>().map_or(seconds, |seconds| run_time(seconds * 1_000))
}

fn percent(share: f64) -> String {
    format!("{} %", decimal(share, 1))
}

/// One fault of a sensor.
#[must_use]
pub fn fault_line(seen: &FaultSeen, zone: &TimeZone) -> String {
    let what = match seen.fault {
        Fault::MagnetMissing => "the knob's sensor saw no magnet",
        Fault::MagnetTooWeak => "the knob's magnet was too weak or too far away",
        Fault::MagnetTooStrong => "the knob's magnet was too strong or too near",
        Fault::KnobSilent => "the knob's sensor did not answer",
        Fault::DialTooLow => "the dial's voltage was below its travel",
        Fault::DialTooHigh => "the dial's voltage was above its travel",
        Fault::ImplausibleRate => "more strokes were counted than a hand machine can make",
        Fault::StampsAlone => "the needle's sensor gave pulses that were timed and not counted",
        Fault::CountsAlone => "the needle's sensor gave pulses that were counted and not timed",
        Fault::KnobShakes => "the knob's reading shook, or its sensor came and went",
        _ => "another fault",
    };
    format!(
        "{what}: {}, last {}{}",
        count(seen.times, "time", "times"),
        moment(seen.last, zone),
        if seen.is_still_there { "; it has not gone away" } else { "" }
    )
}

fn limit(line: &LimitLine) -> String {
    let value = line.value.map_or_else(|| "off".to_owned(), |value| format!("{value}{}", unit(line.limit)));
    format!("  {}: {value} ({})", name(line.limit), line.source.words())
}

pub(super) const fn unit(limit: HeavyLimit) -> &'static str {
    match limit {
        HeavyLimit::RunMinutes | HeavyLimit::StretchMinutes | HeavyLimit::WindowMinutes => " min",
        HeavyLimit::PauseSeconds => " s",
        HeavyLimit::KnobCeilingPercent | HeavyLimit::SlowSharePercent | HeavyLimit::SagPercent => " %",
        HeavyLimit::DayHours => " h",
        HeavyLimit::SlowStrokesPerSecond => " strokes a second",
    }
}

pub(super) const fn name(limit: HeavyLimit) -> &'static str {
    match limit {
        HeavyLimit::RunMinutes => "longest run without a pause",
        HeavyLimit::StretchMinutes => "longest stretch with short pauses",
        HeavyLimit::PauseSeconds => "a pause that ends a stretch is longer than",
        HeavyLimit::WindowMinutes => "window in which running and rest are weighed",
        HeavyLimit::KnobCeilingPercent => "highest place of the knob",
        HeavyLimit::DayHours => "longest day",
        HeavyLimit::SlowStrokesPerSecond => "very slow is below",
        HeavyLimit::SlowSharePercent => "very slow running as a habit",
        HeavyLimit::SagPercent => "strokes may fall at the same place by",
    }
}

/// Limits were set.
#[must_use]
pub fn set(set: &LimitsSet) -> String {
    let mut lines = vec![format!("For machine {}:", set.machine.0)];
    for (limit, value) in &set.limits {
        let value = if *value == 0.0 { "off".to_owned() } else { format!("{value}{}", unit(*limit)) };
        lines.push(format!("  {}: {value}", name(*limit)));
    }
    match set.duty {
        Some(Some(rating)) => lines.push(format!("  duty rating: {rating}")),
        Some(None) => lines.push("  duty rating: none; the busiest window is shown, not judged".to_owned()),
        None => {}
    }
    lines.join("\n")
}
