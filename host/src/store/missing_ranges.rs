//! Steps of the chain over what a logger no longer has. A number that is noted as gone is never asked for again, so a row put
//! in there could keep records from ever being read.

use rusqlite::{Connection, OptionalExtension};
use shared_types::RecordSeq;

use super::bits::bits;
use super::content_sum::{self, CHAIN, GONE as RANGES};
use super::failure::Fault;
use super::{chain_link, marks};
use host_core::book::Covers;
use host_core::book::canonical::{self, Fields};

/// The name of such a step.
pub const GONE: &str = "gone";

/// Adds the link of a range that was just noted, and the range to the sum of ranges.
///
/// # Errors
/// As SQLite.
pub fn add(connection: &Connection, log_id: i64, from: RecordSeq, below: RecordSeq) -> rusqlite::Result<()> {
    content_sum::add(connection, &RANGES, 0, (log_id, from.0, below.0))?;
    let position = link(connection, log_id, from, below)?;
    content_sum::add(connection, &CHAIN, 0, (position,))
}

/// Adds the link alone.
///
/// # Errors
/// As SQLite.
pub(super) fn link(
    connection: &Connection,
    log_id: i64,
    from: RecordSeq,
    below: RecordSeq,
) -> rusqlite::Result<i64> {
    let content = content(connection, log_id, from.0, below.0)?;
    chain_link::link_after(connection, GONE, log_id, &text(from.0, below.0), content)
}

/// Chains the ranges of a database from before there were such steps, log by log, and puts each log's mark where records and
/// ranges put it: a mark that was too high would keep records from being read, one too low only asks for them twice.
///
/// # Errors
/// As SQLite.
pub fn begin(connection: &Connection) -> Result<(), Fault> {
    let ranges: Vec<(i64, u32, u32)> = connection
        .prepare("SELECT log_id, from_seq, below_seq FROM gone ORDER BY log_id, from_seq, below_seq")?
        .query_map((), |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?)))?
        .collect::<Result<_, _>>()?;
    let mut linked = connection
        .prepare("SELECT EXISTS (SELECT 1 FROM chain WHERE covers = ?1 AND row_id = ?2 AND numbers = ?3)")?;
    for (log_id, from, below) in ranges {
        // A file whose version number was damaged comes here again.
        if !linked.query_row((GONE, log_id, text(from, below)), |row| row.get::<_, bool>(0))? {
            link(connection, log_id, RecordSeq(from), RecordSeq(below))?;
        }
    }
    Ok(marks::put_marks_right(connection)?)
}

/// The range as the chain writes it: first number, a dash, the number after the last.
fn text(from: u32, below: u32) -> String {
    format!("{from}-{below}")
}

/// The range of such a text; none for any other text.
pub fn range(written: &str) -> Option<(u32, u32)> {
    let (from, below) = written.split_once('-')?;
    let range = (from.parse().ok()?, below.parse().ok()?);
    (text(range.0, range.1) == written).then_some(range)
}

/// The canonical bytes of a range; none when it or its log is gone from the database.
///
/// # Errors
/// As SQLite.
pub fn content(
    connection: &Connection,
    log_id: i64,
    from: u32,
    below: u32,
) -> rusqlite::Result<Option<Fields>> {
    let named = connection
        .prepare_cached(
            "SELECT logger, log FROM gone JOIN log ON log.id = log_id
             WHERE log_id = ?1 AND from_seq = ?2 AND below_seq = ?3",
        )?
        .query_row((log_id, from, below), |row| Ok((bits(row, 0)?, row.get::<_, u32>(1)?)))
        .optional()?;
    Ok(named.map(|(logger, log)| canonical::gone(logger, log, from, below)))
}

/// Ranges and logs that are in no step.
///
/// # Errors
/// As SQLite.
pub fn outside(connection: &Connection) -> rusqlite::Result<Vec<Covers>> {
    let mut found = Vec::new();
    let mut ranges = connection.prepare(
        "SELECT log_id, from_seq || '-' || below_seq AS range FROM gone WHERE NOT EXISTS
             (SELECT 1 FROM chain WHERE covers = ?1 AND row_id = log_id AND numbers = range)
         ORDER BY log_id, from_seq",
    )?;
    for range in ranges.query_map((GONE,), |row| Ok((row.get::<_, i64>(0)?, row.get::<_, String>(1)?)))? {
        let (log_id, numbers) = range?;
        found.push(Covers::Gone { log: chain_link::log_name(connection, log_id)?, numbers });
    }
    // A log has its row because it was heard, or because something of it was kept.
    let mut logs = connection.prepare(
        "SELECT id FROM log WHERE NOT EXISTS
             (SELECT 1 FROM hello WHERE hello.logger = log.logger AND hello.log = log.log)
         AND NOT EXISTS (SELECT 1 FROM chain WHERE covers IN ('records', 'gone') AND row_id = log.id)
         ORDER BY id",
    )?;
    for id in logs.query_map((), |row| row.get::<_, i64>(0))? {
        found.push(Covers::Log { log: chain_link::log_name(connection, id?)? });
    }
    Ok(found)
}
