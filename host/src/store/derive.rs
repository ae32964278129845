//! What is derived from raw records when they arrive, and again whenever the deriving changes.

use rusqlite::{Connection, TransactionBehavior};
use shared_types::log::{Event, Record, RecordError, Segment, decode_body};
use shared_types::{BootId, RawAngle, UptimeMillis};

use super::chain_numbers::{Group, Numbers};
use super::content_sum::{self, EVENT, MADE, RAW_RECORD, SEGMENT, UNREADABLE};
use super::failure::{Fault, failed};
use super::marks;
use crate::app::ports::StoreError;

/// Grows when the same records are to be derived differently.
const DERIVED_VERSION: u32 = 1;

/// Decoder of records and its name. Derived tables made under another name are made anew.
#[derive(Clone, Debug)]
pub struct RecordReader {
    /// Program version and derived version.
    pub name: String,
    /// Reads one body.
    pub read: fn(&[u8]) -> Result<Record, RecordError>,
}

impl Default for RecordReader {
    fn default() -> Self {
        // The program's version is part of the name, so that no release that reads more records can forget it.
        Self { name: format!("{}/{DERIVED_VERSION}", env!("CARGO_PKG_VERSION")), read: decode_body }
    }
}

/// What became of one record.
#[derive(Clone, Copy, Debug)]
pub enum Derived {
    /// It is a segment.
    Segment(Segment),
    /// It is something else.
    Event,
    /// This program cannot read it.
    Unreadable,
}

/// Derives from one record that is used (variant 0).
///
/// # Errors
/// As SQLite.
pub fn derive(
    connection: &Connection,
    reading: &RecordReader,
    log_id: i64,
    seq: u32,
    body: &[u8],
) -> rusqlite::Result<Derived> {
    match (reading.read)(body) {
        Ok(Record { boot: BootId(boot), at: UptimeMillis(at), event: Event::Segment(segment) }) => {
            connection
                .prepare_cached(
                    "INSERT INTO segment (log_id, seq, boot, at_ms, run_ms, edges, angle, continues)
                     VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8)",
                )?
                .execute((
                    log_id,
                    seq,
                    boot,
                    at.cast_signed(),
                    segment.run.0.cast_signed(),
                    segment.edges,
                    segment.angle.map(RawAngle::steps),
                    segment.continues,
                ))?;
            Ok(Derived::Segment(segment))
        }
        Ok(record) => {
            connection
                .prepare_cached("INSERT INTO event (log_id, seq, kind) VALUES (?1, ?2, ?3)")?
                .execute((log_id, seq, kind(&record.event)))?;
            Ok(Derived::Event)
        }
        Err(why) => {
            connection
                .prepare_cached("INSERT INTO unreadable (log_id, seq, why) VALUES (?1, ?2, ?3)")?
                .execute((log_id, seq, why.to_string()))?;
            Ok(Derived::Unreadable)
        }
    }
}

const fn kind(event: &Event) -> &'static str {
    match event {
        Event::Started(_) => "started",
        Event::Segment(_) => "segment",
        Event::Press(_) => "press",
        Event::Control(_) => "control",
        Event::Anchor(_) => "anchor",
        Event::Settings(_) => "settings",
        Event::Fault(_) => "fault",
        Event::Fitted(_) => "fitted",
    }
}

/// Whether this program made the derived tables.
///
/// # Errors
/// When the database cannot be read.
pub fn is_current(connection: &Connection, reading: &RecordReader) -> Result<bool, StoreError> {
    let made_by: String = connection
        .query_row("SELECT coalesce(max(made_by), '') FROM derived", (), |row| row.get(0))
        .map_err(failed("read by whom its summaries were made"))?;
    Ok(made_by == reading.name)
}

/// Throws the derived tables away and makes them anew, if another program made them.
///
/// # Errors
/// When the database does not take it; the old tables stay then.
pub fn refresh(connection: &mut Connection, reading: &RecordReader) -> Result<bool, StoreError> {
    if is_current(connection, reading)? {
        return Ok(false);
    }
    let transaction = connection
        .transaction_with_behavior(TransactionBehavior::Immediate)
        .map_err(failed("begin to renew its summaries"))?;
    rebuild(&transaction, reading)
        .and_then(|()| Ok(transaction.commit()?))
        .map_err(failed("renew its summaries"))?;
    Ok(true)
}

/// Adds what was derived from records that were just kept to the sums.
///
/// # Errors
/// As SQLite.
pub fn sum(connection: &Connection, log_id: i64, numbers: &Numbers) -> rusqlite::Result<()> {
    for Group { from, to, .. } in numbers.groups().iter().filter(|group| group.variant == 0) {
        for content in [&SEGMENT, &EVENT, &UNREADABLE] {
            content_sum::add(connection, content, log_id, (log_id, from.0, to.0))?;
        }
    }
    Ok(())
}

/// Makes the derived tables anew inside the caller's transaction, from records that read as they were kept.
///
/// # Errors
/// As SQLite; the damage when records do not read as they were kept, so that it is never taken for what was counted.
pub fn rebuild(connection: &Connection, reading: &RecordReader) -> Result<(), Fault> {
    for log_id in content_sum::logs_of(connection, &RAW_RECORD)? {
        content_sum::check_now(connection, &RAW_RECORD, log_id)?;
    }
    connection.execute_batch(
        "DELETE FROM segment; DELETE FROM event; DELETE FROM unreadable; DELETE FROM conflict;
         INSERT INTO conflict SELECT DISTINCT log_id, seq FROM raw_record WHERE variant > 0;",
    )?;
    let mut records = connection
        .prepare("SELECT log_id, seq, body FROM raw_record WHERE variant = 0 ORDER BY log_id, seq")?;
    let mut rows = records.query(())?;
    while let Some(row) = rows.next()? {
        let body = row.get_ref(2)?.as_blob().map_err(rusqlite::Error::from)?;
        derive(connection, reading, row.get(0)?, row.get(1)?, body)?;
    }
    content_sum::renew(connection, &MADE)?;
    marks::put_marks_right(connection)?;
    connection.execute(
        "INSERT INTO derived (only, made_by) VALUES (1, ?1)
         ON CONFLICT (only) DO UPDATE SET made_by = excluded.made_by",
        (&reading.name,),
    )?;
    Ok(())
}

/// How many rows of the derived tables do not say what the raw records say.
///
/// # Errors
/// As SQLite.
pub fn differing(connection: &Connection, reading: &RecordReader) -> rusqlite::Result<u64> {
    let moment = connection.unchecked_transaction()?;
    let mut differing = u64::try_from(marks::wrong_marks(&moment)?.len()).unwrap_or(u64::MAX);
    differing += content_sum::differing(&moment)?;
    let conflicts: i64 = moment.query_row(
        "SELECT count(*) FROM (SELECT DISTINCT log_id, seq FROM raw_record WHERE variant > 0
             EXCEPT SELECT log_id, seq FROM conflict)",
        (),
        |row| row.get(0),
    )?;
    differing += conflicts.unsigned_abs();
    let mut records = moment.prepare(
        "SELECT raw_record.body, segment.boot, segment.at_ms, segment.run_ms, segment.edges, segment.angle,
             segment.continues, event.kind, unreadable.why
         FROM raw_record
         LEFT JOIN segment USING (log_id, seq) LEFT JOIN event USING (log_id, seq)
         LEFT JOIN unreadable USING (log_id, seq)
         WHERE raw_record.variant = 0",
    )?;
    let mut rows = records.query(())?;
    while let Some(row) = rows.next()? {
        let said = (
            row.get::<_, Option<i64>>(1)?.map(|boot| Row::of(row, boot)).transpose()?,
            row.get::<_, Option<String>>(7)?,
            row.get::<_, Option<String>>(8)?,
        );
        let right = match (reading.read)(row.get_ref(0)?.as_blob()?) {
            Ok(Record { boot, at, event: Event::Segment(segment) }) => {
                (Some(Row::right(boot, at, segment)), None, None)
            }
            Ok(record) => (None, Some(kind(&record.event).to_owned()), None),
            Err(error) => (None, None, Some(error.to_string())),
        };
        differing += u64::from(said != right);
    }
    for table in ["segment", "event", "unreadable"] {
        let without_record: i64 = moment.query_row(
            &format!(
                "SELECT count(*) FROM {table} WHERE NOT EXISTS (SELECT 1 FROM raw_record
                 WHERE raw_record.log_id = {table}.log_id AND raw_record.seq = {table}.seq AND variant = 0)"
            ),
            (),
            |row| row.get(0),
        )?;
        differing += without_record.unsigned_abs();
    }
    Ok(differing)
}

/// A row of the table of segments.
#[derive(Debug, PartialEq, Eq)]
struct Row {
    boot: i64,
    at_ms: i64,
    run_ms: i64,
    edges: i64,
    angle: Option<i64>,
    continues: i64,
}

impl Row {
    fn of(row: &rusqlite::Row<'_>, boot: i64) -> rusqlite::Result<Self> {
        Ok(Self {
            boot,
            at_ms: row.get(2)?,
            run_ms: row.get(3)?,
            edges: row.get(4)?,
            angle: row.get(5)?,
            continues: row.get(6)?,
        })
    }

    fn right(boot: BootId, at: UptimeMillis, segment: Segment) -> Self {
        Self {
            boot: boot.0.into(),
            at_ms: at.0.cast_signed(),
            run_ms: segment.run.0.cast_signed(),
            edges: segment.edges.into(),
            angle: segment.angle.map(|angle| angle.steps().into()),
            continues: segment.continues.into(),
        }
    }
}
