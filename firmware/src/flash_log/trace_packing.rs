//! A trace in few bits: what its steps differ by, in codes whose parameters the trace brings along.
//!
//! `newest_ms` as a number; a bit for *all twenty steps are there*, else their count; then two lists of numbers, one for
//! the edges and one for the angles. Each step's edges are told as the difference from what the rate of the last
//! segments lets expect, or from the step before; its angle as the change from the last segment's angle, or from the
//! step before. Which of the two, and the parameter of the Rice code, stand in front of each list: whatever came out
//! shortest.

use heapless::Vec;
use shared_types::RawAngle;
use shared_types::limits::{TRACE_STEP_MS, TRACE_STEPS};
use shared_types::log::{Trace, TraceStep};

use super::bits::{BitReader, BitWriter, rice_cost};
use super::bytes::{unzigzag, zigzag};
use super::delta_base::{DeltaBase, angle_after, angle_change};

/// Bits of the count of steps, and of a Rice parameter.
const COUNT_BITS: u32 = 5;
const PARAMETER_BITS: u32 = 3;

const _: () = assert!(TRACE_STEPS < 1 << COUNT_BITS, "a trace tells its steps in five bits");

/// What a list's numbers are told from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Reference {
    Base,
    StepBefore,
}

type Numbers = Vec<u64, TRACE_STEPS>;

/// How one list is written.
struct Plan {
    reference: Reference,
    low_bits: u32,
    numbers: Numbers,
}

fn cheapest(list: impl Fn(Reference) -> Option<Numbers>) -> Option<Plan> {
    let mut best: Option<(u64, Plan)> = None;
    for reference in [Reference::Base, Reference::StepBefore] {
        let numbers = list(reference)?;
        for low_bits in 0..1 << PARAMETER_BITS {
            let cost = numbers.iter().map(|number| rice_cost(*number, low_bits)).sum();
            if best.as_ref().is_none_or(|(least, _)| cost < *least) {
                best = Some((cost, Plan { reference, low_bits, numbers: numbers.clone() }));
            }
        }
    }
    best.map(|(_, plan)| plan)
}

impl Plan {
    fn put(&self, writer: &mut BitWriter<'_>) -> Option<()> {
        put_manner(self.reference, self.low_bits, writer)?;
        self.numbers.iter().try_for_each(|number| writer.put_rice(*number, self.low_bits))
    }
}

fn put_manner(reference: Reference, low_bits: u32, writer: &mut BitWriter<'_>) -> Option<()> {
    writer.put(u64::from(reference == Reference::StepBefore), 1)?;
    writer.put(u64::from(low_bits), PARAMETER_BITS)
}

fn take_manner(reader: &mut BitReader<'_>) -> Option<(Reference, u32)> {
    let reference = if reader.take(1)? == 1 { Reference::StepBefore } else { Reference::Base };
    Some((reference, u32::try_from(reader.take(PARAMETER_BITS)?).ok()?))
}

fn edges_at_base(base: &DeltaBase) -> u16 {
    u16::try_from(base.edges_in(u32::from(TRACE_STEP_MS))).unwrap_or(u16::MAX)
}

/// Zero: the sensor had a fault; else one more than the change.
fn angle_number(known: RawAngle, angle: Option<RawAngle>) -> Option<u64> {
    angle.map_or(Some(0), |angle| Some(1 + angle_change(known, angle)?))
}

/// Swaps the numbers for *no angle* and *no change*: the one that nearly always stands there is to be zero.
const fn usual_first(number: u64) -> u64 {
    match number {
        0 => 1,
        1 => 0,
        other => other,
    }
}

pub(super) fn pack_trace(trace: &Trace, base: &DeltaBase, writer: &mut BitWriter<'_>) -> Option<()> {
    writer.put_number(u64::from(trace.newest_ms))?;
    let is_full = trace.steps.len() == TRACE_STEPS;
    writer.put(u64::from(is_full), 1)?;
    if !is_full {
        writer.put(u64::try_from(trace.steps.len()).ok()?, COUNT_BITS)?;
    }
    let edges = cheapest(|reference| {
        let mut before = edges_at_base(base);
        let mut numbers = Numbers::new();
        for step in &trace.steps {
            numbers.push(zigzag(i64::from(step.edges) - i64::from(before))).ok()?;
            if reference == Reference::StepBefore {
                before = step.edges;
            }
        }
        Some(numbers)
    });
    let angles = cheapest(|reference| {
        let mut known = base.angle();
        let mut numbers = Numbers::new();
        for step in &trace.steps {
            numbers.push(usual_first(angle_number(known, step.angle)?)).ok()?;
            if reference == Reference::StepBefore {
                known = step.angle.unwrap_or(known);
            }
        }
        Some(numbers)
    });
    edges?.put(writer)?;
    angles?.put(writer)
}

pub(super) fn unpack_trace(base: &DeltaBase, reader: &mut BitReader<'_>) -> Option<Trace> {
    let newest_ms = u16::try_from(reader.take_number()?).ok()?;
    let count =
        if reader.take(1)? == 1 { TRACE_STEPS } else { usize::try_from(reader.take(COUNT_BITS)?).ok()? };
    let mut steps: Vec<TraceStep, TRACE_STEPS> = Vec::new();
    let (reference, low_bits) = take_manner(reader)?;
    let mut before = edges_at_base(base);
    for _ in 0..count {
        let off = unzigzag(reader.take_rice(low_bits)?);
        let edges = u16::try_from(i64::from(before).checked_add(off)?).ok()?;
        steps.push(TraceStep { edges, angle: None }).ok()?;
        if reference == Reference::StepBefore {
            before = edges;
        }
    }
    let (reference, low_bits) = take_manner(reader)?;
    let mut known = base.angle();
    for step in &mut steps {
        step.angle = match usual_first(reader.take_rice(low_bits)?).checked_sub(1) {
            None => None,
            Some(change) => Some(angle_after(known, change)?),
        };
        if reference == Reference::StepBefore {
            known = step.angle.unwrap_or(known);
        }
    }
    Some(Trace { newest_ms, steps })
}
