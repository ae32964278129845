//! A trace as few bytes: half a byte for a step's edges and nothing for an angle that stays.
//!
//! `newest_ms`, step count, one bit per step for *the angle changes here*, half a byte per step for the difference of
//! its edges from the step before, and then, step by step, what did not fit there.

use heapless::Vec;
use shared_types::RawAngle;
use shared_types::limits::{TRACE_STEP_MS, TRACE_STEPS};
use shared_types::log::{Trace, TraceStep};

use super::bytes::{ByteReader, ByteWriter, unzigzag, zigzag};
use super::packing::{Base, angle_after, angle_change};

/// The half byte that says: the difference follows in full.
const IN_FULL: u8 = 15;
/// The angle that says: the sensor had a fault.
const ANGLE_NONE: u64 = 0;

/// What the steps so far let expect of the next one.
struct Expected {
    edges: u16,
    known: RawAngle,
    angle: Option<RawAngle>,
}

impl Expected {
    fn at_start(base: &Base) -> Self {
        let edges = u16::try_from(base.edges_in(u32::from(TRACE_STEP_MS))).unwrap_or(u16::MAX);
        Self { edges, known: base.angle(), angle: Some(base.angle()) }
    }

    fn edges_off(&self, step: &TraceStep) -> u64 {
        zigzag(i64::from(step.edges) - i64::from(self.edges))
    }

    fn advance(&mut self, step: &TraceStep) {
        self.edges = step.edges;
        self.known = step.angle.unwrap_or(self.known);
        self.angle = step.angle;
    }
}

pub(super) fn pack_trace(trace: &Trace, base: &Base, writer: &mut ByteWriter<'_>) -> Option<()> {
    writer.put_varint(u64::from(trace.newest_ms))?;
    writer.put_byte(u8::try_from(trace.steps.len()).ok()?)?;
    let mut expected = Expected::at_start(base);
    for eight in trace.steps.chunks(8) {
        let mut changes = 0;
        for (place, step) in eight.iter().enumerate() {
            changes |= u8::from(step.angle != expected.angle) << place;
            expected.advance(step);
        }
        writer.put_byte(changes)?;
    }
    expected = Expected::at_start(base);
    for pair in trace.steps.chunks(2) {
        let mut halves = 0;
        for (place, step) in pair.iter().enumerate() {
            let half = u8::try_from(expected.edges_off(step)).unwrap_or(IN_FULL).min(IN_FULL);
            halves |= half << (4 * place);
            expected.advance(step);
        }
        writer.put_byte(halves)?;
    }
    expected = Expected::at_start(base);
    for step in &trace.steps {
        let off = expected.edges_off(step);
        if off >= u64::from(IN_FULL) {
            writer.put_varint(off)?;
        }
        if step.angle != expected.angle {
            writer.put_varint(match step.angle {
                None => ANGLE_NONE,
                Some(angle) => 1 + angle_change(expected.known, angle)?,
            })?;
        }
        expected.advance(step);
    }
    Some(())
}

pub(super) fn unpack_trace(base: &Base, reader: &mut ByteReader<'_>) -> Option<Trace> {
    let newest_ms = u16::try_from(reader.take_varint()?).ok()?;
    let count = usize::from(reader.take_byte()?);
    let changes = reader.take_slice(count.div_ceil(8))?;
    let halves = reader.take_slice(count.div_ceil(2))?;
    let mut expected = Expected::at_start(base);
    let mut steps: Vec<TraceStep, TRACE_STEPS> = Vec::new();
    for place in 0..count {
        let half = (halves.get(place / 2)? >> (4 * (place % 2))) & 0x0F;
        let off = if half == IN_FULL { reader.take_varint()? } else { u64::from(half) };
        let edges = i64::from(expected.edges).checked_add(unzigzag(off))?;
        let angle = if (changes.get(place / 8)? >> (place % 8)) & 1 == 0 {
            expected.angle
        } else {
            match reader.take_varint()?.checked_sub(1) {
                None => None,
                Some(change) => Some(angle_after(expected.known, change)?),
            }
        };
        let step = TraceStep { edges: u16::try_from(edges).ok()?, angle };
        expected.advance(&step);
        steps.push(step).ok()?;
    }
    Some(Trace { newest_ms, steps })
}
