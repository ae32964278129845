//! How loggers stood when they were heard.

use rusqlite::{Connection, Row};
use shared_types::link::{Hello, LogState};
use shared_types::{Edges, LogId, LoggerId, RecordSeq, RunMillis, Totals, UtcMillis};

use super::chain;
use super::records::{log_id, note_gone};
use crate::app::ports::Heard;
use crate::core::facts::LogKey;

/// Keeps one hello inside the caller's transaction.
///
/// # Errors
/// As SQLite.
pub fn note(connection: &Connection, at: UtcMillis, hello: &Hello, place: &str) -> rusqlite::Result<()> {
    let settings = serde_json::to_string(&hello.settings)
        .map_err(|error| rusqlite::Error::ToSqlConversionFailure(Box::new(error)))?;
    let firmware = format!("{}.{}.{}", hello.firmware.major, hello.firmware.minor, hello.firmware.patch);
    let ready = match hello.log {
        LogState::Ready { log, oldest, next, acknowledged, formatted_with } => {
            let id = log_id(connection, LogKey { logger: hello.logger, log })?;
            note_gone(connection, id, RecordSeq(0), oldest)?;
            Some((log, oldest, next, acknowledged, formatted_with))
        }
        LogState::Unreadable | LogState::Making { .. } => None,
    };
    let id = connection
        .prepare_cached(
            "INSERT INTO hello (heard_at, place, logger, log, oldest, next, acknowledged,
                 formatted_with_run_ms, formatted_with_edges, total_run_ms, total_edges,
                 boot, uptime_ms, faults, record_version, firmware, build, settings)
             VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15, ?16, ?17, ?18)",
        )?
        .insert(rusqlite::params![
            at.0,
            place,
            hello.logger.0.cast_signed(),
            ready.map(|(log, ..)| log.0),
            ready.map(|(_, oldest, ..)| oldest.0),
            ready.map(|(_, _, next, ..)| next.0),
            ready.map(|(.., acknowledged, _)| acknowledged.0),
            ready.map(|(.., formatted_with)| formatted_with.run.0.cast_signed()),
            ready.map(|(.., formatted_with)| formatted_with.edges.0.cast_signed()),
            hello.totals.run.0.cast_signed(),
            hello.totals.edges.0.cast_signed(),
            hello.boot.0,
            hello.uptime.0.cast_signed(),
            hello.faults,
            hello.record_version,
            firmware,
            hello.build.as_str(),
            settings,
        ])?;
    chain::add_heard(connection, id)
}

const COLUMNS: &str =
    "heard_at, place, logger, log, oldest, next, formatted_with_run_ms, formatted_with_edges,
     total_run_ms, total_edges, firmware";

/// Every hello of every logger with a readable log, oldest first.
///
/// # Errors
/// As SQLite.
pub fn all(connection: &Connection) -> rusqlite::Result<Vec<Heard>> {
    connection
        .prepare(&format!("SELECT {COLUMNS} FROM hello WHERE log IS NOT NULL ORDER BY id"))?
        .query_map((), heard)?
        .collect()
}

fn heard(row: &Row<'_>) -> rusqlite::Result<Heard> {
    Ok(Heard {
        at: UtcMillis(row.get(0)?),
        place: row.get(1)?,
        key: LogKey { logger: LoggerId(bits(row, 2)?), log: LogId(row.get(3)?) },
        oldest: RecordSeq(row.get(4)?),
        next: RecordSeq(row.get(5)?),
        formatted_with: Totals { run: RunMillis(bits(row, 6)?), edges: Edges(bits(row, 7)?) },
        totals: Totals { run: RunMillis(bits(row, 8)?), edges: Edges(bits(row, 9)?) },
        firmware: row.get(10)?,
    })
}

/// A 64-bit number without sign, kept bit for bit in a signed column.
///
/// # Errors
/// As SQLite.
pub fn bits(row: &Row<'_>, column: usize) -> rusqlite::Result<u64> {
    row.get::<_, i64>(column).map(i64::cast_unsigned)
}
