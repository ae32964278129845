//! Hands everything known of every log to the core.

use rusqlite::Connection;
use shared_types::log::{Event, Record};
use shared_types::{BootId, Edges, LogId, LoggerId, RawAngle, RecordSeq, RunMillis, Totals, UptimeMillis};

use super::derive::Reading;
use super::hellos::{self, bits};
use crate::app::ports::Heard;
use crate::core::facts::{EventFact, Happening, LogFacts, LogKey, SegmentFact};

/// Everything known of every log, by logger and log in the order in which they were first heard.
///
/// # Errors
/// As SQLite.
pub fn all(connection: &Connection, reading: &Reading) -> rusqlite::Result<Vec<LogFacts>> {
    let heard = hellos::all(connection)?;
    let logs: Vec<(i64, LogKey)> = connection
        .prepare("SELECT id, logger, log FROM log ORDER BY id")?
        .query_map((), |row| {
            Ok((row.get(0)?, LogKey { logger: LoggerId(bits(row, 1)?), log: LogId(row.get(2)?) }))
        })?
        .collect::<Result<_, _>>()?;
    logs.into_iter().map(|(id, key)| one(connection, reading, &heard, id, key)).collect()
}

fn one(
    connection: &Connection,
    reading: &Reading,
    heard: &[Heard],
    id: i64,
    key: LogKey,
) -> rusqlite::Result<LogFacts> {
    let segments = segments(connection, id)?;
    let counted = segments
        .iter()
        .fold(Totals::default(), |sum, segment| sum.plus(segment.run, Edges(segment.edges.into())));
    let of_this = || heard.iter().filter(|hello| hello.key == key);
    // A saved log may be read long after a newer pull, so the latest word is not the furthest. Totals never go down.
    let formatted_with = of_this().next().map(|hello| hello.formatted_with).unwrap_or_default();
    let last_totals = of_this().map(|hello| hello.totals).reduce(furthest);
    let last_next = of_this().map(|hello| hello.next).max();
    let conflicting = connection
        .prepare_cached("SELECT DISTINCT seq FROM raw_record WHERE log_id = ?1 AND variant > 0 ORDER BY seq")?
        .query_map((id,), |row| row.get(0).map(RecordSeq))?
        .collect::<Result<_, _>>()?;
    let unreadable: i64 = connection
        .prepare_cached("SELECT count(*) FROM unreadable WHERE log_id = ?1")?
        .query_row((id,), |row| row.get(0))?;
    Ok(LogFacts {
        key,
        formatted_with,
        last_totals: last_totals.unwrap_or_else(|| formatted_with.plus(counted.run, counted.edges)),
        last_next: last_next.unwrap_or_default(),
        events: events(connection, reading, id)?,
        segments,
        conflicting,
        unreadable: unreadable.cast_unsigned(),
    })
}

fn furthest(one: Totals, other: Totals) -> Totals {
    Totals { run: one.run.max(other.run), edges: one.edges.max(other.edges) }
}

fn segments(connection: &Connection, log_id: i64) -> rusqlite::Result<Vec<SegmentFact>> {
    connection
        .prepare_cached(
            "SELECT seq, boot, at_ms, run_ms, edges, angle, continues FROM segment
             WHERE log_id = ?1 ORDER BY seq",
        )?
        .query_map((log_id,), |row| {
            Ok(SegmentFact {
                seq: RecordSeq(row.get(0)?),
                boot: BootId(row.get(1)?),
                at: UptimeMillis(bits(row, 2)?),
                run: RunMillis(bits(row, 3)?),
                edges: row.get(4)?,
                angle: row.get::<_, Option<u16>>(5)?.map(RawAngle::new),
                continues: row.get(6)?,
            })
        })?
        .collect()
}

fn events(connection: &Connection, reading: &Reading, log_id: i64) -> rusqlite::Result<Vec<EventFact>> {
    let mut found = Vec::new();
    let mut statement = connection.prepare_cached(
        "SELECT event.seq, raw_record.body FROM event
         JOIN raw_record ON raw_record.log_id = event.log_id AND raw_record.seq = event.seq
             AND raw_record.variant = 0
         WHERE event.log_id = ?1 ORDER BY event.seq",
    )?;
    let mut rows = statement.query((log_id,))?;
    while let Some(row) = rows.next()? {
        let record = (reading.read)(row.get_ref(1)?.as_blob()?).map_err(|error| {
            rusqlite::Error::FromSqlConversionFailure(1, rusqlite::types::Type::Blob, Box::new(error))
        })?;
        found.extend(event(RecordSeq(row.get(0)?), record));
    }
    Ok(found)
}

fn event(seq: RecordSeq, record: Record) -> Option<EventFact> {
    let what = match record.event {
        Event::Segment(_) => return None,
        Event::Started(started) => Happening::Started(started),
        Event::Press(press) => Happening::Press(press),
        Event::Control(trace) => Happening::Control(trace),
        Event::Anchor(anchor) => Happening::Anchor(anchor),
        Event::Settings(settings) => Happening::Settings(settings),
        Event::Fault(change) => Happening::Fault(change),
        Event::Fitted(machine) => Happening::Fitted(machine),
    };
    Some(EventFact { seq, boot: record.boot, at: record.at, what })
}
