//! What `speed cost` and `speed ceiling` say in plain words. Money is in the maker's own currency, shown to the cent.

use crate::app::cloth::cost::{CeilingNow, CostsKept};
use crate::view::money::money;
use crate::view::words::{self, about, count, push};
use host_core::cloth::cost::saving::{Ceiling, SpeedCost};
use host_core::cloth::cost::{Because, CostReport};

/// How to enter costs.
pub const ENTER_COSTS: &str =
    "needlehours speed cost set --tear-cost AMOUNT --hour-value AMOUNT, in your own currency";

/// More speeds than this are not listed in words.
const MOST_SPEEDS: usize = 8;

/// What speed costs.
#[must_use]
pub fn report(report: &CostReport) -> String {
    let mut text = format!("{}: what a rug costs by speed\n", report.machine_name);
    let (Some(costs), Some(strokes)) = (report.costs, report.strokes_per_rug) else {
        push(&mut text, format_args!("  {}", missing(report.because)));
        accepted(&mut text, report);
        return text;
    };
    push(
        &mut text,
        format_args!(
            "  A rug has about {} strokes here; a tear costs you {}, an hour {}, in {}.",
            about(strokes),
            money(costs.tear),
            money(costs.hour),
            words::currency(report.currency.as_deref())
        ),
    );
    let step = report.speeds.len().div_ceil(MOST_SPEEDS).max(1);
    // Counted from the fastest, so that this one is always among them; the picture shows all.
    let mut shown: Vec<&SpeedCost> = report.speeds.iter().rev().step_by(step).collect();
    shown.reverse();
    for speed in shown {
        push(&mut text, format_args!("{}", one_speed(speed)));
    }
    if let Some(now) = report.cost_per_rug_as_run_now {
        push(&mut text, format_args!("  as you run it now{:<13} about {}", "", money(now)));
    }
    text.push_str(
        "  The time is that of the motor running; all else that a rug costs is the same at every speed.\n",
    );
    push(&mut text, format_args!("  {}\n", words::sure(report.level)));
    decision(&mut text, report);
    text
}

fn missing(because: Because) -> String {
    match because {
        Because::NoRunning => {
            "Cannot tell yet: no running on a rug with a known place of the knob.".to_owned()
        }
        _ => format!("What a tear and an hour cost you is not known. Enter both: {ENTER_COSTS}"),
    }
}

fn one_speed(speed: &SpeedCost) -> String {
    let place = format!("knob up to {} %", f64::from(speed.knob_high_per_mille) / 10.0);
    let range = match (speed.cost_per_rug.low, speed.cost_per_rug.high) {
        (Some(low), Some(high)) => format!("; between {} and {}", money(low), money(high)),
        _ => String::new(),
    };
    format!(
        "  {place:<18} {:>5} strokes a second: about {}{range}",
        about(speed.strokes_per_second),
        speed.cost_per_rug.estimate.map_or_else(|| "unknown".to_owned(), money)
    )
}

/// The advice.
pub fn decision(text: &mut String, report: &CostReport) {
    text.push_str("Should the knob have a ceiling?\n");
    push(text, format_args!("  {}", in_short(report)));
    if let (Some(proposal), None) = (report.proposal, report.accepted_ceiling_per_mille) {
        push(
            text,
            format_args!(
                "  It saves about {} on a rug. Take it: needlehours speed ceiling accept{}",
                money(proposal.saving_per_rug),
                machine(report)
            ),
        );
    }
    if report.because == Because::SpeedNotShownToMatter && report.costs.is_some() {
        text.push_str("  First it must be shown that faster tears more on the same rug: needlehours speed\n");
    }
    for lot in &report.cloth_lots {
        push(
            text,
            format_args!(
                "  Cloth {} alone, with {}: {}",
                lot.cloth_lot,
                count(lot.tears, "tear", "tears"),
                lot.proposal.map_or_else(|| "none.".to_owned(), |ceiling| format!("{}.", at_most(ceiling)))
            ),
        );
    }
    if let Some(prior) = &report.from_the_prior_alone {
        let advice = prior.proposal.map_or_else(|| "none".to_owned(), at_most);
        push(text, format_args!("  What would be said without looking at any tear: {advice}."));
    }
    accepted(text, report);
}

/// The advice in one sentence.
#[must_use]
pub fn in_short(report: &CostReport) -> String {
    match (report.because, report.proposal) {
        (Because::ItPays, Some(proposal)) => {
            format!(
                "{}: nine chances in ten or more that it saves money.",
                words::capital(&at_most(proposal))
            )
        }
        (Because::SpeedNotShownToMatter, _) => {
            "No ceiling: it is not shown that speed matters to the cloth.".to_owned()
        }
        (Because::NotSureEnough, _) => {
            "No ceiling: none is sure enough to save more in cloth than it costs in time.".to_owned()
        }
        _ => missing(report.because),
    }
}

fn at_most(ceiling: Ceiling) -> String {
    format!("the knob at {} % at most", f64::from(ceiling.knob_per_mille) / 10.0)
}

fn accepted(text: &mut String, report: &CostReport) {
    if let Some(place) = report.accepted_ceiling_per_mille {
        push(
            text,
            format_args!(
                "Your ceiling is the knob at {} %; the lamp and `needlehours heavy` mind it.",
                f64::from(place) / 10.0
            ),
        );
    }
}

fn machine(report: &CostReport) -> String {
    if report.machine.0 == 1 { String::new() } else { format!(" --machine {}", report.machine.0) }
}

/// Costs were kept.
#[must_use]
pub fn kept(kept: &CostsKept) -> String {
    let now = match kept.costs {
        Some(costs) => format!(
            "Kept: a tear costs {}, an hour is worth {}, in {}. See: needlehours speed cost",
            money(costs.tear),
            money(costs.hour),
            words::currency(kept.currency.as_deref())
        ),
        None => format!("Kept. The other cost is still missing: {ENTER_COSTS}"),
    };
    format!("{now}\n")
}

/// The ceiling as it is now.
#[must_use]
pub fn ceiling(now: &CeilingNow) -> String {
    let place = now.knob_per_mille.map(|place| f64::from(place) / 10.0);
    match (place, now.entry.filter(|_| !now.is_without_logger)) {
        (Some(place), Some(_)) => format!(
            "{}: the ceiling is the knob at {place} %. The lamp learns of it at the next pull; `needlehours heavy` minds it from now on.\n",
            now.machine_name
        ),
        (Some(place), None) => format!("{}: the ceiling is the knob at {place} %.\n", now.machine_name),
        (None, Some(_)) => format!(
            "{}: there is no ceiling any more. The lamp learns of it at the next pull.\n",
            now.machine_name
        ),
        (None, None) => format!("{}: there is no ceiling.\n", now.machine_name),
    }
}
