//! Records as few bytes: each is told by its difference from what the records before it let expect.
//!
//! What is expected is a [`Base`]; it starts afresh at each sector's head, so that a lost sector costs no other. Whatever
//! does not fit the short forms is written whole, in the link's encoding, so every record comes back as it was.

use shared_types::limits::{TRACE_STEP_MS, TRACE_STEPS};
use shared_types::log::{Event, Press, PressKind, Record, Segment, Trace};
use shared_types::{BootId, RawAngle, RecordSeq, RunMillis, UptimeMillis};

use super::bytes::{ByteReader, ByteWriter, zigzag};
use super::entry::{MAX_ENTRY, MAX_SEGMENT_BODY, MIN_SEGMENT_BODY};
use super::trace_packing::{pack_trace, unpack_trace};

/// Kinds of entries with a two-byte head. A kind added later must leave the base alone: older firmware skips it.
mod kind {
    pub(super) const WHOLE: u8 = 1;
    pub(super) const ACKNOWLEDGED: u8 = 2;
    pub(super) const CONTROL: u8 = 3;
    pub(super) const NEAR_MISS: u8 = 4;
    pub(super) const TEAR: u8 = 5;
    pub(super) const CARE_DONE: u8 = 6;
    pub(super) const RETENSION: u8 = 7;
}

/// Whether an entry's head is of a kind that only a newer firmware knows.
pub(crate) const fn is_of_later_kind(head: u8) -> bool {
    head & 0x80 != 0 && (head >> 3) & 0x0F > kind::RETENSION
}

/// How a segment tells its angle.
const ANGLE_SAME: u8 = 1;
const ANGLE_MOVED: u8 = 2;
const ANGLE_NONE: u8 = 3;
const CONTINUES: u8 = 0x20;

/// What the records so far let expect of the next one.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Base {
    pub(crate) boot: BootId,
    /// The end of the last segment.
    pub(crate) end: UptimeMillis,
    /// The last angle that a segment knew.
    angle: RawAngle,
    /// Stroke periods of the last segment, and the milliseconds they took.
    periods: u32,
    period_ms: u32,
}

impl Base {
    /// What a sector's head lets expect.
    pub(crate) const fn at_head(boot: BootId, uptime: UptimeMillis) -> Self {
        Self { boot, end: uptime, angle: RawAngle::new(0), periods: 0, period_ms: 0 }
    }

    /// What to expect after `record`.
    pub(crate) fn after(mut self, record: &Record) -> Self {
        if record.boot != self.boot {
            self.boot = record.boot;
            self.end = record.at;
        }
        if let Event::Segment(segment) = &record.event {
            self.end = UptimeMillis(record.at.0.saturating_add(segment.run.0));
            self.angle = segment.angle.unwrap_or(self.angle);
            // A run that does not fit 32 bits is seven weeks long; it is written whole and predicts nothing.
            if let Ok(run) = u32::try_from(segment.run.0) {
                self.periods = segment.edges.saturating_sub(u32::from(!segment.continues));
                self.period_ms = run;
            }
        }
        self
    }

    /// Edges to be expected in `run_ms` of running at the last segment's rate, to the nearest.
    pub(super) fn edges_in(&self, run_ms: u32) -> u32 {
        let product = u64::from(self.periods) * u64::from(run_ms) + u64::from(self.period_ms) / 2;
        product
            .checked_div(u64::from(self.period_ms))
            .map_or(0, |edges| u32::try_from(edges).unwrap_or(u32::MAX))
    }

    pub(super) const fn angle(&self) -> RawAngle {
        self.angle
    }

    fn edges_expected(&self, run_ms: u32, continues: bool) -> i64 {
        i64::from(self.edges_in(run_ms)) + i64::from(!continues)
    }
}

/// One entry, taken apart.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Packed {
    Record(Record),
    /// Everything below is acknowledged.
    Acknowledged(RecordSeq),
}

/// Head and body of `record`, without the check; `None` only if it does not even fit whole.
pub(crate) fn pack(record: &Record, base: &Base, out: &mut [u8; MAX_ENTRY]) -> Option<usize> {
    pack_short(record, base, out).or_else(|| {
        let [head, length, body @ ..] = out;
        let used = postcard::to_slice(record, body).ok()?.len();
        finish_long(kind::WHOLE, used, head, length)
    })
}

/// Head and body of the entry that says that everything below is acknowledged.
pub(crate) fn pack_acknowledged(below: RecordSeq, out: &mut [u8; MAX_ENTRY]) -> Option<usize> {
    let [head, length, body @ ..] = out;
    let mut writer = ByteWriter::new(body);
    writer.put_varint(u64::from(below.0))?;
    finish_long(kind::ACKNOWLEDGED, writer.used(), head, length)
}

fn finish_long(kind: u8, used: usize, head: &mut u8, length: &mut u8) -> Option<usize> {
    *head = 0x80 | (kind << 3);
    *length = u8::try_from(used).ok()?;
    Some(2 + used)
}

fn pack_short(record: &Record, base: &Base, out: &mut [u8; MAX_ENTRY]) -> Option<usize> {
    if record.boot != base.boot {
        return None;
    }
    let since_end = record.at.0.checked_sub(base.end.0)?;
    match &record.event {
        Event::Segment(segment) => pack_segment(segment, since_end, base, out),
        Event::Press(press) => {
            let [head, length, body @ ..] = out;
            let mut writer = ByteWriter::new(body);
            writer.put_varint(since_end)?;
            // Zero: it has stood still since the last segment's end, as nearly always.
            let as_expected = u64::from(press.still_ms) == since_end;
            writer.put_varint(if as_expected { 0 } else { u64::from(press.still_ms) + 1 })?;
            pack_trace(&press.trace, base, &mut writer)?;
            finish_long(kind_of(press.kind), writer.used(), head, length)
        }
        Event::Control(trace) => {
            let [head, length, body @ ..] = out;
            let mut writer = ByteWriter::new(body);
            writer.put_varint(since_end)?;
            pack_trace(trace, base, &mut writer)?;
            finish_long(kind::CONTROL, writer.used(), head, length)
        }
        _ => None,
    }
}

const fn kind_of(press: PressKind) -> u8 {
    match press {
        PressKind::NearMiss => kind::NEAR_MISS,
        PressKind::Tear => kind::TEAR,
        PressKind::CareDone => kind::CARE_DONE,
        PressKind::Retension => kind::RETENSION,
    }
}

fn pack_segment(segment: &Segment, gap: u64, base: &Base, out: &mut [u8; MAX_ENTRY]) -> Option<usize> {
    let run = u32::try_from(segment.run.0).ok()?;
    let [head, body @ ..] = out;
    let mut writer = ByteWriter::new(body.get_mut(..MAX_SEGMENT_BODY)?);
    writer.put_varint(gap)?;
    writer.put_varint(u64::from(run))?;
    writer.put_zigzag(i64::from(segment.edges) - base.edges_expected(run, segment.continues))?;
    let angle_code = match segment.angle {
        None => ANGLE_NONE,
        Some(angle) if angle == base.angle => ANGLE_SAME,
        Some(angle) => {
            writer.put_varint(angle_change(base.angle, angle)?)?;
            ANGLE_MOVED
        }
    };
    let length = u8::try_from(writer.used().checked_sub(MIN_SEGMENT_BODY)?).ok()?;
    *head = 0x40 | if segment.continues { CONTINUES } else { 0 } | (angle_code << 3) | length;
    // One bit short of blank flash; the whole form says the same.
    (*head != 0x7F).then_some(1 + writer.used())
}

/// Takes an entry's head and body apart. `None`: a kind of a newer firmware, or a body that no firmware wrote.
pub(crate) fn unpack(head_and_body: &[u8], base: &Base) -> Option<Packed> {
    let (&head, after_head) = head_and_body.split_first()?;
    if head & 0x80 == 0 {
        return unpack_segment(head, after_head, base).map(Packed::Record);
    }
    let (_, body) = after_head.split_first()?;
    let mut reader = ByteReader::new(body);
    let press = match (head >> 3) & 0x0F {
        kind::WHOLE => {
            let (record, rest) = postcard::take_from_bytes::<Record>(body).ok()?;
            return rest.is_empty().then_some(Packed::Record(record));
        }
        kind::ACKNOWLEDGED => {
            let below = u32::try_from(reader.take_varint()?).ok()?;
            return reader.is_at_end().then_some(Packed::Acknowledged(RecordSeq(below)));
        }
        kind::CONTROL => None,
        kind::NEAR_MISS => Some(PressKind::NearMiss),
        kind::TEAR => Some(PressKind::Tear),
        kind::CARE_DONE => Some(PressKind::CareDone),
        kind::RETENSION => Some(PressKind::Retension),
        _ => return None,
    };
    let since_end = reader.take_varint()?;
    let event = match press {
        None => Event::Control(unpack_trace(base, &mut reader)?),
        Some(kind) => {
            let still = reader.take_varint()?.checked_sub(1).unwrap_or(since_end);
            let trace: Trace = unpack_trace(base, &mut reader)?;
            Event::Press(Press { kind, still_ms: u32::try_from(still).ok()?, trace })
        }
    };
    let at = UptimeMillis(base.end.0.checked_add(since_end)?);
    reader.is_at_end().then_some(Packed::Record(Record { boot: base.boot, at, event }))
}

fn unpack_segment(head: u8, body: &[u8], base: &Base) -> Option<Record> {
    let mut reader = ByteReader::new(body);
    let continues = head & CONTINUES != 0;
    let gap = reader.take_varint()?;
    let run = u32::try_from(reader.take_varint()?).ok()?;
    let edges = reader.take_zigzag()?.checked_add(base.edges_expected(run, continues))?;
    let angle = match (head >> 3) & 3 {
        ANGLE_SAME => Some(base.angle),
        ANGLE_MOVED => Some(angle_after(base.angle, reader.take_varint()?)?),
        ANGLE_NONE => None,
        _ => return None,
    };
    let segment =
        Segment { run: RunMillis(u64::from(run)), edges: u32::try_from(edges).ok()?, angle, continues };
    let at = UptimeMillis(base.end.0.checked_add(gap)?);
    reader.is_at_end().then_some(Record { boot: base.boot, at, event: Event::Segment(segment) })
}

/// The way from one angle to another as a small number; `None` for an angle that no sensor gives.
pub(super) fn angle_change(from: RawAngle, to: RawAngle) -> Option<u64> {
    let half = i64::from(RawAngle::STEPS / 2);
    if from.steps() >= RawAngle::STEPS || to.steps() >= RawAngle::STEPS {
        return None;
    }
    let apart = i64::from(to.steps()) - i64::from(from.steps());
    Some(zigzag((apart + half).rem_euclid(2 * half) - half))
}

/// The way back from [`angle_change`].
pub(super) fn angle_after(from: RawAngle, change: u64) -> Option<RawAngle> {
    let steps = i64::from(from.steps()).checked_add(super::bytes::unzigzag(change))?;
    u16::try_from(steps.rem_euclid(i64::from(RawAngle::STEPS))).ok().map(RawAngle::new)
}

const _: () = assert!(TRACE_STEPS < 256 && TRACE_STEP_MS > 0, "a trace tells its steps in one byte");

#[cfg(test)]
#[path = "packing_tests.rs"]
mod tests;
