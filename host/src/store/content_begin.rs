//! Brings a database from before there were sums to having them: what was kept is held against the chain first, so that
//! damage from before is never sealed as truth.

use rusqlite::Connection;
use shared_types::UtcMillis;

use super::chain;
use super::content_sum::{self, CHAINED_LATER, KEPT};
use super::failure::{Damage, Fault};
use crate::app::ports::book::ChainedLater;
use host_core::book::Checker;

/// Checks the chain, notes which steps were made later than their rows, and makes the sums of what is kept.
///
/// # Errors
/// As SQLite; the damage when the chain does not hold.
pub fn begin(connection: &Connection) -> Result<(), Fault> {
    let mut checker = Checker::new(None);
    for covers in chain::walk_within(connection, &mut |step| checker.step(step))? {
        checker.outside(covers);
    }
    if !checker.finished().is_whole {
        let what = "what was kept before this version of the program";
        return Err(Fault::Damaged(Damage { what, is_derived: false }));
    }
    note_chained_later(connection)?;
    Ok(content_sum::renew(connection, &KEPT)?)
}

/// Notes the steps of the chain that are not as old as their rows.
fn note_chained_later(connection: &Connection) -> rusqlite::Result<()> {
    // The version is set after all steps to the newest one, so it still tells which program wrote the file.
    let from: u32 = connection.pragma_query_value(None, "user_version", |row| row.get(0))?;
    match from {
        0 => Ok(()),
        1 => note(connection, "SELECT 1, max(position) FROM chain"),
        2 => note(connection, "SELECT min(position), max(position) FROM chain WHERE covers = 'gone'"),
        // Nobody noted it then. Rows that were chained as they arrived stand in the order of their arrival.
        _ => note(
            connection,
            "WITH arrived AS (
                 SELECT position, CASE covers
                     WHEN 'entry' THEN (SELECT entered_at FROM entry WHERE id = row_id)
                     WHEN 'heard' THEN (SELECT heard_at FROM hello WHERE id = row_id)
                     WHEN 'records' THEN (SELECT min(received_at) FROM raw_record WHERE log_id = row_id AND seq =
                         CAST(substr(numbers, instr(numbers, ':') + 1) AS INTEGER))
                 END AS at FROM chain),
             so_far AS (SELECT position, at, max(at) OVER (ORDER BY position) AS latest FROM arrived)
             SELECT 1, max(position) FROM so_far WHERE at < latest",
        ),
    }
}

fn note(connection: &Connection, range: &str) -> rusqlite::Result<()> {
    let (first, last): (Option<i64>, Option<i64>) =
        connection.query_row(range, (), |row| Ok((row.get(0)?, row.get(1)?)))?;
    if let (Some(first), Some(last)) = (first, last) {
        connection.execute(
            "INSERT OR REPLACE INTO chained_later (first_step, last_step, at) VALUES (?1, ?2, NULL)",
            (first, last),
        )?;
    }
    Ok(())
}

/// The steps that were made later than their rows.
///
/// # Errors
/// As SQLite.
pub fn chained_later(connection: &Connection) -> rusqlite::Result<Vec<ChainedLater>> {
    connection
        .prepare("SELECT first_step, last_step, at FROM chained_later ORDER BY first_step")?
        .query_map((), |row| {
            Ok(ChainedLater {
                first_step: row.get::<_, i64>(0)?.unsigned_abs(),
                last_step: row.get::<_, i64>(1)?.unsigned_abs(),
                at_utc_ms: row.get::<_, Option<i64>>(2)?.map(UtcMillis),
            })
        })?
        .collect()
}

/// Notes that all steps that there are were made at one moment, after their rows.
///
/// # Errors
/// As SQLite.
pub fn note_all(connection: &Connection, at_ms: i64) -> rusqlite::Result<()> {
    note(connection, "SELECT 1, max(position) FROM chain")?;
    connection.execute("UPDATE chained_later SET at = ?1", (at_ms,))?;
    content_sum::renew(connection, &[&CHAINED_LATER])
}
