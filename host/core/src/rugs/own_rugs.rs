//! The maker's own finished rugs as a base for quotes: what each of them took.

use std::collections::BTreeMap;

use jiff::tz::TimeZone;

use super::commission::Commissions;
use super::quote::OwnRug;
use super::rug_work::{self, RugTaken};
use crate::entries::Style;
use crate::sessions::ledger::Ledger;
use crate::studio::{Rug, RugIndex, Studio};

/// What the finished rugs took, and how many cannot be used.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct OwnRugs {
    /// Those with a size, in the order in which they were taken.
    pub rugs: Vec<OwnRug>,
    /// Finished ones that cannot be used: no size, or no running.
    pub left_out: u64,
}

/// Adds up what every finished rug took.
#[must_use]
pub fn own_rugs(studio: &Studio, commissions: &Commissions, ledger: &Ledger<'_>, zone: &TimeZone) -> OwnRugs {
    finished(studio, commissions, &rug_work::taken(studio, ledger, zone))
}

/// The same from what every rug took.
#[must_use]
pub fn finished(studio: &Studio, commissions: &Commissions, taken: &BTreeMap<RugIndex, RugTaken>) -> OwnRugs {
    let mut own = OwnRugs::default();
    for (place, rug) in studio.rugs.iter().enumerate().filter(|(_, rug)| rug.state().is_done()) {
        let place = RugIndex::of(place);
        match taken.get(&place).and_then(|taken| own_rug(studio, commissions, rug, taken)) {
            Some(rug) => own.rugs.push(rug),
            None => own.left_out += 1,
        }
    }
    own
}

fn own_rug(studio: &Studio, commissions: &Commissions, rug: &Rug, taken: &RugTaken) -> Option<OwnRug> {
    let area_mm2 = area_mm2(rug)?;
    let run_ms = taken.run_ms();
    (run_ms > 0).then(|| OwnRug {
        area_mm2,
        style: style(studio, commissions, rug, taken),
        run_ms,
        // Strokes exist only where they were counted.
        strokes: (!taken.has_typed()).then(|| taken.strokes(studio)),
        tufting_ms: taken.whole_tufting_ms(),
    })
}

/// A commission's area in square millimetres, where its size is known.
#[must_use]
pub fn area_mm2(rug: &Rug) -> Option<u64> {
    let area = u64::from(rug.order.width_mm?).checked_mul(u64::from(rug.order.height_mm?))?;
    (area > 0).then_some(area)
}

/// The style that the maker said, else that of all machines that ran for the rug, where it is one.
#[must_use]
pub fn style(studio: &Studio, commissions: &Commissions, rug: &Rug, taken: &RugTaken) -> Option<Style> {
    let said = commissions.described(&rug.order.rug).and_then(|described| described.style);
    if said.is_some() {
        return said;
    }
    let machines = taken.machines();
    let mut styles = machines
        .iter()
        .map(|machine| machine.and_then(|tag| studio.machine(tag)).and_then(|card| Style::of(card.pile)));
    let first = styles.next()??;
    styles.all(|style| style == Some(first)).then_some(first)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::entries::WorkChange::{Finished, Started};
    use crate::entries::{Certainty, EntryBody, HandHours, Owner, RugName, RugOrdered};
    use crate::records::log_records::LogRecords;
    use crate::test_facts::{
        HOUR, MONDAY_8, anchor, assigned, empty_log, entries, fitted, machine, rug, segment, work,
    };
    use shared_types::log::ClockSource::Host;
    use shared_types::{MachineTag, RunMillis, UtcMillis};

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
        let logs = [LogRecords { events: vec![anchor(1, 1, 0, MONDAY_8, Host)], segments, ..empty_log() }];
        let said = entries([machine(1), fitted(1, 0)].into_iter().chain(said));
        let studio = Studio::of(&said);
        own_rugs(&studio, &Commissions::of(&said), &Ledger::of(&studio, &logs), &TimeZone::UTC)
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
            strokes: Some(3_000),
            tufting_ms: Some(360_000),
        };
        assert_eq!(own, OwnRugs { rugs: vec![half, half], left_out: 0 });
    }

    #[test]
    fn rugs_without_a_size_or_running_are_left_out_unfinished_ones_do_not_count_and_typed_in_time_has_no_strokes()
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
        // Two minutes counted and one typed in; from its first burst to its last the session took two minutes.
        let by_hand = OwnRug {
            area_mm2: 200_000,
            style: Some(Style::Cut),
            run_ms: 180_000,
            strokes: None,
            tufting_ms: Some(300_000),
        };
        assert_eq!(of(said), OwnRugs { rugs: vec![by_hand], left_out: 2 });
    }
}
