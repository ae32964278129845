//! Hands everything known of every log to the core.

use std::sync::mpsc;
use std::{mem, thread};

use rusqlite::types::ValueRef;
use rusqlite::{Connection, Row};
use shared_types::log::{Event, Record};
use shared_types::{BootId, Edges, LogId, LoggerId, RawAngle, RecordSeq, RunMillis, Totals, UptimeMillis};

use super::bits::bits;
use super::content_sum::{self, CONFLICT, EVENT, HELLO, LOG, SEGMENT, Sum, UNREADABLE};
use super::derive::RecordReader;
use super::failure::Fault;
use super::{moment, status_reports};
use crate::app::ports::StatusReport;
use host_core::records::log_records::{EventFact, LogKey, LogRecords, LoggedEvent, SegmentRecord};

/// Room is made beforehand for so many segments, whatever a changed count says.
const MOST_RESERVED: usize = 2_000_000;
/// So many segments are handed over to be summed at once.
const CHUNK: usize = 2_048;

/// Everything known of every log, by logger and log in the order in which they were first heard.
///
/// # Errors
/// As SQLite; the damage when it does not read as it was written.
pub fn all(connection: &Connection, reading: &RecordReader) -> Result<Vec<LogRecords>, Fault> {
    let moment = moment::begin(connection)?;
    content_sum::check_now(connection, &LOG, 0)?;
    let heard = status_reports(connection)?;
    let logs: Vec<(i64, LogKey)> = connection
        .prepare("SELECT id, logger, log FROM log ORDER BY id")?
        .query_map((), |row| {
            Ok((row.get(0)?, LogKey { logger: LoggerId(bits(row, 1)?), log: LogId(row.get(2)?) }))
        })?
        .collect::<Result<_, _>>()?;
    let facts = logs.into_iter().map(|(id, key)| one(connection, reading, &heard, id, key)).collect();
    drop(moment);
    facts
}

/// How loggers stood whenever they were heard.
///
/// # Errors
/// As SQLite; the damage when it does not read as it was kept.
pub fn status_reports(connection: &Connection) -> Result<Vec<StatusReport>, Fault> {
    let moment = moment::begin(connection)?;
    content_sum::check_now(connection, &HELLO, 0)?;
    let heard = status_reports::all(connection)?;
    drop(moment);
    Ok(heard)
}

fn one(
    connection: &Connection,
    reading: &RecordReader,
    heard: &[StatusReport],
    id: i64,
    key: LogKey,
) -> Result<LogRecords, Fault> {
    let segments = segments(connection, id)?;
    let counted = segments
        .iter()
        .fold(Totals::default(), |sum, segment| sum.plus(segment.run, Edges(segment.edges.into())));
    let of_this = || heard.iter().filter(|status| status.key == key);
    // A saved log may be read long after a newer pull, so the latest word is not the furthest. Totals never go down.
    let formatted_with = of_this().next().map(|status| status.formatted_with).unwrap_or_default();
    let last_totals = of_this().map(|status| status.totals).reduce(furthest);
    let last_next = of_this().map(|status| status.next).max();
    content_sum::check_now(connection, &CONFLICT, id)?;
    let conflicting = connection
        .prepare_cached("SELECT seq FROM conflict WHERE log_id = ?1 ORDER BY seq")?
        .query_map((id,), |row| row.get(0).map(RecordSeq))?
        .collect::<Result<_, _>>()?;
    let unreadable = content_sum::now(connection, &UNREADABLE, id)?;
    content_sum::check(connection, &UNREADABLE, id, unreadable)?;
    Ok(LogRecords {
        key,
        formatted_with,
        last_totals: last_totals.unwrap_or_else(|| formatted_with.plus(counted.run, counted.edges)),
        last_next: last_next.unwrap_or_default(),
        events: events(connection, reading, id)?,
        segments,
        conflicting,
        unreadable: unreadable.rows.cast_unsigned(),
    })
}

fn furthest(one: Totals, other: Totals) -> Totals {
    Totals { run: one.run.max(other.run), edges: one.edges.max(other.edges) }
}

/// The segments of a log, held against their sum. Another thread sums them up while this one reads on: it takes a third of the
/// time that reading takes.
fn segments(connection: &Connection, log_id: i64) -> Result<Vec<SegmentRecord>, Fault> {
    let kept = content_sum::stored(connection, &SEGMENT, log_id)?;
    let room = usize::try_from(kept.rows).unwrap_or(0).min(MOST_RESERVED);
    let (sender, receiver) = mpsc::channel();
    let gathered = thread::scope(|scope| {
        let summing = thread::Builder::new()
            .spawn_scoped(scope, move || gathered(&receiver, room))
            .map_err(|error| rusqlite::Error::ToSqlConversionFailure(Box::new(error)))?;
        let read = read_segments(connection, log_id, &sender);
        drop(sender);
        let gathered = summing.join();
        read.map(|()| gathered)
    });
    match gathered {
        Ok(Ok((found, sum))) if sum == kept => Ok(found),
        Ok(_) => Err(Fault::Damaged(SEGMENT.damage)),
        // A number that is too large is damage or, where the sum fits, an error of its own.
        Err(error) => {
            content_sum::check_now(connection, &SEGMENT, log_id)?;
            Err(error.into())
        }
    }
}

/// Hands a log's segments over in their order. What the other side does not take is missing in its sum.
fn read_segments(
    connection: &Connection,
    log_id: i64,
    to: &mpsc::Sender<Vec<SegmentRecord>>,
) -> rusqlite::Result<()> {
    let mut statement = connection.prepare_cached(&format!("{} ORDER BY seq", SEGMENT.all()))?;
    let mut rows = statement.query((log_id,))?;
    let mut chunk = Vec::with_capacity(CHUNK);
    while let Some(row) = rows.next()? {
        chunk.push(segment(row)?);
        if chunk.len() == CHUNK {
            to.send(mem::replace(&mut chunk, Vec::with_capacity(CHUNK))).ok();
        }
    }
    to.send(chunk).ok();
    Ok(())
}

fn gathered(chunks: &mpsc::Receiver<Vec<SegmentRecord>>, room: usize) -> (Vec<SegmentRecord>, Sum) {
    let (mut found, mut sum, mut bytes) = (Vec::with_capacity(room), Sum::default(), Vec::new());
    for chunk in chunks {
        chunk.iter().for_each(|segment| sum.values(&mut bytes, columns(segment).into_iter()));
        found.extend(chunk);
    }
    (found, sum)
}

/// A segment as it is kept.
fn columns(segment: &SegmentRecord) -> [ValueRef<'static>; 7] {
    [
        ValueRef::Integer(segment.seq.0.into()),
        ValueRef::Integer(segment.boot.0.into()),
        ValueRef::Integer(segment.at.0.cast_signed()),
        ValueRef::Integer(segment.run.0.cast_signed()),
        ValueRef::Integer(segment.edges.into()),
        segment.angle.map_or(ValueRef::Null, |angle| ValueRef::Integer(angle.steps().into())),
        ValueRef::Integer(segment.continues.into()),
    ]
}

/// Reads a segment as the program keeps it, so that [`columns`] gives its columns back to the bit; else it is none.
fn segment(row: &Row<'_>) -> rusqlite::Result<SegmentRecord> {
    let angle = match row.get::<_, Option<u16>>(5)? {
        Some(steps) if steps >= RawAngle::STEPS => {
            return Err(rusqlite::Error::IntegralValueOutOfRange(5, steps.into()));
        }
        steps => steps.map(RawAngle::new),
    };
    let continues = match row.get(6)? {
        0 => false,
        1 => true,
        other => return Err(rusqlite::Error::IntegralValueOutOfRange(6, other)),
    };
    Ok(SegmentRecord {
        seq: RecordSeq(row.get(0)?),
        boot: BootId(row.get(1)?),
        at: UptimeMillis(bits(row, 2)?),
        run: RunMillis(bits(row, 3)?),
        edges: row.get(4)?,
        angle,
        continues,
    })
}

fn events(connection: &Connection, reading: &RecordReader, log_id: i64) -> Result<Vec<EventFact>, Fault> {
    let mut statement = connection.prepare_cached(&format!("{} ORDER BY event.seq", EVENT.all()))?;
    let columns = statement.column_count();
    let (mut sum, mut bytes, mut found) = (Sum::default(), Vec::new(), Vec::new());
    let mut rows = statement.query((log_id,))?;
    while let Some(row) = rows.next()? {
        sum.row(&mut bytes, row, columns)?;
        found.push(read_event(reading, row));
    }
    content_sum::check(connection, &EVENT, log_id, sum)?;
    let found: Vec<Option<EventFact>> = found.into_iter().collect::<Result<_, _>>()?;
    Ok(found.into_iter().flatten().collect())
}

fn read_event(reading: &RecordReader, row: &Row<'_>) -> rusqlite::Result<Option<EventFact>> {
    let record = (reading.read)(row.get_ref(2)?.as_blob()?).map_err(|error| {
        rusqlite::Error::FromSqlConversionFailure(2, rusqlite::types::Type::Blob, Box::new(error))
    })?;
    Ok(event(RecordSeq(row.get(0)?), record))
}

fn event(seq: RecordSeq, record: Record) -> Option<EventFact> {
    let what = match record.event {
        Event::Segment(_) => return None,
        Event::Started(started) => LoggedEvent::Started(started),
        Event::Press(press) => LoggedEvent::Press(press),
        Event::Control(trace) => LoggedEvent::Control(trace),
        Event::Anchor(anchor) => LoggedEvent::Anchor(anchor),
        Event::Settings(settings) => LoggedEvent::Settings(settings),
        Event::Fault(change) => LoggedEvent::Fault(change),
        Event::Fitted(machine) => LoggedEvent::Fitted(machine),
    };
    Some(EventFact { seq, boot: record.boot, at: record.at, what })
}
