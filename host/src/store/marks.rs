//! The marks from which on a logger is asked.

use super::content_sum::{self, GONE, LOG};
use super::failure::{Damage, Fault};
use super::moment;
use rusqlite::Connection;

/// The mark of a log, from a mark on that is surely right; zero always is.
///
/// # Errors
/// As SQLite.
pub fn settled_from(connection: &Connection, log_id: i64, mark: u32) -> rusqlite::Result<u32> {
    let mut settled = mark;
    loop {
        let reached = held_up_to(connection, log_id, settled)?;
        let gone: Option<u32> = connection
            .prepare_cached(
                "SELECT max(below_seq) FROM gone WHERE log_id = ?1 AND from_seq <= ?2 AND below_seq > ?2",
            )?
            .query_row((log_id, reached), |row| row.get(0))?;
        let Some(below) = gone else { return Ok(reached) };
        settled = below;
    }
}

/// The logs whose mark is not where records and gaps put it, with where that is.
///
/// # Errors
/// As SQLite.
pub fn wrong_marks(connection: &Connection) -> rusqlite::Result<Vec<(i64, u32)>> {
    let mut logs = connection.prepare_cached("SELECT id, settled FROM log ORDER BY id")?;
    let marks: Vec<(i64, i64)> =
        logs.query_map((), |row| Ok((row.get(0)?, row.get(1)?)))?.collect::<Result<_, _>>()?;
    let mut wrong = Vec::new();
    for (log_id, mark) in marks {
        let right = settled_from(connection, log_id, 0)?;
        if mark != i64::from(right) {
            wrong.push((log_id, right));
        }
    }
    Ok(wrong)
}

/// Holds the list of logs, the gaps and each log's mark against what they should be.
///
/// # Errors
/// As SQLite; the damage when they are not as they should be.
pub fn check_marks(connection: &Connection) -> Result<(), Fault> {
    let moment = moment::begin(connection)?;
    content_sum::check_now(connection, &LOG, 0)?;
    content_sum::check_now(connection, &GONE, 0)?;
    if !wrong_marks(connection)?.is_empty() {
        let what = "the marks from which on a logger is asked";
        return Err(Fault::Damaged(Damage { what, is_derived: true }));
    }
    drop(moment);
    Ok(())
}

/// The first number from `from` on that is not held.
pub fn held_up_to(connection: &Connection, log_id: i64, from: u32) -> rusqlite::Result<u32> {
    let mut held = connection.prepare_cached(
        "SELECT seq FROM raw_record WHERE log_id = ?1 AND seq >= ?2 AND variant = 0 ORDER BY seq",
    )?;
    let mut rows = held.query((log_id, from))?;
    let mut reached = from;
    while let Some(row) = rows.next()? {
        if row.get::<_, u32>(0)? != reached {
            break;
        }
        reached = reached.saturating_add(1);
    }
    Ok(reached)
}

/// Puts each log's mark where records and gaps put it.
///
/// # Errors
/// As SQLite.
pub fn put_marks_right(connection: &Connection) -> rusqlite::Result<()> {
    for (log_id, mark) in wrong_marks(connection)? {
        connection.execute("UPDATE log SET settled = ?2 WHERE id = ?1", (log_id, mark))?;
    }
    Ok(())
}
