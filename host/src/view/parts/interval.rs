//! What `interval` says in plain words.

use super::wear::{in_brackets, span};
use crate::app::parts::interval::IntervalsReport;
use crate::view::care::limits;
use crate::view::words::figures::{decimal, figures};
use crate::view::words::{all_of, count, sure};
use host_core::care::plan::TaskLimits;
use host_core::parts::{
    CLEAN_IN_A_ROW, Counts, FINDINGS_NEEDED, IntervalReport, OF_EACH_KIND_NEEDED, OwnFinding, SPREAD_NEEDED,
    TaskInterval, long_run_dirty_share,
};

/// Findings of the log, task by task.
#[must_use]
pub fn own(report: &IntervalsReport, explain: bool) -> String {
    if report.tasks.is_empty() {
        let tasks: Vec<String> = report.can_be_judged.iter().map(|task| (*task).to_owned()).collect();
        if let Some(asked) = &report.asked_cannot_be_judged {
            return format!(
                "No finding tells whether {asked} comes too late; findings tell about {} only. Its limits: needlehours care\n",
                all_of(&tasks)
            );
        }
        return format!(
            "Nothing was found yet that could tell. Say what you see when you note that it was done, for example: \
             needlehours done oiling --finding clean\n\
             Findings tell about {}; other tasks have no finding that says they came too late.\n",
            all_of(&tasks)
        );
    }
    let several =
        report.tasks.windows(2).any(|pair| matches!(pair, [one, next] if one.machine != next.machine));
    let texts: Vec<String> = report.tasks.iter().map(|task| of_task(task, several, explain)).collect();
    texts.join("\n")
}

fn of_task(task: &TaskInterval, several: bool, explain: bool) -> String {
    let whose =
        if several { format!("{} (machine {}), ", task.machine_name, task.machine.0) } else { String::new() };
    let by_now = if task.limits == TaskLimits::default() {
        "no limit is set, it is never asked for".to_owned()
    } else {
        format!("due after {} by now", limits(&task.limits))
    };
    let mut text = format!("{whose}{}: {by_now}\n", task.task);
    text.push_str(&format!("  {}\n", findings(&task.evidence, explain).trim_end().replace('\n', "\n  ")));
    let not_counted: Vec<&OwnFinding> =
        task.findings.iter().filter(|found| found.counts != Counts::Counted).collect();
    if !not_counted.is_empty() {
        let of = |counts, words: &str| {
            let many = not_counted.iter().filter(|found| found.counts == counts).count();
            (many > 0).then(|| format!("{many} {words}"))
        };
        let why = [
            of(Counts::FirstTime, "at the first time, with no time before it to count from"),
            of(Counts::SaysNothing, "of a kind that belongs to another task"),
            of(Counts::NothingRan, "with no running since the time before"),
            of(
                Counts::HoursUncertain,
                "with hours that are not known well enough, because runs have no date",
            ),
        ];
        let why: Vec<String> = why.into_iter().flatten().collect();
        text.push_str(&format!("  Not counted: {}.\n", all_of(&why)));
    }
    if let Some(hours) = task.evidence.hours_for_20_percent_dirty.estimate {
        if hours < task.shortest_hours {
            text.push_str(&format!(
                "  {} is less than the shortest interval that makes sense ({}): more care alone will not keep it clean.\n",
                span(hours),
                span(task.shortest_hours)
            ));
        } else if hours > task.longest_hours {
            text.push_str(&format!(
                "  {} is more than the longest interval that makes sense ({}).\n",
                span(hours),
                span(task.longest_hours)
            ));
        }
    }
    text.push_str(&steps(task));
    text
}

/// What the staircase proposes, where a tap can do it: "3 h instead of 4 h".
#[must_use]
pub fn proposed(task: &TaskInterval) -> Option<String> {
    let (hours, every) = (task.proposed_hours?, task.every_hours?);
    let keeps_late = task.late_and_dirty > 0 && hours > every;
    (!keeps_late).then(|| format!("{} instead of {}", span(hours), span(every)))
}

/// What the staircase proposes, with the command that would do it.
fn steps(task: &TaskInterval) -> String {
    let Some(every) = task.every_hours else {
        return "  Without a limit by running there is nothing to lengthen or shorten.\n".to_owned();
    };
    let left_out = match task.left_out {
        0 => String::new(),
        some => format!(" {some} left out: clean long before the interval, or dirty long after it."),
    };
    let last = match task.late_and_dirty {
        1 => "the last one was".to_owned(),
        2 => "the last two were".to_owned(),
        many => format!("the last {many} were"),
    };
    if task.late_and_dirty > 0 && task.proposed_hours.is_none_or(|hours| hours > every) {
        return format!("  Proposal: {last} late and dirty: first keep to {}.\n", span(every));
    }
    let Some(hours) = task.proposed_hours else {
        let row = format!(
            "{} of {CLEAN_IN_A_ROW} clean in a row since it was set",
            task.clean_in_a_row.min(CLEAN_IN_A_ROW)
        );
        let why = if task.clean_in_a_row >= CLEAN_IN_A_ROW {
            format!("{row}, but {} is the longest that makes sense", span(task.longest_hours))
        } else if every <= task.shortest_hours {
            format!("{row}; {} is the shortest that makes sense", span(task.shortest_hours))
        } else {
            row
        };
        return format!("  Proposal: keep {} ({why}).{left_out}\n", span(every));
    };
    let why = if hours > every {
        format!("{CLEAN_IN_A_ROW} clean in a row")
    } else {
        "the last one was dirty".to_owned()
    };
    // A limit by running that is set replaces one by sessions, unless that is set with it.
    let (sessions, also) = match task.limits.sessions {
        Some(many) => (
            format!(" --every-sessions {many}"),
            format!(
                " It stays due after {} too, if that comes first.",
                count(many.into(), "session", "sessions")
            ),
        ),
        None => (String::new(), String::new()),
    };
    format!(
        "  Proposal: {} instead of {} ({why}).{also} Nothing is changed by itself; to do it:\n    \
         needlehours due set {} --machine {} --every-hours {}{sessions}\n{}",
        span(hours),
        span(every),
        task.task,
        task.machine.0,
        in_command(hours),
        if left_out.is_empty() { left_out } else { format!(" {left_out}\n") }
    )
}

/// Hours as they are typed: two places at most, which is half a minute.
fn in_command(hours: f64) -> String {
    decimal(hours, 2)
}

/// Findings, and whether the interval is right.
#[must_use]
pub fn findings(report: &IntervalReport, explain: bool) -> String {
    let mut text = count(report.findings, "finding", "findings");
    if report.findings > 0 {
        text.push_str(&format!(", {} of them dirty", report.dirty));
    }
    let share = report.dirty_share;
    let percent = |share: f64| format!("{:.0}", 100.0 * share);
    if let (Some(share), Some(low), Some(high)) = (share.estimate, share.low, share.high) {
        text.push_str(&format!(
            ": {} in 100 (between {} and {}).\n",
            percent(share),
            percent(low),
            percent(high)
        ));
    } else {
        text.push_str(".\n");
    }
    let hours = report.hours_for_20_percent_dirty;
    if let Some(estimate) = hours.estimate {
        let range = match (hours.low, hours.high) {
            (Some(low), Some(high)) => {
                format!("between {} and {}", span(low), span(high))
            }
            (Some(low), None) => format!("{} or more", span(low)),
            (None, Some(high)) => format!("{} or less", span(high)),
            (None, None) => "no limits could be found".to_owned(),
        };
        text.push_str(&format!("One in five is dirty after {}; {range}.\n", span(estimate)));
        text.push_str("A shorter interval finds it clean more often, a longer one saves work; you decide.\n");
    } else {
        text.push_str(&missing(report));
    }
    if report.dirty_share.low.is_some() {
        text.push_str(&format!("{}\n", sure(0.95)));
    }
    if explain {
        text.push_str(&explained(report));
    }
    text
}

fn missing(report: &IntervalReport) -> String {
    let missing = &report.missing;
    let mut wants = Vec::new();
    if missing.findings > 0 {
        wants.push(format!(
            "{} (of {FINDINGS_NEEDED})",
            count(missing.findings, "more finding", "more findings")
        ));
    }
    if missing.dirty > 0 {
        wants.push(format!("{} dirty (of {OF_EACH_KIND_NEEDED})", missing.dirty));
    }
    if missing.clean > 0 {
        wants.push(format!("{} clean (of {OF_EACH_KIND_NEEDED})", missing.clean));
    }
    if let Some(spread) = missing.spread_is_only {
        wants.push(format!(
            "looks at shorter and at longer hours (they differ {}-fold, it takes {})",
            figures(spread),
            figures(SPREAD_NEEDED)
        ));
    }
    if missing.is_separated {
        wants.push(
            "looks around the hours at which clean turns to dirty (so far one parts from the other exactly)"
                .to_owned(),
        );
    }
    format!(
        "Not enough yet to say after how many hours it gets dirty. Still missing: {}.\n\
         Until then by steps: {CLEAN_IN_A_ROW} clean in a row, a quarter longer; one dirty, a quarter shorter. \
         In the long run {:.0} in 100 looks then find it dirty, if every proposal is followed.\n",
        wants.join("; "),
        100.0 * long_run_dirty_share()
    )
}

fn explained(report: &IntervalReport) -> String {
    match (report.shape, report.scale_hours) {
        (Some(shape), Some(scale)) => format!(
            "The figures: Weibull shape {} (its logarithm has a prior around ln 2, deviation 0.5), scale {} h; \
             hours for one in five{}, 95 % profile-likelihood limits.\n",
            figures(shape),
            figures(scale),
            in_brackets(report.hours_for_20_percent_dirty)
        ),
        _ => "The limits of the share are those of Clopper and Pearson, 95 %.\n".to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use host_core::parts::interval_report;
    use host_core::stats::Look;

    fn said(dirty: &[f64], clean: &[f64]) -> String {
        let of = |dirty| move |&time: &f64| Look { time, dirty };
        let looks: Vec<Look> = dirty.iter().map(of(true)).chain(clean.iter().map(of(false))).collect();
        findings(&interval_report(&looks), false)
    }

    #[test]
    fn what_is_missing_is_said_with_the_steps_until_then() {
        let text = said(&[4.0], &[3.0, 5.0]);
        for words in ["3 findings, 1 of them dirty", "7 more findings (of 10)", "2 dirty (of 3)", "17 in 100"]
        {
            assert!(text.contains(words), "{words}: {text}");
        }
        assert!(!text.contains("Weibull") && !text.contains("NaN"), "{text}");
    }

    #[test]
    fn enough_findings_give_hours_with_limits() {
        let text = said(&[4.0, 6.0, 8.0, 9.0], &[1.0, 2.0, 3.0, 5.0, 2.5, 4.5]);
        assert!(
            text.contains("One in five is dirty after")
                && text.contains("between")
                && text.contains("95 times in 100"),
            "{text}"
        );
    }
}
