//! What `wear` says in plain words; the figures behind them only when asked for.

use crate::app::parts::wear::OwnWear;
use crate::view::words::figures::figures;
use crate::view::words::{count, thousands};
use host_core::entries::TakenOff;
use host_core::parts::{
    Because, LifeCounts, PartLife, Proposal, ProposedAction, Reason, Surviving, WORN_OUT_NEEDED, WearReport,
};
use host_core::stats::Estimate;

/// The most rows of the list of shares that are shown; the middle is thinned out.
const MOST_SHOWN: usize = 12;

/// Parts of the log, each with its hours, and what they say.
#[must_use]
pub fn own(own: &OwnWear, explain: bool) -> String {
    let mut text = format!("{}\n", own.part.0);
    for life in &own.lives {
        text.push_str(&format!("  {}\n", life_line(life)));
    }
    text.push_str(&lives(&own.report, explain));
    text
}

fn life_line(life: &PartLife) -> String {
    let mark = life.serial.as_ref().map(|serial| format!("{serial}: ")).unwrap_or_default();
    let counts = match life.counts {
        LifeCounts::Counted => "",
        LifeCounts::BeganBeforeRecords => "; not counted: fitted before anything was recorded",
        LifeCounts::HoursUncertain => "; not counted: its hours are not known well enough",
        LifeCounts::NothingRan => "; not counted: nothing ran",
    };
    format!("{mark}{}, {}{counts}", hours_between(life.hours_at_least, life.hours_at_most), fate(life.why))
}

/// "12 h", "between 10 and 14 h" or "between 40 min and 2 h".
#[must_use]
pub fn hours_between(at_least: f64, at_most: f64) -> String {
    if span(at_least) == span(at_most) {
        span(at_most)
    } else if at_least < 1.0 {
        format!("between {} and {}", span(at_least), span(at_most))
    } else {
        format!("between {} and {} h", figures(at_least), figures(at_most))
    }
}

/// What became of a part.
#[must_use]
pub const fn fate(why: Option<TakenOff>) -> &'static str {
    match why {
        None => "still on",
        Some(TakenOff::WornOut) => "worn out",
        Some(TakenOff::Strike) => "struck something",
        Some(TakenOff::Accident) => "accident",
        Some(TakenOff::Lost) => "lost",
        Some(TakenOff::Precaution) => "changed as a precaution",
        Some(TakenOff::StillGood) => "taken off still good",
    }
}

/// Lives of parts, or a known curve.
#[must_use]
pub fn lives(report: &WearReport, explain: bool) -> String {
    let mut text = String::new();
    let beside = &report.beside;
    if report.proposal.is_some() {
        text.push_str(&format!(
            "{} worn out, {} still running or taken out for another reason.\n",
            count(beside.worn_out, "part", "parts"),
            thousands(beside.cut_short)
        ));
    }
    for step in thinned(&report.survival) {
        text.push_str(&format!(
            "  after {:>9} h  {:>3.0} of 100 still run{}\n",
            figures(step.hours),
            100.0 * step.surviving,
            if explain { in_brackets(step.limits) } else { String::new() }
        ));
    }
    if let [Some(early), Some(middle), Some(late)] = beside.worn_by_hours {
        text.push_str(&format!(
            "As it looks, half of them last {} h or longer: one in ten is worn by {} h, nine in ten by {} h.\n",
            figures(middle),
            figures(early),
            figures(late)
        ));
        if late > 2.0 * beside.longest_hours && beside.longest_hours > 0.0 {
            text.push_str(&format!(
                "No part of the table has run longer than {} h; what lies beyond is a guess.\n",
                figures(beside.longest_hours)
            ));
        }
    }
    text.push_str(&age(report));
    if let Some(proposal) = &report.proposal {
        text.push_str(&proposed(proposal));
    }
    if explain {
        text.push_str(&explained(report));
    }
    text
}

fn thinned(steps: &[Surviving]) -> Vec<&Surviving> {
    let each = steps.len().div_ceil(MOST_SHOWN).max(1);
    let last = steps.len().saturating_sub(1);
    steps
        .iter()
        .enumerate()
        .filter(|(place, _)| place % each == 0 || *place == last)
        .map(|(_, step)| step)
        .collect()
}

fn age(report: &WearReport) -> String {
    let run_to_failure =
        report.cost_per_hour.map(|cost| format!("; running to failure costs {} an hour", figures(cost)));
    let run_to_failure = run_to_failure.unwrap_or_default();
    match report.reason {
        Reason::AgePays => {
            let numbers = [report.replace_at_hours, report.cost_per_hour, report.beside.failure_cost_per_hour];
            let [age, cost, failure] = numbers.map(|number| number.map_or_else(|| "?".to_owned(), figures));
            format!(
                "At these costs the cheapest is to replace at {age} h: {cost} an hour, against {failure} when each runs to failure.\n"
            )
        }
        Reason::NoCosts => {
            "Whether to replace before they fail depends on two costs: add --planned-cost and --failure-cost.\n".to_owned()
        }
        Reason::TooFewWornOut => "It takes at least two worn-out parts to say how long they last.\n".to_owned(),
        Reason::NoCurveFits => {
            "All that wore out did so at the same, longest hours; no curve can be drawn through that.\n".to_owned()
        }
        Reason::WearDoesNotGrow => format!(
            "Old ones fail no sooner than new ones, so replacing early gains nothing{run_to_failure}.\n"
        ),
        Reason::FailureCostsNoMore => format!(
            "A failure costs no more than a planned replacement, so replacing early gains nothing{run_to_failure}.\n"
        ),
        Reason::SavesNothing => format!(
            "Replacing early would save next to nothing at these costs{run_to_failure}.\n"
        ),
    }
}

fn proposed(proposal: &Proposal) -> String {
    let why = match proposal.because {
        Because::EnoughEvidence => {
            "enough have worn out, and old ones most likely fail sooner than new ones".to_owned()
        }
        Because::TooFewWornOut => {
            let missing = WORN_OUT_NEEDED.saturating_sub(proposal.worn_out);
            if missing == 0 {
                "no curve fits yet".to_owned()
            } else {
                format!("for an age it takes {}", count(missing, "more worn-out part", "more worn-out parts"))
            }
        }
        Because::WearMayNotGrow => "it is not sure yet that old ones fail sooner than new ones".to_owned(),
        Because::NoCosts => "for an age the two costs are missing".to_owned(),
        Because::NoAgePays => "no age pays".to_owned(),
    };
    match (proposal.action, proposal.replace_at_hours) {
        (ProposedAction::ReplaceAtAge, Some(hours)) => {
            format!("Proposal: replace at {} h ({why}). Nothing is changed by itself.\n", figures(hours))
        }
        _ => format!("Proposal: replace on wear ({why}).\n"),
    }
}

fn explained(report: &WearReport) -> String {
    let mut text = String::new();
    let mut line = |name: &str, value: Option<f64>, limits: Estimate| {
        if let Some(value) = value {
            text.push_str(&format!("  {name:<32} {}{}\n", figures(value), in_brackets(limits)));
        }
    };
    line("Weibull shape", report.shape, report.beside.shape);
    line("Weibull scale, hours", report.scale_hours, report.beside.scale_hours);
    line("mean life, hours", report.mean_life_hours, Estimate::default());
    line("log likelihood", report.log_likelihood, Estimate::default());
    let at_least = report.proposal.and_then(|proposal| proposal.shape_at_least);
    line("shape, one-sided 90 % limit", at_least, Estimate::default());
    if text.is_empty() {
        return text;
    }
    format!("The figures, with 95 % limits where there are any:\n{text}")
}

/// " (low to high)", or nothing.
pub(super) fn in_brackets(limits: Estimate) -> String {
    match (limits.low, limits.high) {
        (Some(low), Some(high)) => format!("  ({} to {})", figures(low), figures(high)),
        (Some(low), None) => format!("  ({} or more)", figures(low)),
        (None, Some(high)) => format!("  ({} or less)", figures(high)),
        (None, None) => String::new(),
    }
}

/// Hours of running as the maker counts them: below one hour in minutes, below a minute in seconds.
pub(super) fn span(hours: f64) -> String {
    let (minutes, seconds) = (hours * 60.0, hours * 3_600.0);
    if hours <= 0.0 {
        format!("{} h", figures(hours))
    } else if minutes >= 59.5 {
        // What rounds to sixty is one of the next unit.
        format!("{} h", figures(hours.max(1.0)))
    } else if seconds >= 59.5 {
        format!("{:.0} min", minutes.max(1.0))
    } else {
        format!("{seconds:.0} s")
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use host_core::parts::wear_report;
    use host_core::stats::{Costs, Life};

    fn said(worn: &[f64], costs: Option<Costs>, explain: bool) -> String {
        let lives: Vec<Life> = worn.iter().map(|&time| Life { time, ended: true }).collect();
        lives_said(&lives, costs, explain)
    }

    fn lives_said(rows: &[Life], costs: Option<Costs>, explain: bool) -> String {
        lives(&wear_report(rows, costs), explain)
    }

    #[test]
    fn short_spans_are_minutes_and_not_parts_of_an_hour() {
        assert_eq!(span(0.0569), "3 min");
        assert_eq!(span(0.002), "7 s");
        assert_eq!(span(0.75), "45 min");
        assert_eq!(hours_between(0.0114, 0.0114), "41 s");
        assert_eq!(hours_between(0.5, 2.0), "between 30 min and 2 h");
        assert_eq!((hours_between(10.0, 14.0).as_str(), span(0.0).as_str()), ("between 10 and 14 h", "0 h"));
        assert_eq!((span(1.0).as_str(), span(4.5).as_str()), ("1 h", "4.5 h"));
        // 59 min 48 s, and 59.6 s.
        assert_eq!((span(0.9967).as_str(), span(59.6 / 3_600.0).as_str()), ("1 h", "1 min"));
    }

    #[test]
    fn the_words_need_no_statistics_unless_asked_for() {
        let worn = [90.0, 100.0, 110.0, 95.0, 105.0, 108.0];
        let plain = said(&worn, Costs::new(5.0, 60.0), false);
        for jargon in ["Weibull", "shape", "scale", "likelihood", "Kaplan"] {
            assert!(!plain.contains(jargon), "{plain}");
        }
        assert!(plain.contains("6 parts worn out") && plain.contains("Proposal: replace at"), "{plain}");
        let explained = said(&worn, Costs::new(5.0, 60.0), true);
        assert!(explained.starts_with(plain.lines().next().unwrap()) && explained.contains("Weibull shape"));
    }

    #[test]
    fn too_little_is_said_with_what_is_missing() {
        let one = said(&[80.0], None, false);
        assert!(one.contains("It takes at least two worn-out parts"), "{one}");
        assert!(one.contains("replace on wear (for an age it takes 5 more worn-out parts)"), "{one}");
    }

    #[test]
    fn a_long_list_is_thinned_but_keeps_its_ends() {
        let worn: Vec<f64> = (1..=100).map(f64::from).collect();
        let text = said(&worn, None, false);
        let rows: Vec<&str> = text.lines().filter(|line| line.starts_with("  after")).collect();
        assert!(rows.len() <= MOST_SHOWN + 1, "{text}");
        assert!(rows.first().unwrap().contains(" 1 h") && rows.last().unwrap().contains("100 h"), "{text}");
    }
}
