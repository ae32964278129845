//! The chain's links: stored in the same transaction as the rows that they cover, and walked again to check them.
//!
//! Rows are read here as bytes, so that a row that somebody spoiled breaks its link and not the check.

use rusqlite::types::ValueRef;
use rusqlite::{Connection, OptionalExtension};
use shared_types::RecordSeq;

use super::bits::bits;
use super::chain_link::{link, link_after, log_name};
use super::chain_numbers::{Group, Numbers};
use super::content_sum::{self, CHAIN, ENTRY as ENTRIES, HELLO as HEARINGS, RAW_RECORD};
use super::failure::Fault;
use super::walked_records::WalkedRecords;
use super::{missing_ranges, moment};
use host_core::book::canonical::{self, Fields, RowsDigest};
use host_core::book::{Covers, Step};

const ENTRY: &str = "entry";
const HEARD: &str = "heard";
const RECORDS: &str = "records";
const GONE: &str = missing_ranges::GONE;

/// The columns of a hearing, in the order in which they are chained.
const HELLO: &str = "id, heard_at, place, logger, log, oldest, next, acknowledged, formatted_with_run_ms,
    formatted_with_edges, total_run_ms, total_edges, boot, uptime_ms, faults, record_version, firmware, build, settings";

/// Adds the link of an entry that was just kept, and the entry to the sum of entries.
///
/// # Errors
/// As SQLite.
pub fn add_entry(connection: &Connection, id: i64) -> rusqlite::Result<()> {
    content_sum::add(connection, &ENTRIES, 0, (id,))?;
    let position = link_entry(connection, id)?;
    content_sum::add(connection, &CHAIN, 0, (position,))
}

/// Adds the link of a hearing that was just kept, and the hearing to the sum of hearings.
///
/// # Errors
/// As SQLite.
pub fn add_heard(connection: &Connection, id: i64) -> rusqlite::Result<()> {
    content_sum::add(connection, &HEARINGS, 0, (id,))?;
    let position = link_heard(connection, id)?;
    content_sum::add(connection, &CHAIN, 0, (position,))
}

/// Adds the link of records of one log that were just kept, if there are any, and the records to the sum of the log's.
///
/// # Errors
/// As SQLite.
pub fn add_records(connection: &Connection, log_id: i64, numbers: &Numbers) -> rusqlite::Result<()> {
    if numbers.groups().is_empty() {
        return Ok(());
    }
    for Group { variant, from, to } in numbers.groups() {
        content_sum::add(connection, &RAW_RECORD, log_id, (log_id, from.0, to.0, variant))?;
    }
    let position = link_records(connection, log_id, numbers)?;
    content_sum::add(connection, &CHAIN, 0, (position,))
}

/// Links without a sum.
///
/// # Errors
/// As SQLite.
pub(super) fn link_entry(connection: &Connection, id: i64) -> rusqlite::Result<i64> {
    link_after(connection, ENTRY, id, "", entry(connection, id)?)
}

/// Links without a sum.
///
/// # Errors
/// As SQLite.
pub(super) fn link_heard(connection: &Connection, id: i64) -> rusqlite::Result<i64> {
    link_after(connection, HEARD, id, "", heard(connection, id)?)
}

/// Links without a sum.
///
/// # Errors
/// As SQLite.
pub(super) fn link_records(connection: &Connection, log_id: i64, numbers: &Numbers) -> rusqlite::Result<i64> {
    let content = records(connection, log_id, numbers)?;
    link_after(connection, RECORDS, log_id, &numbers.to_string(), content)
}

/// Chains what a database from before the chain holds: the entries, then the hearings, each in the order of arrival, then
/// each log's records.
///
/// # Errors
/// As SQLite.
pub fn begin(connection: &Connection) -> Result<(), Fault> {
    let ids = |sql: &str| -> rusqlite::Result<Vec<i64>> {
        connection.prepare(sql)?.query_map((), |row| row.get(0))?.collect()
    };
    for id in ids("SELECT id FROM entry ORDER BY id")? {
        link_entry(connection, id)?;
    }
    for id in ids("SELECT id FROM hello ORDER BY id")? {
        link_heard(connection, id)?;
    }
    for log_id in ids("SELECT id FROM log ORDER BY id")? {
        let kept = connection
            .prepare_cached("SELECT variant, seq FROM raw_record WHERE log_id = ?1")?
            .query_map((log_id,), |row| Ok((row.get(0)?, RecordSeq(row.get(1)?))))?
            .collect::<Result<Vec<_>, _>>()?;
        if !kept.is_empty() {
            link_records(connection, log_id, &Numbers::of(kept))?;
        }
    }
    Ok(())
}

/// The canonical bytes of an entry; none when it is gone.
fn entry(connection: &Connection, id: i64) -> rusqlite::Result<Option<Fields>> {
    connection
        .prepare_cached("SELECT entered_at, kind, body FROM entry WHERE id = ?1")?
        .query_row((id,), |row| {
            Ok(canonical::entry(id, row.get(0)?, bytes(row.get_ref(1)?), bytes(row.get_ref(2)?)))
        })
        .optional()
}

/// The canonical bytes of a hearing; none when it is gone.
fn heard(connection: &Connection, id: i64) -> rusqlite::Result<Option<Fields>> {
    let mut statement = connection.prepare_cached(&format!("SELECT {HELLO} FROM hello WHERE id = ?1"))?;
    let columns = statement.column_count();
    statement
        .query_row((id,), |row| {
            let mut fields = Fields::of(HEARD);
            for column in 0..columns {
                match row.get_ref(column)? {
                    ValueRef::Integer(number) => fields.shown(number),
                    other => fields.bytes(bytes(other)),
                };
            }
            Ok(fields)
        })
        .optional()
}

/// The canonical bytes of records that were kept together; none when their log is gone.
fn records(connection: &Connection, log_id: i64, numbers: &Numbers) -> rusqlite::Result<Option<Fields>> {
    Ok(counted_records(connection, log_id, numbers)?.map(|(fields, _)| fields))
}

/// The same, with the number of the records.
fn counted_records(
    connection: &Connection,
    log_id: i64,
    numbers: &Numbers,
) -> rusqlite::Result<Option<(Fields, u64)>> {
    let named = connection
        .prepare_cached("SELECT logger, log FROM log WHERE id = ?1")?
        .query_row((log_id,), |row| Ok((bits(row, 0)?, row.get::<_, u32>(1)?)))
        .optional()?;
    let Some((logger, log)) = named else { return Ok(None) };
    let mut digest = RowsDigest::default();
    let mut statement = connection.prepare_cached(
        "SELECT seq, variant, received_at, body FROM raw_record
         WHERE log_id = ?1 AND variant = ?2 AND seq BETWEEN ?3 AND ?4 ORDER BY seq",
    )?;
    for Group { variant, from, to } in numbers.groups() {
        let mut rows = statement.query((log_id, variant, from.0, to.0))?;
        while let Some(row) = rows.next()? {
            digest.row(row.get(0)?, row.get(1)?, row.get(2)?, bytes(row.get_ref(3)?));
        }
    }
    let rows = digest.rows();
    Ok(Some((canonical::records(logger, log, numbers.to_string().as_bytes(), digest), rows)))
}

fn bytes(value: ValueRef<'_>) -> &[u8] {
    match value {
        ValueRef::Text(bytes) | ValueRef::Blob(bytes) => bytes,
        _ => &[],
    }
}

/// Shows every step in order, then returns what is in no step.
///
/// # Errors
/// As SQLite.
pub fn walk(connection: &Connection, look: &mut dyn FnMut(&Step)) -> rusqlite::Result<Vec<Covers>> {
    let moment = moment::begin(connection)?;
    let outside = walk_within(connection, look);
    drop(moment);
    outside
}

/// The same within an act or a moment of the caller's.
///
/// # Errors
/// As SQLite.
pub fn walk_within(connection: &Connection, look: &mut dyn FnMut(&Step)) -> rusqlite::Result<Vec<Covers>> {
    let mut steps =
        connection.prepare("SELECT position, covers, row_id, numbers, link FROM chain ORDER BY position")?;
    let mut rows = steps.query(())?;
    let mut walked = WalkedRecords::default();
    while let Some(row) = rows.next()? {
        let (covers, row_id) = (bytes(row.get_ref(1)?), row.get(2)?);
        let text = String::from_utf8_lossy(bytes(row.get_ref(3)?)).into_owned();
        let (covers, content) = covered(connection, covers, row_id, text, &mut walked)?;
        let position = row.get::<_, i64>(0)?.unsigned_abs();
        look(&Step { position, covers, link: link(row, 4)?, content });
    }
    outside(connection, walked)
}

/// What a step covers, and its canonical bytes as they are now.
fn covered(
    connection: &Connection,
    covers: &[u8],
    row_id: i64,
    text: String,
    walked: &mut WalkedRecords,
) -> rusqlite::Result<(Covers, Option<Fields>)> {
    let spoiled = || Some(Fields::of("numbers that cannot be read"));
    // Numbers stand only where there are several rows; and in one way only, so that no other text means the same.
    let unless_numbered = |content: Option<Fields>| if text.is_empty() { content } else { spoiled() };
    let numbers = text.parse::<Numbers>().ok().filter(|numbers| numbers.to_string() == text);
    Ok(match covers {
        _ if covers == ENTRY.as_bytes() => {
            (Covers::Entry { entry: row_id }, unless_numbered(entry(connection, row_id)?))
        }
        _ if covers == HEARD.as_bytes() => {
            (Covers::Heard { hearing: row_id }, unless_numbered(heard(connection, row_id)?))
        }
        _ if covers == RECORDS.as_bytes() => {
            let content = match numbers {
                Some(numbers) => counted_records(connection, row_id, &numbers)?.map(|(fields, rows)| {
                    walked.take(row_id, &numbers, rows);
                    fields
                }),
                None => spoiled(),
            };
            (Covers::Records { log: log_name(connection, row_id)?, numbers: text }, content)
        }
        _ if covers == GONE.as_bytes() => {
            let content = match missing_ranges::range(&text) {
                Some((from, below)) => missing_ranges::content(connection, row_id, from, below)?,
                None => spoiled(),
            };
            (Covers::Gone { log: log_name(connection, row_id)?, numbers: text }, content)
        }
        _ => (Covers::Unknown, Some(Fields::of("unknown"))),
    })
}

/// What is in no step: it was put in past the program.
fn outside(connection: &Connection, walked: WalkedRecords) -> rusqlite::Result<Vec<Covers>> {
    let mut found = Vec::new();
    for (table, covers) in [("entry", ENTRY), ("hello", HEARD)] {
        let sql = format!(
            "SELECT id FROM {table} WHERE id NOT IN (SELECT row_id FROM chain WHERE covers = ?1) ORDER BY id"
        );
        let mut statement = connection.prepare(&sql)?;
        for id in statement.query_map((covers,), |row| row.get::<_, i64>(0))? {
            let id = id?;
            found.push(if covers == ENTRY {
                Covers::Entry { entry: id }
            } else {
                Covers::Heard { hearing: id }
            });
        }
    }
    found.extend(missing_ranges::outside(connection)?);
    if walked.are_all(connection)? {
        return Ok(found);
    }
    let logs: Vec<i64> = connection
        .prepare("SELECT DISTINCT log_id FROM raw_record ORDER BY log_id")?
        .query_map((), |row| row.get(0))?
        .collect::<Result<_, _>>()?;
    for log_id in logs {
        let mut covered = Numbers::default();
        let mut steps =
            connection.prepare_cached("SELECT numbers FROM chain WHERE covers = ?1 AND row_id = ?2")?;
        let mut rows = steps.query((RECORDS, log_id))?;
        while let Some(row) = rows.next()? {
            let text = String::from_utf8_lossy(bytes(row.get_ref(0)?)).into_owned();
            covered.extend(text.parse::<Numbers>().unwrap_or_default());
        }
        let mut kept = connection.prepare_cached("SELECT variant, seq FROM raw_record WHERE log_id = ?1")?;
        let uncovered = kept
            .query_map((log_id,), |row| Ok((row.get(0)?, RecordSeq(row.get(1)?))))?
            .filter(|row| row.as_ref().ok().is_none_or(|(variant, seq)| !covered.contains(*variant, *seq)))
            .collect::<Result<Vec<_>, _>>()?;
        if !uncovered.is_empty() {
            let numbers = Numbers::of(uncovered).to_string();
            found.push(Covers::Records { log: log_name(connection, log_id)?, numbers });
        }
    }
    Ok(found)
}
