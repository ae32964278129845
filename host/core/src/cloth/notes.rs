//! Tears by speed from what the maker noted without a logger: knobs noted before tears, against the motor time of sessions of which
//! the knob was noted. The running of a session is at one place of the knob only as far as the maker looked.

use std::collections::BTreeMap;

use serde::Serialize;

use super::harms::{HarmId, HarmRecord};
use super::table::{TableReport, TableRow, table_report};
use crate::entries::Harm;
use crate::records::bands::KnobBand;
use crate::records::knob::PerMille;
use crate::sessions::holder::Holder;
use crate::sessions::typed;
use crate::stats::{Level, hours};
use crate::studio::{MachineCard, Studio};

/// What the notes of one machine tell.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Notes {
    /// Motor time of sessions with a noted knob, in milliseconds.
    pub run_time_ms: u64,
    /// The part of it that only follows from the time at the frame, in milliseconds.
    pub about_run_time_ms: u64,
    /// Tears that were noted by hand.
    pub tears: u64,
    /// Those of them of which the knob before it was noted, on a rug with motor time at that quarter of the travel.
    pub tears_compared: u64,
    /// By quarters of the travel, per hour of motor time; none where no tear can be compared.
    pub by_knob: Option<TableReport>,
}

/// Sets the noted tears of a machine against its noted motor time; none where no session was typed in.
#[must_use]
pub fn notes(studio: &Studio, harms: &[HarmRecord], machine: &MachineCard, level: Level) -> Option<Notes> {
    let mut found =
        Notes { run_time_ms: 0, about_run_time_ms: 0, tears: 0, tears_compared: 0, by_knob: None };
    // Run time and tears by the quarter of the knob, within a rug.
    let mut cells: BTreeMap<(String, KnobBand), (u64, u64)> = BTreeMap::new();
    let mut sessions = studio.worked.iter().filter(|session| session.said.machine == machine.tag).peekable();
    sessions.peek()?;
    for session in sessions {
        let Some(knob) = session.said.knob_per_mille.and_then(PerMille::new) else { continue };
        let rug = match typed::attribution(studio, session).holder {
            Holder::Rug(rug) => studio.rug_at(rug).map(|rug| rug.order.rug.0.to_lowercase()),
            Holder::Care | Holder::Unassigned | Holder::Undated => None,
        };
        let cell = cells.entry((rug.unwrap_or_default(), KnobBand::of(Some(knob)))).or_default();
        cell.0 = cell.0.saturating_add(session.run_ms);
        found.run_time_ms = found.run_time_ms.saturating_add(session.run_ms);
        if session.is_about {
            found.about_run_time_ms = found.about_run_time_ms.saturating_add(session.run_ms);
        }
    }
    let is_noted = |harm: &&HarmRecord| {
        harm.counts()
            && harm.harm == Harm::Tear
            && harm.machine == Some(machine.tag)
            && matches!(harm.id, HarmId::Entry(_))
    };
    for harm in harms.iter().filter(is_noted) {
        found.tears += 1;
        let rug = harm.rug.as_ref().map(|rug| rug.0.to_lowercase()).unwrap_or_default();
        let cell = harm.knob_before.and_then(|knob| cells.get_mut(&(rug, KnobBand::of(Some(knob)))));
        if let Some(cell) = cell.filter(|(run_ms, _)| *run_ms > 0) {
            cell.1 += 1;
            found.tears_compared += 1;
        }
    }
    if found.tears_compared > 0 {
        let row = |((rug, quarter), (run_ms, tears)): ((String, KnobBand), (u64, u64))| TableRow {
            line: 0,
            knob: MIDDLES.get(quarter.index()).copied().unwrap_or_default(),
            exposure: hours(run_ms),
            tears,
            stratum: rug,
        };
        found.by_knob = table_report(&cells.into_iter().map(row).collect::<Vec<_>>(), level).ok();
    }
    Some(found)
}

/// The middle of each quarter of the travel, per cent.
const MIDDLES: [f64; 4] = [12.5, 37.5, 62.5, 87.5];

#[cfg(test)]
mod tests {
    use super::super::harms::harms;
    use super::*;
    use crate::entries::{EntryBody, RugName, SessionNoted, TearDetails, TearNoted};
    use crate::sessions::ledger::Ledger;
    use crate::test_facts::{HOUR, MONDAY_8, entries, machine, rug};
    use shared_types::{MachineTag, RunMillis, UtcMillis};

    fn session(number: i64, knob: u16, hours: u64) -> EntryBody {
        EntryBody::SessionNoted(SessionNoted {
            machine: MachineTag(1),
            rug: Some(RugName("Fox".to_owned())),
            person: None,
            at: UtcMillis(MONDAY_8 + number * 24 * HOUR),
            is_day: true,
            frame_ms: None,
            run: Some(RunMillis(hours * 3_600_000)),
            knob_per_mille: Some(knob),
            begun: None,
        })
    }

    fn tear(knob: Option<u16>) -> EntryBody {
        EntryBody::TearNoted(TearNoted {
            machine: MachineTag(1),
            harm: Harm::Tear,
            at: UtcMillis(MONDAY_8),
            knob_per_mille: knob,
            details: TearDetails { rug: Some(RugName("Fox".to_owned())), ..TearDetails::default() },
        })
    }

    fn asked(said: Vec<EntryBody>) -> Option<Notes> {
        let said = entries([machine(1), rug("Fox")].into_iter().chain(said));
        let studio = Studio::of(&said);
        let harms = harms(&said, &studio, &Ledger::of(&studio, &[]));
        notes(&studio, &harms, studio.machine(MachineTag(1)).unwrap(), Level::USUAL)
    }

    /// R, tests/Examples/stats-Ex.Rout.save, help page of `poisson.test`: 11 in 800 against 21 in 3011 gives a ratio of 1.971488,
    /// 95 % limits 0.8584264 to 4.2772659, p = 0.07967.
    #[test]
    fn hours_of_the_motor_are_the_exposure_of_a_published_pair() {
        // A session tells of 24 hours at most: 800 h are 33 of them and 8 h, 3011 h are 125 and 11 h.
        let mut said: Vec<EntryBody> = (0..33).map(|day| session(day, 900, 24)).collect();
        said.push(session(33, 900, 8));
        said.extend((34..159).map(|day| session(day, 100, 24)));
        said.push(session(159, 100, 11));
        said.extend((0..11).map(|_| tear(Some(950))));
        said.extend((0..21).map(|_| tear(Some(50))));
        let found = asked(said).unwrap();
        assert_eq!((found.tears, found.tears_compared, found.run_time_ms), (32, 32, 3811 * 3_600_000));
        let ratio = found.by_knob.unwrap().ratio;
        for (found, published) in [
            (ratio.estimate, 1.971_488),
            (ratio.low, 0.858_426_4),
            (ratio.high, 4.277_265_9),
            (ratio.p_value, 0.079_67),
        ] {
            assert!((found.unwrap() - published).abs() < 1e-5, "{found:?} {published}");
        }
    }

    #[test]
    fn a_tear_without_its_knob_or_at_a_place_nobody_noted_is_not_compared() {
        let found = asked(vec![session(0, 900, 5), tear(None), tear(Some(100))]).unwrap();
        assert_eq!((found.tears, found.tears_compared, found.by_knob), (2, 0, None));
        assert_eq!(asked(vec![tear(Some(100))]), None, "nothing was typed in");
    }
}
