//! How loggers stood when they were heard.

use std::collections::BTreeMap;

use rusqlite::{Connection, Row};
use shared_types::link::{LogState, LoggerStatus};
use shared_types::{Edges, LogId, LoggerId, RecordSeq, RunMillis, Totals, UtcMillis};

use super::bits::bits;
use super::chain;
use super::records::{held_below, known_log_id, log_id};
use crate::app::logger::greeting;
use crate::app::ports::StatusReport;
use host_core::records::log_records::LogKey;

/// Keeps one status report inside the caller's transaction.
///
/// # Errors
/// As SQLite.
pub fn note(
    connection: &Connection,
    at: UtcMillis,
    status: &LoggerStatus,
    place: &str,
) -> rusqlite::Result<()> {
    let settings = serde_json::to_string(&status.settings)
        .map_err(|error| rusqlite::Error::ToSqlConversionFailure(Box::new(error)))?;
    let firmware = format!("{}.{}.{}", status.firmware.major, status.firmware.minor, status.firmware.patch);
    let ready = match status.log {
        LogState::Ready { log, oldest, next, acknowledged, formatted_with } => {
            // What it says is there no more is not believed before it was asked for it.
            log_id(connection, LogKey { logger: status.logger, log })?;
            Some((log, oldest, next, acknowledged, formatted_with))
        }
        LogState::Unreadable | LogState::Formatting { .. } => None,
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
            status.logger.0.cast_signed(),
            ready.map(|(log, ..)| log.0),
            ready.map(|(_, oldest, ..)| oldest.0),
            ready.map(|(_, _, next, ..)| next.0),
            ready.map(|(.., acknowledged, _)| acknowledged.0),
            ready.map(|(.., formatted_with)| formatted_with.run.0.cast_signed()),
            ready.map(|(.., formatted_with)| formatted_with.edges.0.cast_signed()),
            status.totals.run.0.cast_signed(),
            status.totals.edges.0.cast_signed(),
            status.boot.0,
            status.uptime.0.cast_signed(),
            status.faults,
            status.record_version,
            firmware,
            status.build.as_str(),
            settings,
        ])?;
    chain::add_heard(connection, id)
}

const COLUMNS: &str =
    "heard_at, place, logger, log, oldest, next, formatted_with_run_ms, formatted_with_edges,
     total_run_ms, total_edges, firmware";

/// Every status report of every logger with a readable log that can be true beside the others, oldest first.
///
/// # Errors
/// As SQLite.
pub fn all(connection: &Connection) -> rusqlite::Result<Vec<StatusReport>> {
    let mut of_logs: BTreeMap<LogKey, Vec<Numbered>> = BTreeMap::new();
    let mut statement =
        connection.prepare(&format!("SELECT {COLUMNS}, id FROM hello WHERE log IS NOT NULL ORDER BY id"))?;
    for row in statement.query_map((), |row| Ok((row.get(11)?, heard(row)?)))? {
        let (id, heard): (i64, StatusReport) = row?;
        of_logs.entry(heard.key).or_default().push(Numbered { id, heard });
    }
    let mut believed = Vec::new();
    for (key, heard) in of_logs {
        let Some(log_id) = known_log_id(connection, key)? else {
            believed.extend(heard);
            continue;
        };
        let held = held_below(connection, log_id)?;
        believed
            .extend(greeting::believed(heard, held, |numbers| counted_below(connection, log_id, numbers))?);
    }
    believed.sort_by_key(|numbered: &Numbered| numbered.id);
    Ok(believed.into_iter().map(|numbered| numbered.heard).collect())
}

/// A status report with its row, which says when it came among those of other logs.
#[derive(Clone)]
struct Numbered {
    id: i64,
    heard: StatusReport,
}

impl AsRef<StatusReport> for Numbered {
    fn as_ref(&self) -> &StatusReport {
        &self.heard
    }
}

/// Run time and edges of the segments held below each of some numbers, in one walk; stops at the largest number, as
/// [`Totals::plus`].
fn counted_below(
    connection: &Connection,
    log_id: i64,
    numbers: &[RecordSeq],
) -> rusqlite::Result<Vec<Totals>> {
    let mut rising: Vec<(usize, RecordSeq)> = numbers.iter().copied().enumerate().collect();
    rising.sort_by_key(|(_, below)| *below);
    let mut segments =
        connection.prepare_cached("SELECT seq, run_ms, edges FROM segment WHERE log_id = ?1 ORDER BY seq")?;
    let mut rows = segments.query((log_id,))?;
    let mut next = rows.next()?;
    let (mut sum, mut sums) = (Totals::default(), vec![Totals::default(); numbers.len()]);
    for (place, below) in rising {
        while let Some(row) = next {
            if RecordSeq(row.get(0)?) >= below {
                break;
            }
            sum = sum.plus(RunMillis(bits(row, 1)?), Edges(bits(row, 2)?));
            next = rows.next()?;
        }
        if let Some(of_number) = sums.get_mut(place) {
            *of_number = sum;
        }
    }
    Ok(sums)
}

fn heard(row: &Row<'_>) -> rusqlite::Result<StatusReport> {
    Ok(StatusReport {
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
