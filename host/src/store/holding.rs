//! Sums over what is held of one log.

use rusqlite::Connection;
use shared_types::{Edges, RecordSeq, RunMillis, Totals};

use super::hellos::bits;
use super::records::known_log_id;
use crate::app::ports::{Gap, Holding};
use crate::core::facts::LogKey;

/// Sums up one log; all zero when nothing of it was ever heard.
///
/// # Errors
/// As SQLite.
pub fn of(connection: &Connection, key: LogKey) -> rusqlite::Result<Holding> {
    let Some(id) = known_log_id(connection, key)? else {
        return Ok(Holding::default());
    };
    let counted = counted(connection, id)?;
    let next: u32 = connection
        .prepare_cached("SELECT coalesce(max(next), 0) FROM hello WHERE logger = ?1 AND log = ?2")?
        .query_row((key.logger.0.cast_signed(), key.log.0), |row| row.get(0))?;
    let (records, gaps) = walk(connection, id, next)?;
    let count = |sql: &str| {
        connection.prepare_cached(sql)?.query_row((id,), |row| row.get::<_, i64>(0)).map(i64::cast_unsigned)
    };
    Ok(Holding {
        records,
        counted,
        gaps,
        conflicting: count("SELECT count(DISTINCT seq) FROM raw_record WHERE log_id = ?1 AND variant > 0")?,
        unreadable: count("SELECT count(*) FROM unreadable WHERE log_id = ?1")?,
    })
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
fn walk(connection: &Connection, log_id: i64, next: u32) -> rusqlite::Result<(u64, Vec<Gap>)> {
    let mut held = connection
        .prepare_cached("SELECT seq FROM raw_record WHERE log_id = ?1 AND variant = 0 ORDER BY seq")?;
    let mut rows = held.query((log_id,))?;
    let (mut records, mut gaps, mut expected) = (0, Vec::new(), 0_u32);
    while let Some(row) = rows.next()? {
        let seq: u32 = row.get(0)?;
        gaps.extend(gap(expected, seq));
        expected = seq.saturating_add(1);
        records += 1;
    }
    gaps.extend(gap(expected, next));
    Ok((records, gaps))
}

fn gap(from: u32, below: u32) -> Option<Gap> {
    (from < below).then(|| Gap { from: RecordSeq(from), to: RecordSeq(below - 1) })
}
