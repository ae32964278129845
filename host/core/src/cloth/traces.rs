//! The seconds before tears, beside what the machine usually did: traces that the logger kept at moments drawn beforehand, taken the
//! same way, from the same session before the tear. A picture to look at; it never decides anything.

use serde::Serialize;
use shared_types::limits::TRACE_STEP_MS;
use shared_types::log::{PressKind, Trace};
use shared_types::{BootId, MachineTag, RecordSeq, UptimeMillis};

use super::before::LEFT_OUT_MS;
use super::harms::{HarmId, HarmRecord};
use crate::entries::{Harm, KnobMarks};
use crate::records::knob;
use crate::records::log_records::LoggedEvent;
use crate::sessions::SESSION_GAP_MS;
use crate::sessions::ledger::{Ledger, LedgerLine, LedgerLog};
use crate::stats::{self, Estimate, Level, MINUTE_MS, MatchedSet, Moment, matched_slope, redrawn};
use crate::studio::Studio;

/// Controls stand at least so far apart, and so far from the tear, in milliseconds of uptime.
pub const APART_MS: u64 = MINUTE_MS;

/// Where the knob stood at one moment of a trace.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct TracePoint {
    /// Running before the end of the trace, in milliseconds.
    pub before_end_ms: u32,
    /// The knob's place, per mille of travel.
    pub knob_per_mille: u16,
    /// Edges in the half second.
    pub edges: u16,
}

/// Below so many informative tears there are only the pictures.
pub const LEAST_INFORMATIVE: u64 = 10;
/// The slope is told for a tenth of the knob's travel. Per mille.
const SLOPE_STEP: f64 = 100.0;

/// One trace.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct TraceLine {
    /// Oldest first.
    pub points: Vec<TracePoint>,
}

/// A tear with its trace and the controls of its session.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct TearTrace {
    /// The tear.
    pub tear: HarmId,
    /// The seconds before it.
    pub before: TraceLine,
    /// Controls of the same session before the tear.
    pub controls: Vec<TraceLine>,
}

/// The series of the picture `traces`.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct TraceReport {
    /// The machine's name.
    pub machine_name: String,
    /// Tears with a trace, in the order of logs and records.
    pub tears: Vec<TearTrace>,
    /// Tears without a trace that shows the knob: noted by hand, or no sensor.
    pub tears_without_trace: u64,
    /// Tears with a trace and at least one control, the knob known in both.
    pub informative_tears: u64,
    /// The seconds before tears in numbers; null below ten informative tears. Never the verdict.
    pub numbers: Option<BeforeNumbers>,
}

/// Where the knob stood before tears against the same sessions' random moments, in numbers.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct BeforeNumbers {
    /// The sum over tears of the knob before the tear less its mean over the session's traces, weighted by strokes. Per mille.
    pub sum_of_differences_per_mille: f64,
    /// The same for one tear.
    pub mean_difference_per_mille: f64,
    /// How often a sum at least as far from zero comes about when each tear's place is drawn anew among its session's traces, by
    /// their strokes. Exact. Not the verdict, and in no words.
    pub p_value: f64,
    /// By what factor the chance of a tear grows for a tenth of the knob's travel, by conditional regression with Firth's penalty.
    pub factor_for_a_tenth_of_the_knob: Estimate,
}

/// The seconds before tears without the traces themselves.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct SecondsBefore {
    /// Tears with a trace and at least one control.
    pub informative_tears: u64,
    /// Null below ten of them.
    pub numbers: Option<BeforeNumbers>,
}

/// Gathers the traces of a machine.
#[must_use]
pub fn traces(
    studio: &Studio,
    ledger: &Ledger<'_>,
    harms: &[HarmRecord],
    machine: MachineTag,
) -> TraceReport {
    let mut tears = Vec::new();
    let counted =
        |harm: &&HarmRecord| harm.counts() && harm.harm == Harm::Tear && harm.machine == Some(machine);
    for log in &ledger.logs {
        for harm in harms.iter().filter(counted) {
            if let HarmId::Press(key, seq) = harm.id
                && key == log.facts.key
            {
                tears.extend(of_tear(studio, log, harm.id, seq, machine));
            }
        }
    }
    let number = |count: usize| u64::try_from(count).unwrap_or(u64::MAX);
    let sets: Vec<MatchedSet> = tears.iter().filter_map(TearTrace::matched).collect();
    let informative_tears = number(sets.len());
    TraceReport {
        numbers: (informative_tears >= LEAST_INFORMATIVE).then(|| in_numbers(&sets)).flatten(),
        machine_name: studio.machine(machine).map(|card| card.name.clone()).unwrap_or_default(),
        tears_without_trace: number(harms.iter().filter(counted).count()).saturating_sub(number(tears.len())),
        informative_tears,
        tears,
    }
}

/// The numbers that ten tears and more are good for.
fn in_numbers(sets: &[MatchedSet]) -> Option<BeforeNumbers> {
    let drawn = redrawn(sets)?;
    let tears = f64::from(u32::try_from(sets.len()).ok()?);
    Some(BeforeNumbers {
        sum_of_differences_per_mille: drawn.sum_of_differences,
        mean_difference_per_mille: drawn.sum_of_differences / tears,
        p_value: drawn.p_value,
        factor_for_a_tenth_of_the_knob: matched_slope(sets, SLOPE_STEP, Level::USUAL),
    })
}

impl TearTrace {
    /// The tear's moment and those of its controls; none where there is nothing to compare.
    fn matched(&self) -> Option<MatchedSet> {
        let own = self.before.moment()?;
        let others = self.controls.iter().filter_map(TraceLine::moment);
        let set: MatchedSet = std::iter::once(own).chain(others).collect();
        (set.len() > 1).then_some(set)
    }
}

impl TraceLine {
    /// The knob's mean place, by strokes, without the last second: the same for tears and for random moments.
    fn moment(&self) -> Option<Moment> {
        let (mut weighted, mut edges) = (0_u64, 0_u64);
        for point in self.points.iter().filter(|point| point.before_end_ms >= LEFT_OUT_MS) {
            weighted += u64::from(point.knob_per_mille) * u64::from(point.edges);
            edges += u64::from(point.edges);
        }
        let value = (weighted + edges / 2).checked_div(edges).and_then(|mean| u16::try_from(mean).ok())?;
        Some(Moment { value, weight: stats::number(edges) })
    }
}

fn of_tear(
    studio: &Studio,
    log: &LedgerLog<'_>,
    id: HarmId,
    seq: RecordSeq,
    machine: MachineTag,
) -> Option<TearTrace> {
    let marks = studio.marks(Some(machine))?;
    let event = log.facts.events.iter().find(|event| event.seq == seq)?;
    let LoggedEvent::Press(press) = &event.what else { return None };
    if press.kind != PressKind::Tear {
        return None;
    }
    let before = line(&press.trace, marks)?;
    let began = session_began(log, machine, event.boot, event.at);
    // The running that the tear ended lies before the press by as long as the needle stood still.
    let tore_at = event.at.0.saturating_sub(u64::from(press.still_ms));
    let mut last_taken = tore_at;
    let mut controls = Vec::new();
    for other in log.facts.events.iter().rev() {
        let LoggedEvent::Control(trace) = &other.what else { continue };
        let is_in_session = other.boot == event.boot
            && began.is_some_and(|began| other.at >= began)
            && other.at.0.saturating_add(APART_MS) <= last_taken;
        if is_in_session && let Some(control) = line(trace, marks) {
            last_taken = other.at.0;
            controls.push(control);
        }
    }
    Some(TearTrace { tear: id, before, controls })
}

/// Uptime at which the session of a moment began: back over gaps of at most ten minutes, within the boot.
fn session_began(
    log: &LedgerLog<'_>,
    machine: MachineTag,
    boot: BootId,
    at: UptimeMillis,
) -> Option<UptimeMillis> {
    let own =
        |line: &&LedgerLine| line.burst.boot == boot && line.machine == Some(machine) && line.burst.at <= at;
    let mut began: Option<UptimeMillis> = None;
    for line in log.lines.iter().rev().filter(own) {
        if began.is_some_and(|began| began.0.saturating_sub(line.burst.ends().0) > SESSION_GAP_MS) {
            break;
        }
        began = Some(line.burst.at);
    }
    began
}

fn line(trace: &Trace, marks: &KnobMarks) -> Option<TraceLine> {
    let mut points = Vec::new();
    let mut before_end_ms = 0;
    for (age, step) in trace.steps.iter().rev().enumerate() {
        if let Some(place) = step.angle.and_then(|angle| knob::place(marks, angle)) {
            points.push(TracePoint {
                before_end_ms,
                knob_per_mille: place.per_mille.get(),
                edges: step.edges,
            });
        }
        before_end_ms += u32::from(if age == 0 { trace.newest_ms } else { TRACE_STEP_MS });
    }
    points.reverse();
    (!points.is_empty()).then_some(TraceLine { points })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::entries::EntryId;

    fn line(points: &[(u32, u16, u16)]) -> TraceLine {
        let point = |(before_end_ms, knob_per_mille, edges): &(u32, u16, u16)| TracePoint {
            before_end_ms: *before_end_ms,
            knob_per_mille: *knob_per_mille,
            edges: *edges,
        };
        TraceLine { points: points.iter().map(point).collect() }
    }

    #[test]
    fn the_last_second_is_left_out_of_tears_and_of_random_moments_alike() {
        // (10 * 800 + 30 * 600) / 40 = 650 by hand; what is newer than a second says nothing.
        let seen = line(&[(1_500, 800, 10), (1_000, 600, 30), (500, 20, 9), (0, 0, 9)]);
        assert_eq!(seen.moment(), Some(Moment { value: 650, weight: 40.0 }));
        assert_eq!(line(&[(500, 20, 9), (0, 0, 9)]).moment(), None);
        assert_eq!(line(&[(1_500, 800, 0)]).moment(), None);
    }

    #[test]
    fn ten_tears_are_needed_and_each_needs_a_random_moment() {
        let id = HarmId::Entry(EntryId(1));
        let (high, low) = (line(&[(1_000, 700, 5)]), line(&[(1_000, 500, 15)]));
        let alone = TearTrace { tear: id, before: high.clone(), controls: Vec::new() };
        assert_eq!(alone.matched(), None);
        let set = TearTrace { tear: id, before: high, controls: vec![low] }.matched().unwrap();
        // The session's mean is (5 * 700 + 15 * 500) / 20 = 550: 150 above it, ten times. Each tear falls on the higher of the two
        // with a chance of a quarter; only ten of ten lie so far from the mean: below it, ten times 50 is 500.
        let numbers = in_numbers(&vec![set; 10]).unwrap();
        assert!((numbers.sum_of_differences_per_mille - 1_500.0).abs() < 1e-9, "{numbers:?}");
        assert!((numbers.mean_difference_per_mille - 150.0).abs() < 1e-9, "{numbers:?}");
        assert!((numbers.p_value - 0.25_f64.powi(10)).abs() < 1e-12, "{numbers:?}");
        assert!(numbers.factor_for_a_tenth_of_the_knob.estimate.unwrap() > 1.0, "{numbers:?}");
    }
}
