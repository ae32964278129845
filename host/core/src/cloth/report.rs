//! What `speed` shows for a machine: tears and near-misses by band, with the running behind them and exact limits. Every sum adds
//! up: the bands and what could not be placed make the totals, in tears, strokes and milliseconds.

use std::collections::{BTreeMap, BTreeSet};

use serde::Serialize;
use shared_types::MachineTag;

use super::banded::{Banded, Part, Seen};
use super::by_name::{Named, Sorting};
use super::cost::{CostReport, Grounds, cost_report, costs_of};
use super::exposure::exposure;
use super::exposure_sequence::{ExposureSequence, Step};
use super::harm_lines::{HarmLine, harm_lines};
use super::harms::{HarmId, HarmRecord};
use super::hints::{Hints, hints};
use super::looks::Verdict;
use super::notes::{Notes, notes};
use super::since::{Since, since_at_harms, since_tensioning};
use super::sorted_strokes::SortedStrokes;
use super::speed_by::SpeedBy;
use super::traces::{SecondsBefore, traces};
use super::verdict::{Missing, Pace, Primary, primary};
use crate::entries::InForce;
use crate::heavy::speed::ceiling_said;
use crate::records::not_recorded;
use crate::rugs::commission::Commissions;
use crate::sessions::ledger::Ledger;
use crate::stats::{DAY_MS, Estimate, Level, Observed, TooManyEvents, hours, number, rate};
use crate::studio::{MachineCard, RugIndex, Studio};

/// Less than four weeks of work say nothing about a maker's pace.
const SHORTEST_PACE_MS: u64 = 28 * DAY_MS;

/// One band.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct SpeedBand {
    /// Lowest place of the knob, per mille of travel; null when sorted by rate.
    pub knob_low_per_mille: Option<u32>,
    /// Highest place of the knob, included.
    pub knob_high_per_mille: Option<u32>,
    /// Lowest rate, strokes per second; null when sorted by knob.
    pub rate_low_strokes_per_second: Option<f64>,
    /// Highest rate, included; null in the fastest band.
    pub rate_high_strokes_per_second: Option<f64>,
    /// What happened in it.
    #[serde(flatten)]
    pub part: Part,
    /// Tears per 100,000 strokes with exact limits.
    pub tears_per_100000_strokes: Estimate,
    /// Tears per hour of run time with exact limits.
    pub tears_per_hour: Estimate,
    /// Near-misses per 100,000 strokes with exact limits.
    pub near_misses_per_100000_strokes: Estimate,
}

/// Tears by speed of one machine.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SpeedReport {
    /// The machine's number.
    pub machine: MachineTag,
    /// Its name.
    pub machine_name: String,
    /// By what running is sorted.
    pub by: SpeedBy,
    /// How sure all limits are.
    pub level: f64,
    /// Slow to fast.
    pub bands: Vec<SpeedBand>,
    /// Running without a reading, and tears of which the knob or rate before is not known.
    pub unknown_knob: Part,
    /// Bands and unknown together.
    pub totals: Part,
    /// All tears over all strokes.
    pub tears_per_100000_strokes: Estimate,
    /// All tears over all run time.
    pub tears_per_hour: Estimate,
    /// The same by rug, in the same bands.
    pub by_rug: Vec<Named>,
    /// The same by cloth lot, in the same bands.
    pub by_cloth_lot: Vec<Named>,
    /// Each tear and near-miss that counts, in the order of time, what cannot be dated first.
    pub harms: Vec<HarmLine>,
    /// Tears and near-misses among the strokes of their rugs, by the knob whatever the bands are sorted by.
    pub sorted_strokes: SortedStrokes,
    /// Rugs that were worked on with the machine.
    pub rugs: u64,
    /// What may be said of the primary question, by the knob whatever the bands are sorted by.
    pub verdict: Verdict,
    /// What the next look takes; null when the verdict tells something.
    pub missing: Option<Missing>,
    /// The primary question: fast against slow, per stroke, within rugs.
    pub primary: Primary,
    /// Hints beside it; null before there is a cut between slow and fast.
    pub hints: Option<Hints>,
    /// What speed costs; null until the maker has entered what a tear and an hour cost.
    pub decision: Option<CostReport>,
    /// Tears by run time since the cloth was tensioned, the likelier cause.
    pub since_tensioning: Since,
    /// The knob in the seconds before tears; never the verdict.
    pub seconds_before: SecondsBefore,
    /// Dry runs and test runs: no cloth to tear, in no band.
    pub care_run_time_ms: u64,
    /// Run time of which no record tells; in no band.
    pub not_recorded_run_time_ms: u64,
    /// Run time that was typed in; it has no strokes and is in no band.
    pub by_hand_run_time_ms: u64,
    /// What was noted without a logger, beside it; null where no session was typed in.
    pub notes: Option<Notes>,
    /// Tears and near-misses at a logger that sat on no machine; in no sum.
    pub on_no_machine: u64,
}

/// Everything that the maker and the loggers told.
#[derive(Clone, Copy, Debug)]
pub struct Known<'a> {
    /// The maker's entries.
    pub entries: &'a InForce<'a>,
    /// The entries as they stand.
    pub studio: &'a Studio,
    /// All running.
    pub ledger: &'a Ledger<'a>,
    /// All tears and near-misses.
    pub harms: &'a [HarmRecord],
}

/// Every tear and near-miss of all machines, those taken back too.
#[must_use]
pub fn all_harm_lines(known: Known<'_>) -> Vec<HarmLine> {
    let Known { entries, studio, ledger, harms } = known;
    let mut since_ms: BTreeMap<HarmId, u64> = BTreeMap::new();
    for machine in &studio.machines {
        let course = ExposureSequence::of(entries, studio, ledger, harms, machine.tag);
        since_ms.extend(since_at_harms(&course.steps));
    }
    harm_lines(harms, &since_ms, |_| true)
}

/// Sets a machine's tears against its running.
///
/// # Errors
/// When two bands hold more tears than can be compared.
pub fn speed_report(
    known: Known<'_>,
    machine: &MachineCard,
    by: SpeedBy,
    level: Level,
) -> Result<SpeedReport, TooManyEvents> {
    let Known { entries, studio, ledger, harms } = known;
    let ran = exposure(studio, ledger, machine.tag, by);
    let own: Vec<&HarmRecord> =
        harms.iter().filter(|harm| harm.counts() && harm.machine == Some(machine.tag)).collect();
    let seen: Vec<Seen> = own
        .iter()
        .map(|harm| Seen {
            harm: harm.harm,
            reading: match by {
                SpeedBy::Knob => harm.knob_before.map(|knob| u32::from(knob.get())),
                SpeedBy::Rate => harm.rate_before,
            },
        })
        .collect();
    let banded = Banded::of(&ran, &seen, machine.ratio);
    let by_hand = studio.worked.iter().filter(|session| session.said.machine == machine.tag);
    let totals = banded.totals();
    let course = ExposureSequence::of(entries, studio, ledger, harms, machine.tag);
    let steps = &course.steps;
    let span_ms = span_ms(ledger, machine.tag);
    let pace = Pace { tears: totals.tears, run_time_ms: totals.run_time_ms, span_ms };
    let primary = primary(steps, pace, level)?;
    let sorting = Sorting { tops: &banded.tops, by, ratio: machine.ratio };
    let before = traces(studio, ledger, harms, machine.tag);
    Ok(SpeedReport {
        machine: machine.tag,
        machine_name: machine.name.clone(),
        by,
        level: level.share(),
        bands: banded.bands(by, level),
        unknown_knob: banded.unknown,
        totals,
        tears_per_100000_strokes: per_100000_strokes(totals.tears, totals, level),
        tears_per_hour: per_hour(totals.tears, totals, level),
        by_rug: sorting.by_rug(&course, studio, &own),
        by_cloth_lot: sorting.by_cloth_lot(&course, &own),
        harms: harm_lines(harms, &since_at_harms(steps), |harm| {
            harm.counts() && harm.machine == Some(machine.tag)
        }),
        sorted_strokes: SortedStrokes::of(studio, &course, machine.ratio),
        rugs: rugs_in(steps),
        verdict: primary.verdict,
        missing: primary.to_next_look,
        hints: primary.cut_knob_per_mille.map(|cut| hints(steps, cut, level)),
        decision: costs_of(entries)
            .is_some()
            .then(|| weighed(known, machine, &course, primary.verdict, level)),
        since_tensioning: since_tensioning(steps, machine.ratio, level)?,
        seconds_before: SecondsBefore {
            informative_tears: before.informative_tears,
            numbers: before.numbers,
        },
        primary,
        care_run_time_ms: ran.care.run_ms,
        not_recorded_run_time_ms: not_recorded_ms(known, machine.tag),
        by_hand_run_time_ms: by_hand.map(|session| session.run_ms).sum(),
        notes: notes(studio, harms, machine, level),
        on_no_machine: u64::try_from(
            harms.iter().filter(|harm| harm.counts() && harm.machine.is_none()).count(),
        )
        .unwrap_or(u64::MAX),
    })
}

/// Run time of a machine of which no record tells, in milliseconds.
fn not_recorded_ms(known: Known<'_>, machine: MachineTag) -> u64 {
    let logs = known.ledger.logs.iter();
    logs.flat_map(|log| not_recorded::of_log(log.facts, &known.studio.fittings))
        .filter(|loss| loss.machine == Some(machine))
        .map(|loss| loss.run.0)
        .sum()
}

/// Weighs what a machine's speed costs.
///
/// # Errors
/// When there are more tears than can be compared.
pub fn cost_of_speed(
    known: Known<'_>,
    machine: &MachineCard,
    level: Level,
) -> Result<CostReport, TooManyEvents> {
    let course = ExposureSequence::of(known.entries, known.studio, known.ledger, known.harms, machine.tag);
    let verdict = primary(&course.steps, Pace::default(), level)?.verdict;
    Ok(weighed(known, machine, &course, verdict, level))
}

fn weighed(
    known: Known<'_>,
    machine: &MachineCard,
    course: &ExposureSequence,
    verdict: Verdict,
    level: Level,
) -> CostReport {
    let accepted = ceiling_said(known.entries, machine.tag);
    let grounds = Grounds {
        machine,
        course,
        verdict,
        costs: costs_of(known.entries),
        accepted_per_mille: accepted.and_then(|said| said.per_mille()),
    };
    CostReport { currency: Commissions::of(known.entries).terms.currency, ..cost_report(grounds, level) }
}

impl Banded {
    fn bands(&self, by: SpeedBy, level: Level) -> Vec<SpeedBand> {
        let lows = [0].into_iter().chain(self.tops.iter().map(|top| top + 1));
        let last = self.parts.len().saturating_sub(1);
        let tenths = |rate: u32| f64::from(rate) / 10.0;
        let limits = lows.zip(&self.tops).zip(&self.parts).enumerate();
        limits
            .map(|(index, ((low, top), part))| {
                let is_last = index == last;
                let knob = by == SpeedBy::Knob;
                SpeedBand {
                    knob_low_per_mille: knob.then_some(low),
                    knob_high_per_mille: knob.then_some(if is_last { 1000 } else { *top }),
                    rate_low_strokes_per_second: (!knob).then_some(tenths(low)),
                    rate_high_strokes_per_second: (!knob && !is_last).then_some(tenths(*top)),
                    part: *part,
                    tears_per_100000_strokes: per_100000_strokes(part.tears, *part, level),
                    tears_per_hour: per_hour(part.tears, *part, level),
                    near_misses_per_100000_strokes: per_100000_strokes(part.near_misses, *part, level),
                }
            })
            .collect()
    }
}

fn per_100000_strokes(events: u64, part: Part, level: Level) -> Estimate {
    rate(Observed { events, exposure: number(part.strokes) / 100_000.0 }, level)
}

fn per_hour(events: u64, part: Part, level: Level) -> Estimate {
    rate(Observed { events, exposure: hours(part.run_time_ms) }, level)
}

fn rugs_in(steps: &[Step]) -> u64 {
    let rugs: BTreeSet<RugIndex> = steps
        .iter()
        .filter_map(|step| match step {
            Step::Ran(ran) => ran.rug,
            _ => None,
        })
        .collect();
    u64::try_from(rugs.len()).unwrap_or(u64::MAX)
}

/// From the first to the last moment at which the machine is known to have run.
fn span_ms(ledger: &Ledger<'_>, machine: MachineTag) -> Option<f64> {
    let lines = || ledger.logs.iter().flat_map(|log| &log.lines).filter(|line| line.machine == Some(machine));
    let first = lines().filter_map(|line| line.when.latest()).min()?;
    let last = lines().filter_map(|line| line.when.earliest()).max()?;
    u64::try_from(last.0.saturating_sub(first.0)).ok().filter(|span| *span >= SHORTEST_PACE_MS).map(number)
}

#[cfg(test)]
#[path = "report_tests.rs"]
mod tests;
