//! Sums over what is held of one log.

use rusqlite::{Connection, OptionalExtension};
use shared_types::{BootId, Edges, RecordSeq, RunMillis, Totals, UptimeMillis};

use super::bits::bits;
use super::records::{held_below, known_log_id};
use super::status_reports;
use crate::app::ports::{Gap, Holding};
use host_core::records::log_records::LogKey;

/// Sums up one log; all zero when nothing of it was ever heard.
///
/// # Errors
/// As SQLite.
pub fn of(connection: &Connection, key: LogKey) -> rusqlite::Result<Holding> {
    let Some(id) = known_log_id(connection, key)? else {
        return Ok(Holding::default());
    };
    let counted = counted(connection, id)?;
    let told = status_reports::all(connection)?.into_iter().filter(|heard| heard.key == key);
    let next = told.map(|heard| heard.next).max().unwrap_or_default();
    let (records, gaps) = walk(connection, id, next.max(held_below(connection, id)?))?;
    let count = |sql: &str| {
        connection.prepare_cached(sql)?.query_row((id,), |row| row.get::<_, i64>(0)).map(i64::cast_unsigned)
    };
    Ok(Holding {
        records,
        counted,
        gaps,
        conflicting: count("SELECT count(DISTINCT seq) FROM raw_record WHERE log_id = ?1 AND variant > 0")?,
        unreadable: count("SELECT count(*) FROM unreadable WHERE log_id = ?1")?,
        latest: latest(connection, id)?,
    })
}

/// Boot and uptime of the latest segment held.
fn latest(connection: &Connection, log_id: i64) -> rusqlite::Result<Option<(BootId, UptimeMillis)>> {
    connection
        .prepare_cached(
            "SELECT boot, at_ms FROM segment WHERE log_id = ?1 ORDER BY boot DESC, at_ms DESC LIMIT 1",
        )?
        .query_row((log_id,), |row| Ok((BootId(row.get(0)?), UptimeMillis(bits(row, 1)?))))
        .optional()
}

/// Numbers that are not held below one; all of them when nothing of the log is held.
///
/// # Errors
/// As SQLite.
pub fn missing(connection: &Connection, key: LogKey, below: RecordSeq) -> rusqlite::Result<Vec<Gap>> {
    match known_log_id(connection, key)? {
        Some(id) => Ok(walk(connection, id, below)?.1),
        None => Ok(gap(0, below.0).into_iter().collect()),
    }
}

/// Sums in Rust, where a record with an absurd number stops at the largest instead of failing the whole sum.
fn counted(connection: &Connection, log_id: i64) -> rusqlite::Result<Totals> {
    let mut segments = connection.prepare_cached("SELECT run_ms, edges FROM segment WHERE log_id = ?1")?;
    let mut rows = segments.query((log_id,))?;
    let mut sum = Totals::default();
    while let Some(row) = rows.next()? {
        sum = sum.plus(RunMillis(bits(row, 0)?), Edges(bits(row, 1)?));
    }
    Ok(sum)
}

/// Counts the numbers held and lists those that are missing below `next`.
fn walk(connection: &Connection, log_id: i64, next: RecordSeq) -> rusqlite::Result<(u64, Vec<Gap>)> {
    let mut held = connection
        .prepare_cached("SELECT seq FROM raw_record WHERE log_id = ?1 AND variant = 0 ORDER BY seq")?;
    let mut rows = held.query((log_id,))?;
    let (mut records, mut gaps, mut expected) = (0, Vec::new(), 0_u32);
    while let Some(row) = rows.next()? {
        let seq: u32 = row.get(0)?;
        gaps.extend(gap(expected, seq.min(next.0)));
        expected = seq.saturating_add(1);
        records += 1;
    }
    gaps.extend(gap(expected, next.0));
    Ok((records, gaps))
}

fn gap(from: u32, below: u32) -> Option<Gap> {
    (from < below).then(|| Gap { from: RecordSeq(from), to: RecordSeq(below - 1) })
}
