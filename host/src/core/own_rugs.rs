//! The maker's own finished rugs as a base for quotes: what each of them took.

use std::collections::BTreeMap;

use jiff::tz::TimeZone;
use shared_types::MachineTag;

use super::attribution::Holder;
use super::ledger::Ledger;
use super::ledger::LedgerLog;
use super::quote::{OwnRug, Style};
use super::sessions::{self, Session};
use super::studio::{Rug, RugIndex, RugState, Studio};
use super::when::When;

/// What the finished rugs took, and how many cannot be used.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct OwnRugs {
    /// Those with a size, in the order in which they were taken.
    pub rugs: Vec<OwnRug>,
    /// Finished ones that cannot be used: no size, no running, or running written by hand, which has no strokes.
    pub left_out: u64,
}

#[derive(Debug, Default)]
struct Taken {
    run_ms: u64,
    tufting_ms: Option<u64>,
    is_tufting_unknown: bool,
    edges: BTreeMap<Option<MachineTag>, u64>,
}

/// Adds up what every finished rug took.
#[must_use]
pub fn own_rugs(studio: &Studio, ledger: &Ledger<'_>, zone: &TimeZone) -> OwnRugs {
    let mut taken: BTreeMap<RugIndex, Taken> = BTreeMap::new();
    for log in &ledger.logs {
        for session in sessions::of_log(log, zone) {
            let span = span_ms(log, &session);
            for part in session.parts(log) {
                let Holder::Rug(index) = part.attribution.holder else { continue };
                let taken = taken.entry(index).or_default();
                taken.run_ms = taken.run_ms.saturating_add(part.run.0);
                let edges = taken.edges.entry(session.machine).or_default();
                *edges = edges.saturating_add(part.edges);
                match span {
                    Some(span) => {
                        let share = share_ms(span, part.run.0, session.run.0);
                        taken.tufting_ms = Some(taken.tufting_ms.unwrap_or(0).saturating_add(share));
                    }
                    None => taken.is_tufting_unknown = true,
                }
            }
        }
    }
    let mut own = OwnRugs::default();
    for (place, rug) in studio.rugs.iter().enumerate().filter(|(_, rug)| rug.state() == RugState::Finished) {
        match taken.get(&RugIndex(place)).and_then(|taken| own_rug(studio, rug, taken)) {
            Some(rug) => own.rugs.push(rug),
            None => own.left_out += 1,
        }
    }
    own
}

fn own_rug(studio: &Studio, rug: &Rug, taken: &Taken) -> Option<OwnRug> {
    let area_mm2 = u64::from(rug.order.width_mm?).checked_mul(u64::from(rug.order.height_mm?))?;
    let is_by_hand = studio
        .hand_hours
        .iter()
        .any(|(_, hours)| hours.run.is_some() && hours.rug.as_ref() == Some(&rug.order.rug));
    if area_mm2 == 0 || taken.run_ms == 0 || is_by_hand {
        return None;
    }
    let strokes = taken.edges.iter().map(|(machine, edges)| studio.ratio(*machine).strokes(*edges));
    Some(OwnRug {
        area_mm2,
        style: style(studio, taken),
        run_ms: taken.run_ms,
        strokes: strokes.fold(0, u64::saturating_add),
        tufting_ms: taken.tufting_ms.filter(|_| !taken.is_tufting_unknown),
    })
}

/// The style of all machines that ran for the rug, where it is one.
fn style(studio: &Studio, taken: &Taken) -> Option<Style> {
    let mut styles = taken
        .edges
        .keys()
        .map(|machine| machine.and_then(|tag| studio.machine(tag)).and_then(|card| Style::of(card.pile)));
    let first = styles.next()??;
    styles.all(|style| style == Some(first)).then_some(first)
}

/// From a session's first edge to its last, where that is known.
fn span_ms(log: &LedgerLog<'_>, session: &Session) -> Option<u64> {
    let lines = session.lines(log);
    let (first, last) = (&lines.first()?.burst, &lines.last()?.burst);
    if first.boot == last.boot {
        return Some(last.ends().0.saturating_sub(first.at.0));
    }
    let (When::Dated(starts), When::Dated(ends)) = (session.starts, session.ends) else { return None };
    u64::try_from(ends.0.saturating_sub(starts.0)).ok()
}

/// A session's time at the frame goes to its rugs as its running does.
fn share_ms(span_ms: u64, part_ms: u64, whole_ms: u64) -> u64 {
    let share = (u128::from(span_ms) * u128::from(part_ms)).checked_div(u128::from(whole_ms)).unwrap_or(0);
    u64::try_from(share).unwrap_or(u64::MAX)
}
