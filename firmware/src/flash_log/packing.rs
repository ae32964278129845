//! Delta encoding of records against a [`DeltaBase`].
//!
//! The base restarts at each sector's head, so that a lost sector costs no other. What fits no short form is written whole, in
//! the link's encoding, so every record round-trips.

use shared_types::log::{Event, Press, PressKind, Record, Segment};
use shared_types::{BootId, RecordSeq, RunMillis, UptimeMillis};

use super::bits::{BitReader, BitWriter, width_of};
use super::bytes::{ByteReader, ByteWriter, unzigzag, zigzag};
use super::delta_base::{DeltaBase, angle_after, angle_change};
use super::entry::{FIRST_LONG, MAX_ENTRY, code_of, head_of};
use super::forms::{BY_TIME, BY_TIME_MS, FORMS, Form};
use super::newer::{is_known_to_0_1_0, may_stand_apart, moment_of_later};
use super::trace_packing::{pack_trace, unpack_trace};

/// Codes of entries that tell their length. A kind added later must leave the base alone: older firmware steps over it.
mod kind {
    use super::FIRST_LONG;

    pub(super) const WHOLE: u8 = FIRST_LONG;
    pub(super) const ACKNOWLEDGED: u8 = FIRST_LONG + 1;
    pub(super) const CONTROL: u8 = FIRST_LONG + 2;
    pub(super) const NEAR_MISS: u8 = FIRST_LONG + 3;
    pub(super) const TEAR: u8 = FIRST_LONG + 4;
    pub(super) const CARE_DONE: u8 = FIRST_LONG + 5;
    pub(super) const RETENSION: u8 = FIRST_LONG + 6;
    /// A record that firmware 0.1.0 does not know, written whole. It is of the base's boot and carries no run time.
    pub(super) const WHOLE_NEWER: u8 = FIRST_LONG + 7;
}

/// One entry, taken apart.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Packed {
    Record(Record),
    /// Everything below is acknowledged.
    Acknowledged(RecordSeq),
    /// A record that only a newer firmware knows, and its boot and moment where they may move the base.
    Newer(Option<(BootId, UptimeMillis)>),
}

/// Head and body of `record`, without the check; `None` only if it does not even fit whole. `out` must be zero.
pub(crate) fn pack(record: &Record, base: &DeltaBase, out: &mut [u8; MAX_ENTRY]) -> Option<usize> {
    if let Some(used) = pack_short(record, base, out) {
        return Some(used);
    }
    let [head, length, body @ ..] = out;
    let used = postcard::to_slice(record, body).ok()?.len();
    // Firmware 0.1.0 steps over the later code, but ends a sector at a whole record of an event that it does not know.
    let is_newer = !is_known_to_0_1_0(&record.event) && may_stand_apart(record, base.boot);
    finish_long(if is_newer { kind::WHOLE_NEWER } else { kind::WHOLE }, used, head, length)
}

/// Head and body of the entry that says that everything below is acknowledged.
pub(crate) fn pack_acknowledged(below: RecordSeq, out: &mut [u8; MAX_ENTRY]) -> Option<usize> {
    let [head, length, body @ ..] = out;
    let mut writer = ByteWriter::new(body);
    writer.put_varint(u64::from(below.0))?;
    finish_long(kind::ACKNOWLEDGED, writer.used(), head, length)
}

fn finish_long(kind: u8, used: usize, head: &mut u8, length: &mut u8) -> Option<usize> {
    *head = head_of(kind);
    *length = u8::try_from(used).ok()?;
    Some(2 + used)
}

fn pack_short(record: &Record, base: &DeltaBase, out: &mut [u8; MAX_ENTRY]) -> Option<usize> {
    if record.boot != base.boot {
        return None;
    }
    let since_end = record.at.0.checked_sub(base.end.0)?;
    let (kind, still_ms, trace) = match &record.event {
        Event::Segment(segment) => return pack_segment(segment, since_end, base, out),
        Event::Press(press) => (kind_of(press.kind), Some(press.still_ms), &press.trace),
        Event::Control(trace) => (kind::CONTROL, None, trace),
        _ => return None,
    };
    let [head, length, body @ ..] = out;
    body.fill(0);
    let mut writer = BitWriter::new(body);
    writer.put_number(since_end)?;
    if let Some(still_ms) = still_ms {
        // It has stood still since the last segment's end, as nearly always.
        let as_expected = u64::from(still_ms) == since_end;
        writer.put(u64::from(as_expected), 1)?;
        if !as_expected {
            writer.put_number(u64::from(still_ms))?;
        }
    }
    pack_trace(trace, base, &mut writer)?;
    finish_long(kind, writer.used(), head, length)
}

const fn kind_of(press: PressKind) -> u8 {
    match press {
        PressKind::NearMiss => kind::NEAR_MISS,
        PressKind::Tear => kind::TEAR,
        PressKind::CareDone => kind::CARE_DONE,
        PressKind::Retension => kind::RETENSION,
    }
}

/// The numbers of a segment, in the order in which a form gives them room.
struct Parts {
    gap: u64,
    run: u32,
    edges: u64,
    /// None when it is as it was.
    angle: Option<u64>,
}

impl Parts {
    /// The run as the form writes it, if it fits.
    const fn run_in(&self, form: &Form) -> Option<u32> {
        if form.run == BY_TIME { self.run.checked_sub(BY_TIME_MS) } else { Some(self.run) }
    }

    fn fit(&self, form: &Form) -> bool {
        let fits = |number: u64, width: u8| width_of(number) <= u32::from(width);
        fits(self.gap, form.gap)
            && self.run_in(form).is_some_and(|run| fits(u64::from(run), form.run))
            && fits(self.edges, form.edges)
            && self.angle.map_or(form.angle == 0, |change| form.angle > 0 && fits(change, form.angle))
    }

    fn put(&self, form: &Form, writer: &mut BitWriter<'_>) -> Option<()> {
        writer.put(self.gap, u32::from(form.gap))?;
        writer.put(u64::from(self.run_in(form)?), u32::from(form.run))?;
        writer.put(self.edges, u32::from(form.edges))?;
        writer.put(self.angle.unwrap_or(0), u32::from(form.angle))
    }

    fn take(form: &Form, reader: &mut BitReader<'_>) -> Option<Self> {
        let gap = reader.take(u32::from(form.gap))?;
        let run = u32::try_from(reader.take(u32::from(form.run))?).ok()?;
        let edges = reader.take(u32::from(form.edges))?;
        let angle = reader.take(u32::from(form.angle))?;
        Some(Self {
            gap,
            run: if form.run == BY_TIME { BY_TIME_MS + run } else { run },
            edges,
            angle: (form.angle > 0).then_some(angle),
        })
    }
}

fn pack_segment(segment: &Segment, gap: u64, base: &DeltaBase, out: &mut [u8; MAX_ENTRY]) -> Option<usize> {
    let run = u32::try_from(segment.run.0).ok()?;
    let parts = Parts {
        gap,
        run,
        edges: zigzag(i64::from(segment.edges) - base.edges_expected(run, segment.continues)),
        angle: if segment.angle == base.angle {
            None
        } else {
            Some(angle_change(base.known, segment.angle?)?)
        },
    };
    let mut forms = FORMS.iter().enumerate();
    let (place, form) = forms.find(|(_, form)| form.continues == segment.continues && parts.fit(form))?;
    let [head, body @ ..] = out;
    *head = head_of(u8::try_from(place + 1).ok()?);
    let mut writer = BitWriter::new(body);
    parts.put(form, &mut writer)?;
    Some(1 + writer.used())
}

/// Takes an entry's head and body apart. `None`: a body that no firmware wrote.
pub(crate) fn unpack(head_and_body: &[u8], base: &DeltaBase) -> Option<Packed> {
    let (&head, after_head) = head_and_body.split_first()?;
    let code = code_of(head)?;
    if code < FIRST_LONG {
        return unpack_segment(code, after_head, base).map(Packed::Record);
    }
    let (_, body) = after_head.split_first()?;
    let press = match code {
        kind::WHOLE => {
            let Ok((record, rest)) = postcard::take_from_bytes::<Record>(body) else {
                return moment_of_later(body).map(|moment| Packed::Newer(Some(moment)));
            };
            return rest.is_empty().then_some(Packed::Record(record));
        }
        kind::WHOLE_NEWER => match postcard::take_from_bytes::<Record>(body) {
            Ok((record, [])) => return may_stand_apart(&record, base.boot).then_some(Packed::Record(record)),
            _ => return Some(Packed::Newer(None)),
        },
        kind::ACKNOWLEDGED => {
            let mut reader = ByteReader::new(body);
            let below = u32::try_from(reader.take_varint()?).ok()?;
            return reader.is_at_end().then_some(Packed::Acknowledged(RecordSeq(below)));
        }
        kind::CONTROL => None,
        kind::NEAR_MISS => Some(PressKind::NearMiss),
        kind::TEAR => Some(PressKind::Tear),
        kind::CARE_DONE => Some(PressKind::CareDone),
        kind::RETENSION => Some(PressKind::Retension),
        _ => return Some(Packed::Newer(None)),
    };
    let mut reader = BitReader::new(body);
    let since_end = reader.take_number()?;
    let event = match press {
        None => Event::Control(unpack_trace(base, &mut reader)?),
        Some(kind) => {
            let still = if reader.take(1)? == 1 { since_end } else { reader.take_number()? };
            let trace = unpack_trace(base, &mut reader)?;
            Event::Press(Press { kind, still_ms: u32::try_from(still).ok()?, trace })
        }
    };
    let at = UptimeMillis(base.end.0.checked_add(since_end)?);
    reader.is_at_end().then_some(Packed::Record(Record { boot: base.boot, at, event }))
}

fn unpack_segment(code: u8, body: &[u8], base: &DeltaBase) -> Option<Record> {
    let form = FORMS.get(usize::from(code).checked_sub(1)?)?;
    let mut reader = BitReader::new(body);
    let parts = Parts::take(form, &mut reader)?;
    let edges = unzigzag(parts.edges).checked_add(base.edges_expected(parts.run, form.continues))?;
    let segment = Segment {
        run: RunMillis(u64::from(parts.run)),
        edges: u32::try_from(edges).ok()?,
        angle: match parts.angle {
            None => base.angle,
            Some(change) => Some(angle_after(base.known, change)?),
        },
        continues: form.continues,
    };
    let at = UptimeMillis(base.end.0.checked_add(parts.gap)?);
    reader.is_at_end().then_some(Record { boot: base.boot, at, event: Event::Segment(segment) })
}

#[cfg(test)]
#[path = "packing_tests.rs"]
mod tests;
