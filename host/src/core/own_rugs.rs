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

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test may stop at the first surprise")]
    use super::super::entries::WorkChange::{Finished, Started};
    use super::super::entries::{Certainty, EntryBody, HandHours, Owner, RugName, RugOrdered};
    use super::super::facts::LogFacts;
    use super::super::test_facts::{
        HOUR, MONDAY_8, anchor, assigned, empty_log, entries, fitted, machine, rug, segment, work,
    };
    use super::*;
    use shared_types::log::ClockSource::Host;
    use shared_types::{RunMillis, UtcMillis};

    fn sized(name: &str) -> EntryBody {
        EntryBody::RugOrdered(RugOrdered {
            rug: RugName(name.to_owned()),
            width_mm: Some(500),
            height_mm: Some(400),
            cloth_lot: None,
            at: UtcMillis(MONDAY_8),
        })
    }

    /// One session of three bursts: 1 min at its start, 2 min from minute 5 on, 3 min from minute 9 on, 12 min in all.
    fn of(said: Vec<EntryBody>) -> OwnRugs {
        let segments = vec![
            segment(10, 1, 0, 60_000, 1_000),
            segment(11, 1, 300_000, 120_000, 2_000),
            segment(12, 1, 540_000, 180_000, 3_000),
        ];
        let logs = [LogFacts { events: vec![anchor(1, 1, 0, MONDAY_8, Host)], segments, ..empty_log() }];
        let studio = Studio::of(&entries([machine(1), fitted(1, 0)].into_iter().chain(said)));
        own_rugs(&studio, &Ledger::of(&studio, &logs), &TimeZone::UTC)
    }

    fn finished(name: &str) -> [EntryBody; 2] {
        [work(name, None, Started, MONDAY_8 + HOUR), work(name, None, Finished, MONDAY_8 + 2 * HOUR)]
    }

    #[test]
    fn a_session_shared_by_two_rugs_is_shared_by_their_running() {
        let mut said = vec![sized("Fox"), sized("Owl")];
        said.extend(finished("Fox").into_iter().chain(finished("Owl")));
        let to = |name: &str| Owner::Rug(RugName(name.to_owned()));
        said.push(assigned(10, 11, to("Fox"), Certainty::Explicit));
        said.push(assigned(12, 12, to("Owl"), Certainty::Explicit));
        let own = of(said);
        // By hand: three minutes each of six, so half of the twelve minutes at the frame.
        let half = OwnRug {
            area_mm2: 200_000,
            style: Some(Style::Cut),
            run_ms: 180_000,
            strokes: 3_000,
            tufting_ms: Some(360_000),
        };
        assert_eq!(own, OwnRugs { rugs: vec![half, half], left_out: 0 });
    }

    #[test]
    fn rugs_without_a_size_without_running_or_with_running_by_hand_are_left_out_and_unfinished_ones_do_not_count()
     {
        let mut said = vec![rug("No size"), sized("Idle"), sized("By hand"), sized("On the frame")];
        for name in ["No size", "Idle", "By hand"] {
            said.extend(finished(name));
        }
        let to = |name: &str| Owner::Rug(RugName(name.to_owned()));
        said.push(assigned(10, 10, to("No size"), Certainty::Explicit));
        said.push(assigned(11, 11, to("By hand"), Certainty::Explicit));
        said.push(assigned(12, 12, to("On the frame"), Certainty::Explicit));
        said.push(EntryBody::HandHours(HandHours {
            machine: MachineTag(1),
            rug: Some(RugName("By hand".to_owned())),
            at: UtcMillis(MONDAY_8),
            run: Some(RunMillis(60_000)),
            tufting_ms: None,
            knob_per_mille: None,
        }));
        assert_eq!(of(said), OwnRugs { rugs: vec![], left_out: 3 });
    }
}
