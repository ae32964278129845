//! The seconds before tears, beside what the machine usually did: traces that the logger kept at moments drawn beforehand, taken the
//! same way, from the same session before the tear. A picture to look at; it never decides anything.

use serde::Serialize;
use shared_types::limits::TRACE_STEP_MS;
use shared_types::log::{PressKind, Trace};
use shared_types::{BootId, MachineTag, RecordSeq, UptimeMillis};

use super::harms::{HarmId, HarmRecord};
use crate::core::entries::{Harm, KnobMarks};
use crate::core::facts::Happening;
use crate::core::knob;
use crate::core::ledger::{Ledger, LedgerLine, LedgerLog};
use crate::core::sessions::SESSION_GAP_MS;
use crate::core::studio::Studio;

/// Controls stand at least so far apart, and so far from the tear, in milliseconds of uptime.
pub const APART_MS: u64 = 60_000;

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
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct TraceReport {
    /// The machine's name.
    pub machine_name: String,
    /// Tears with a trace, in the order of logs and records.
    pub tears: Vec<TearTrace>,
    /// Tears without a trace that shows the knob: noted by hand, or no sensor.
    pub tears_without_trace: u64,
    /// Tears with a trace and at least one control.
    pub informative_tears: u64,
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
    TraceReport {
        machine_name: studio.machine(machine).map(|card| card.name.clone()).unwrap_or_default(),
        tears_without_trace: number(harms.iter().filter(counted).count()).saturating_sub(number(tears.len())),
        informative_tears: number(tears.iter().filter(|tear| !tear.controls.is_empty()).count()),
        tears,
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
    let Happening::Press(press) = &event.what else { return None };
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
        let Happening::Control(trace) = &other.what else { continue };
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
