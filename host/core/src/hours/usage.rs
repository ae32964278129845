//! How each commission used the machine: run time by where the knob stood.

use jiff::civil::Date;
use jiff::tz::TimeZone;
use serde::Serialize;
use shared_types::MachineTag;

use crate::records::bands::KnobBand;
use crate::records::knob::PerMille;
use crate::sessions::holder::Holder;
use crate::sessions::ledger::{Ledger, LedgerLog};
use crate::sessions::session_list::CountedTo;
use crate::sessions::{self, typed};
use crate::studio::Studio;
use crate::studio::worked::Worked;

/// Running with the knob in one band.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct BandUse {
    /// The band.
    pub knob: KnobBand,
    /// Motor moving, in milliseconds.
    pub run_time_ms: u64,
    /// Needle edges.
    pub edges: u64,
}

/// One bar of the picture.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct UsageBar {
    /// Whose.
    pub counted_to: CountedTo,
    /// Which commission.
    pub rug: Option<String>,
    /// All bands together, in milliseconds.
    pub run_time_ms: u64,
    /// The part of it that was typed in, in milliseconds; in the band of its knob, where that was noted.
    pub entered_run_time_ms: u64,
    /// One for each band, slow to fast, the unknown one last.
    pub bands: Vec<BandUse>,
}

impl UsageBar {
    fn new(counted_to: CountedTo, rug: Option<String>) -> Self {
        let bands = KnobBand::ALL.map(|knob| BandUse { knob, run_time_ms: 0, edges: 0 }).to_vec();
        Self { counted_to, rug, run_time_ms: 0, entered_run_time_ms: 0, bands }
    }
}

/// The series of the picture `usage`.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct UsageReport {
    /// Commissions in the order in which they were taken, then care, nobody, undated; only those that ran.
    pub bars: Vec<UsageBar>,
    /// Continuous runs in it.
    pub bursts: u64,
    /// Sessions in it.
    pub sessions: u64,
    /// The local day of the first dated session.
    #[serde(serialize_with = "crate::entries::day_as_text")]
    pub first_day: Option<Date>,
    /// The local day of the last dated session.
    #[serde(serialize_with = "crate::entries::day_as_text")]
    pub last_day: Option<Date>,
}

impl UsageReport {
    /// Sorts all running, or that of one machine, into bars and bands.
    #[must_use]
    pub fn of(studio: &Studio, ledger: &Ledger<'_>, machine: Option<MachineTag>, zone: &TimeZone) -> Self {
        let rugs = studio.rugs.iter().map(|rug| UsageBar::new(CountedTo::Rug, Some(rug.order.rug.0.clone())));
        let others = [CountedTo::Care, CountedTo::Nobody, CountedTo::Undated];
        let mut bars: Vec<UsageBar> =
            rugs.chain(others.map(|counted_to| UsageBar::new(counted_to, None))).collect();
        let (mut bursts, mut session_count) = (0, 0);
        let mut days: Vec<Date> = Vec::new();
        for log in &ledger.logs {
            bursts += add_log(&mut bars, studio, log, machine);
            for session in sessions::of_log(log, zone) {
                if machine.is_none() || session.machine == machine {
                    session_count += 1;
                    days.extend(session.day);
                }
            }
        }
        for session in &studio.worked {
            if machine.is_none() || machine == Some(session.said.machine) {
                session_count += 1;
                days.extend(sessions::local_day(session.said.at, zone));
                add_typed(&mut bars, studio, session);
            }
        }
        bars.retain(|bar| bar.run_time_ms > 0);
        Self {
            bars,
            bursts,
            sessions: session_count,
            first_day: days.iter().min().copied(),
            last_day: days.iter().max().copied(),
        }
    }
}

/// Where a holder's bar stands: the commissions, then care, nobody, undated.
fn place_of(holder: Holder, studio: &Studio) -> usize {
    match holder {
        Holder::Rug(index) => index.place(),
        Holder::Care => studio.rugs.len(),
        Holder::Unassigned => studio.rugs.len() + 1,
        Holder::Undated => studio.rugs.len() + 2,
    }
}

/// Adds a session that was typed in to its bar.
fn add_typed(bars: &mut [UsageBar], studio: &Studio, session: &Worked) {
    let place = place_of(typed::attribution(studio, session).holder, studio);
    let Some(bar) = bars.get_mut(place) else { return };
    bar.run_time_ms = bar.run_time_ms.saturating_add(session.run_ms);
    bar.entered_run_time_ms = bar.entered_run_time_ms.saturating_add(session.run_ms);
    let band = KnobBand::of(session.said.knob_per_mille.and_then(PerMille::new));
    if let Some(part) = bar.bands.get_mut(band.index()) {
        part.run_time_ms = part.run_time_ms.saturating_add(session.run_ms);
    }
}

/// Adds one log's running to the bars; returns how many bursts that were.
fn add_log(bars: &mut [UsageBar], studio: &Studio, log: &LedgerLog<'_>, only: Option<MachineTag>) -> u64 {
    let mut bursts = 0;
    for line in log.lines.iter().filter(|line| only.is_none() || line.machine == only) {
        bursts += 1;
        let Some(bar) = bars.get_mut(place_of(line.attribution.holder, studio)) else { continue };
        for piece in line.burst.pieces(&log.facts.segments, studio.marks(line.machine)) {
            let band = KnobBand::of(piece.knob.map(|knob| knob.per_mille));
            bar.run_time_ms = bar.run_time_ms.saturating_add(piece.run.0);
            if let Some(part) = bar.bands.get_mut(band.index()) {
                part.run_time_ms = part.run_time_ms.saturating_add(piece.run.0);
                part.edges = part.edges.saturating_add(u64::from(piece.edges));
            }
        }
    }
    bursts
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::entries::WorkChange::{Paused, Started};
    use crate::entries::{EntryBody, KnobMarks};
    use crate::records::log_records::LogRecords;
    use crate::test_facts::{
        HOUR, MONDAY_8, anchor, empty_log, entries, fitted, machine, rug, segment, work,
    };
    use shared_types::RawAngle;
    use shared_types::log::ClockSource::Host;

    #[test]
    fn running_is_sorted_by_commission_and_by_the_quarter_of_the_knobs_travel() {
        // Marks 1000 and 3000: angle 1200 is at 100 per mille, 2900 at 950; the third segment has no angle.
        let mut segments = vec![
            segment(10, 1, 0, 5_000, 60),
            segment(20, 1, 10_000, 7_000, 80),
            segment(30, 1, 7_200_000, 9_000, 90),
        ];
        segments[0].angle = Some(RawAngle::new(1200));
        segments[1].angle = Some(RawAngle::new(2900));
        segments[2].angle = None;
        let log = LogRecords { events: vec![anchor(1, 1, 0, MONDAY_8, Host)], segments, ..empty_log() };
        let marks = EntryBody::KnobMarked(KnobMarks {
            machine: MachineTag(1),
            slow: RawAngle::new(1000),
            fast: RawAngle::new(3000),
            rising: true,
        });
        let studio = Studio::of(&entries([
            machine(1),
            fitted(1, 0),
            marks,
            rug("Fox"),
            rug("Bear"),
            work("Fox", None, Started, MONDAY_8),
            work("Fox", None, Paused, MONDAY_8 + HOUR),
        ]));
        let logs = [log];
        let ledger = Ledger::of(&studio, &logs);
        let usage = UsageReport::of(&studio, &ledger, None, &TimeZone::UTC);
        let bars: Vec<_> =
            usage.bars.iter().map(|bar| (bar.counted_to, bar.rug.as_deref(), bar.run_time_ms)).collect();
        assert_eq!(bars, [(CountedTo::Rug, Some("Fox"), 12_000), (CountedTo::Nobody, None, 9_000)]);
        let run: Vec<_> = usage.bars[0].bands.iter().map(|band| band.run_time_ms).collect();
        assert_eq!(run, [5_000, 0, 0, 7_000, 0]);
        assert_eq!(usage.bars[1].bands[4].run_time_ms, 9_000);
        assert_eq!((usage.bursts, usage.sessions), (3, 2));
        let elsewhere = UsageReport::of(&studio, &ledger, Some(MachineTag(2)), &TimeZone::UTC);
        assert!(elsewhere.bars.is_empty());
    }
}
