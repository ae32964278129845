//! Raw records: kept once per content, never changed, and known by their number where a pull goes on.

use rusqlite::{Connection, OptionalExtension};
use shared_types::{Edges, RecordSeq, UtcMillis};

use super::chain_numbers::Numbers;
use super::content_sum::{self, CONFLICT, LOG};
use super::derive::{self, Derived, RecordReader, derive};
use super::marks::settled_from;
use super::{chain, missing_ranges};
use crate::app::ports::{Kept, RawRecord};
use host_core::records::log_records::LogKey;

/// The row of a log, made when there is none.
///
/// # Errors
/// As SQLite.
pub fn log_id(connection: &Connection, key: LogKey) -> rusqlite::Result<i64> {
    if let Some(id) = known_log_id(connection, key)? {
        return Ok(id);
    }
    let id = connection
        .prepare_cached("INSERT INTO log (logger, log) VALUES (?1, ?2)")?
        .insert((key.logger.0.cast_signed(), key.log.0))?;
    content_sum::add(connection, &LOG, 0, (id,))?;
    Ok(id)
}

/// The row of a log, if there is one.
///
/// # Errors
/// As SQLite.
pub fn known_log_id(connection: &Connection, key: LogKey) -> rusqlite::Result<Option<i64>> {
    connection
        .prepare_cached("SELECT id FROM log WHERE logger = ?1 AND log = ?2")?
        .query_row((key.logger.0.cast_signed(), key.log.0), |row| row.get(0))
        .optional()
}

/// Keeps records inside the caller's transaction.
///
/// # Errors
/// As SQLite.
pub fn keep(
    connection: &Connection,
    reading: &RecordReader,
    at: UtcMillis,
    key: LogKey,
    records: &[RawRecord],
) -> rusqlite::Result<Kept> {
    let id = log_id(connection, key)?;
    let mut kept = Kept::default();
    let mut chained: Vec<(i64, RecordSeq)> = Vec::new();
    let mut insert = connection.prepare_cached(
        "INSERT INTO raw_record (log_id, seq, variant, received_at, body) VALUES (?1, ?2, 0, ?3, ?4)
         ON CONFLICT DO NOTHING",
    )?;
    for record in records {
        if insert.execute((id, record.seq.0, at.0, &record.body))? == 0 {
            match keep_beside(connection, id, at, record)? {
                Some(variant) => {
                    kept.conflicting += 1;
                    chained.push((variant, record.seq));
                }
                None => kept.known += 1,
            }
            continue;
        }
        kept.new += 1;
        chained.push((0, record.seq));
        match derive(connection, reading, id, record.seq.0, &record.body)? {
            Derived::Segment(segment) => {
                kept.run_and_edges = kept.run_and_edges.plus(segment.run, Edges(segment.edges.into()));
            }
            Derived::Event => {}
            Derived::Unreadable => kept.unreadable += 1,
        }
        kept.new_from = Some(kept.new_from.map_or(record.seq, |from| from.min(record.seq)));
        kept.new_to = Some(kept.new_to.map_or(record.seq, |to| to.max(record.seq)));
    }
    let numbers = Numbers::of(chained);
    chain::add_records(connection, id, &numbers)?;
    derive::sum(connection, id, &numbers)?;
    settle(connection, id)?;
    Ok(kept)
}

/// Keeps a record whose number is taken, unless the same bytes are already there. Its variant, if it was kept.
fn keep_beside(
    connection: &Connection,
    log_id: i64,
    at: UtcMillis,
    record: &RawRecord,
) -> rusqlite::Result<Option<i64>> {
    let is_known: bool = connection
        .prepare_cached(
            "SELECT EXISTS (SELECT 1 FROM raw_record WHERE log_id = ?1 AND seq = ?2 AND body = ?3)",
        )?
        .query_row((log_id, record.seq.0, &record.body), |row| row.get(0))?;
    if is_known {
        return Ok(None);
    }
    let variant = connection
        .prepare_cached(
            "INSERT INTO raw_record (log_id, seq, variant, received_at, body)
             SELECT ?1, ?2, max(variant) + 1, ?3, ?4 FROM raw_record WHERE log_id = ?1 AND seq = ?2
             RETURNING variant",
        )?
        .query_row((log_id, record.seq.0, at.0, &record.body), |row| row.get(0))?;
    let noted = connection
        .prepare_cached("INSERT OR IGNORE INTO conflict (log_id, seq) VALUES (?1, ?2)")?
        .execute((log_id, record.seq.0))?;
    if noted > 0 {
        content_sum::add(connection, &CONFLICT, log_id, (log_id, record.seq.0, record.seq.0))?;
    }
    Ok(Some(variant))
}

/// Notes that the logger no longer has a range of numbers.
///
/// # Errors
/// As SQLite.
pub fn note_gone(
    connection: &Connection,
    log_id: i64,
    from: RecordSeq,
    below: RecordSeq,
) -> rusqlite::Result<()> {
    if from < below {
        let noted = connection
            .prepare_cached("INSERT OR IGNORE INTO gone (log_id, from_seq, below_seq) VALUES (?1, ?2, ?3)")?
            .execute((log_id, from.0, below.0))?;
        if noted > 0 {
            missing_ranges::add(connection, log_id, from, below)?;
        }
        settle(connection, log_id)?;
    }
    Ok(())
}

/// Reassignments the mark of a log over everything that is held or gone. It only ever moves up.
fn settle(connection: &Connection, log_id: i64) -> rusqlite::Result<()> {
    let before: u32 = connection
        .prepare_cached("SELECT settled FROM log WHERE id = ?1")?
        .query_row((log_id,), |row| row.get(0))?;
    let settled = settled_from(connection, log_id, before)?;
    if settled != before {
        connection.prepare_cached("UPDATE log SET settled = ?2 WHERE id = ?1")?.execute((log_id, settled))?;
    }
    Ok(())
}

/// The number after the last one held of a log.
///
/// # Errors
/// As SQLite.
pub fn held_below(connection: &Connection, log_id: i64) -> rusqlite::Result<RecordSeq> {
    connection
        .prepare_cached("SELECT coalesce(max(seq) + 1, 0) FROM raw_record WHERE log_id = ?1")?
        .query_row((log_id,), |row| row.get(0).map(RecordSeq))
}

/// Where a pull goes on.
///
/// # Errors
/// As SQLite.
pub fn first_missing(connection: &Connection, key: LogKey) -> rusqlite::Result<RecordSeq> {
    let settled = connection
        .prepare_cached("SELECT settled FROM log WHERE logger = ?1 AND log = ?2")?
        .query_row((key.logger.0.cast_signed(), key.log.0), |row| row.get(0))
        .optional()?;
    Ok(RecordSeq(settled.unwrap_or(0)))
}
