//! Entries about the machine itself, its logger, its limits, its loans and the hands that work with it, in words.

use super::{Reader, Sentence};
use crate::app::ports::logger_name::logger_name;
use crate::view::heavy;
use crate::view::machines::{self, reading};
use crate::view::words::{count, run_time};
use host_core::entries::amount::Money;
use host_core::entries::{
    Drive, EntryBody, FigureSource, Fitting, HandsAtWork, HeavyLimitSet, MachineAdded, MachineCosts,
    PersonTag, VibrationFigure,
};

/// The words; none for other entries.
pub fn describe(body: &EntryBody, reader: &Reader<'_>) -> Option<String> {
    match body {
        EntryBody::MachineAdded(added) => Some(entered(added)),
        EntryBody::KnobMarked(marks) => Some(format!(
            "The knob's ends were read: {} at the slow end, {} at the fast end, {} in between",
            marks.slow.steps(),
            marks.fast.steps(),
            if marks.rising { "rising" } else { "falling" }
        )),
        EntryBody::EdgeRatioSet(ratio) => Some(format!(
            "{} of a magnet make {}",
            count(ratio.edges.into(), "pass", "passes"),
            count(ratio.strokes.into(), "stroke", "strokes")
        )),
        EntryBody::LoggerFitted(fitting) => Some(fitted(*fitting, reader)),
        EntryBody::MachineCosts(costs) => costs_entered(costs),
        EntryBody::VibrationFigure(figure) => Some(vibration(figure)),
        EntryBody::DutyRated(rated) => Some(match rated.rating {
            Some(rating) => format!("Duty rating: {rating}"),
            None => "Duty rating taken away".to_owned(),
        }),
        EntryBody::HeavyLimitSet(set) => Some(limit(set)),
        EntryBody::MachineLent(lent) => Sentence::new(format!("Lent to {}", reader.person(lent.to)))
            .quoting("condition: ", lent.condition.as_ref())
            .and(format!("reading: {}", reading(&lent.reading)))
            .done(),
        EntryBody::MachineReturned(back) => Sentence::new("Came back")
            .quoting("condition: ", back.condition.as_ref())
            .and(format!("reading: {}", reading(&back.reading)))
            .done(),
        EntryBody::MachineRested(rested) => {
            let what = if rested.rests { "Taken out of use" } else { "Taken back into use" };
            Sentence::new(what).quoting("because: ", rested.reason.as_ref()).done()
        }
        EntryBody::HandsAtWork(hands) => Some(at_work(hands, reader)),
        EntryBody::HandsOfBursts(hands) => {
            let running = format!("Running of records {} to {}", hands.first.0, hands.last.0);
            Some(worked_by(&running, hands.person, reader))
        }
        EntryBody::HandsOfSession(hands) => {
            Some(worked_by(&format!("Session e{}", hands.session.0), hands.person, reader))
        }
        _ => None,
    }
}

fn entered(added: &MachineAdded) -> String {
    let moved = match added.drive {
        Drive::Electric => "moved by a motor",
        Drive::Pneumatic => "moved by compressed air",
    };
    let before = match added.before_logger {
        Some(run) if run.0 == 0 => "; new, by its owner's word".to_owned(),
        Some(run) => format!("; ran about {} before, by its owner's estimate", run_time(run.0)),
        None => String::new(),
    };
    let logger = match added.has_logger {
        Some(true) => "; with a logger",
        Some(false) => "; without a logger",
        None => "",
    };
    let age = if added.is_second_hand == Some(true) { "; second-hand, its parts of unknown age" } else { "" };
    let pile = machines::pile(added.pile);
    format!("Entered as \u{201C}{}\u{201D}: {pile} pile, {moved}{before}{logger}{age}", added.name)
}

fn fitted(fitting: Fitting, reader: &Reader<'_>) -> String {
    let from = match fitting.from.0 {
        0 => "from its first record on".to_owned(),
        number => format!("from its record {number} on"),
    };
    let logger = logger_name(fitting.logger);
    match fitting.machine {
        here if here == reader.machine => format!("Logger {logger} sits on it, {from}"),
        nowhere if nowhere.0 == 0 => format!("Logger {logger} sits on no machine, {from}"),
        other => format!("Logger {logger} sits on machine {} instead, {from}", other.0),
    }
}

fn costs_entered(costs: &MachineCosts) -> Option<String> {
    let basis = &costs.basis;
    let all = |costs: &[Money]| costs.iter().map(|cost| money(*cost)).collect::<Vec<_>>().join(" + ");
    let period = basis.period_hours.map(|hours| format!(" in {} h", hours.get())).unwrap_or_default();
    Sentence::new(format!(
        "Costs: price {}, worth {} at the end of its {} h of life",
        money(basis.price),
        money(basis.resale),
        basis.life_hours.get()
    ))
    .and_if((!basis.period_costs.is_empty()).then(|| format!("{}{period}", all(&basis.period_costs))))
    .and_if((!basis.hour_costs.is_empty()).then(|| format!("{} for each hour", all(&basis.hour_costs))))
    .done()
}

fn money(amount: Money) -> String {
    let (whole, rest) = (amount.0 / 1_000_000, amount.0 % 1_000_000);
    match rest {
        0 => whole.to_string(),
        rest if rest % 10_000 == 0 => format!("{whole}.{:02}", rest / 10_000),
        rest => format!("{whole}.{rest:06}").trim_end_matches('0').to_owned(),
    }
}

fn vibration(figure: &VibrationFigure) -> String {
    let source = match figure.source {
        FigureSource::Declared => ", declared by its manufacturer",
        FigureSource::Measured => ", measured on it at this work",
        FigureSource::NotSaid => "",
    };
    format!("Vibration figure {} m/s²{source}", f64::from(figure.a_hv_mm_s2) / 1_000.0)
}

fn limit(set: &HeavyLimitSet) -> String {
    let value = match set.thousandths {
        0 => "off".to_owned(),
        value => format!("{}{}", f64::from(value) / 1_000.0, heavy::unit(set.limit)),
    };
    format!("Limit of heavy use: {}: {value}", heavy::name(set.limit))
}

fn at_work(hands: &HandsAtWork, reader: &Reader<'_>) -> String {
    let on = if hands.machine.is_some() { "it" } else { "every machine" };
    match hands.person {
        Some(person) => format!("From then on {} works with {on}", reader.person(person)),
        None => format!("From then on it is not known who works with {on}"),
    }
}

fn worked_by(running: &str, person: Option<PersonTag>, reader: &Reader<'_>) -> String {
    match person {
        Some(person) => format!("{running} was worked by {}", reader.person(person)),
        None => format!("{running}: it is not known by whom it was worked"),
    }
}
