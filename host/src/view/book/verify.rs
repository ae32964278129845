//! `verify` on screen.

use crate::app::book::verify::VerifyReport;
use crate::app::ports::book::{ChainedLater, SchemaFinding, SchemaWhy};
use crate::view::words::{clock, count, push};
use host_core::book::{Against, Break, ChainReport, Covers, Why};

/// The whole answer.
#[must_use]
pub fn text(report: &VerifyReport) -> String {
    let chain = &report.chain;
    let mut text = String::new();
    if chain.is_whole {
        push(&mut text, format_args!("The record is whole: {}.", sizes(chain)));
    } else {
        push(
            &mut text,
            format_args!("The record was changed in {}:", count(chain.breaks_found, "place", "places")),
        );
        for broken in &chain.breaks {
            push(&mut text, format_args!("  {}", sentence(broken)));
        }
        let more = chain.breaks_found.saturating_sub(u64::try_from(chain.breaks.len()).unwrap_or(u64::MAX));
        if more > 0 {
            push(&mut text, format_args!("  ... and {more} more"));
        }
        push(&mut text, format_args!("The record has {}.", sizes(chain)));
    }
    if report.summaries_differ > 0 {
        push(
            &mut text,
            format_args!(
                "{} made from the loggers' records do not fit them. The records decide: needlehours verify --renew",
                count(report.summaries_differ, "line of the sums", "lines of the sums")
            ),
        );
    }
    for found in &report.guards {
        push(&mut text, format_args!("{}", schema(found)));
    }
    if !report.guards.is_empty() {
        push(
            &mut text,
            format_args!(
                "The record itself is judged by its chain, above. A database with guards of its own: needlehours rescue NEW.db"
            ),
        );
    }
    for later in &report.chained_later {
        push(&mut text, format_args!("{}", chained_later(later)));
    }
    if let (Some(head), Some(result)) = (chain.against, chain.against_result) {
        push(&mut text, format_args!("Against {head}: {}", against(result)));
    }
    push(&mut text, format_args!("Head: {}", chain.head));
    push(
        &mut text,
        format_args!(
            "Print or copy the head to a place outside this computer: with it `needlehours verify --against HEAD` shows later \
             that nothing before it was written anew. Without it, whoever can write to this file could make all of it anew."
        ),
    );
    text
}

fn schema(found: &SchemaFinding) -> String {
    let SchemaFinding { kind, name, table, why } = found;
    let what = match kind.as_str() {
        "trigger" => format!("guard {name} of the table {table}"),
        kind => format!("{kind} {name}"),
    };
    match why {
        SchemaWhy::Missing => format!("The {what} is gone."),
        SchemaWhy::Changed => format!("The {what} was changed."),
        SchemaWhy::Foreign => {
            format!(
                "The {kind} {name} on {table} is not the program's; it may change what is written or read."
            )
        }
    }
}

fn chained_later(later: &ChainedLater) -> String {
    let steps = if later.first_step == later.last_step {
        format!("Step {} was", later.first_step)
    } else {
        format!("Steps {} to {} were", later.first_step, later.last_step)
    };
    let when = match later.at_utc_ms {
        Some(at) => format!("on {} (UTC)", clock(at, &jiff::tz::TimeZone::UTC)),
        None => "when a newer program first opened the file".to_owned(),
    };
    format!(
        "{steps} made later than what they cover was kept, {when}: they show changes since then, not before."
    )
}

fn sizes(chain: &ChainReport) -> String {
    if chain.heard == 0 && chain.record_groups == 0 && chain.gone == 0 {
        return format!(
            "{} ({})",
            count(chain.steps, "step", "steps"),
            count(chain.entries, "entry", "entries")
        );
    }
    format!(
        "{} ({}, {}, {} from loggers{})",
        count(chain.steps, "step", "steps"),
        count(chain.entries, "entry", "entries"),
        count(chain.heard, "answer of a logger", "answers of a logger"),
        count(chain.record_groups, "group of records", "groups of records"),
        match chain.gone {
            0 => String::new(),
            gone => format!(
                ", {}",
                count(gone, "note of what one no longer had", "notes of what one no longer had")
            ),
        }
    )
}

fn sentence(broken: &Break) -> String {
    let what = broken.covers.as_ref().map(covered);
    let step = broken.step.map(|step| format!(" (step {step})")).unwrap_or_default();
    match (what, broken.why) {
        (Some(what), Why::Changed) => format!("{what}: changed after it was kept{step}."),
        (Some(what), Why::Gone) => format!("{what}: gone{step}."),
        (Some(what), _) => format!("{what}: put in past the program{step}."),
        (None, _) => format!("A step is gone{step}."),
    }
}

fn covered(covers: &Covers) -> String {
    match covers {
        Covers::Entry { entry } => format!("Entry {entry}"),
        Covers::Heard { hearing } => format!("Hearing {hearing} of a logger"),
        Covers::Records { log, numbers } => format!("Records {numbers} of logger {log}"),
        Covers::Gone { log, numbers } => {
            format!("The note that logger {log} no longer has records {numbers}")
        }
        Covers::Log { log } => format!("The log of logger {log}, of which nothing was ever read"),
        Covers::Unknown => "A step of a kind that this program does not know".to_owned(),
    }
}

const fn against(result: Against) -> &'static str {
    match result {
        Against::Holds => "holds. Nothing before it was changed, taken out or put in since it was printed.",
        Against::BrokenBefore => "the head is there, but something before it was changed, as said above.",
        Against::Rewritten => "DOES NOT HOLD. Something before it was written anew since it was printed.",
        Against::Shorter => {
            "DOES NOT HOLD. The record is shorter now than when it was printed: this is an older copy, another database, or its end was cut off."
        }
        Against::Unknown => {
            "DOES NOT HOLD. No step has it: it is of another database, mistyped, or what it stood for was written anew."
        }
    }
}

/// The summaries were made anew.
#[must_use]
pub const fn renewed() -> &'static str {
    "The sums were made anew from the loggers' records."
}
