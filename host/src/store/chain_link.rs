//! Adding a step to the chain.

use super::bits::bits;
use host_core::book::Link;
use host_core::book::canonical::Fields;
use rusqlite::{Connection, OptionalExtension, Row};

/// Adds a step with its link; its place.
///
/// # Errors
/// As SQLite.
pub fn link_after(
    connection: &Connection,
    covers: &str,
    row_id: i64,
    numbers: &str,
    content: Option<Fields>,
) -> rusqlite::Result<i64> {
    let content = content.ok_or(rusqlite::Error::QueryReturnedNoRows)?;
    let last = connection
        .prepare_cached("SELECT position, link FROM chain ORDER BY position DESC LIMIT 1")?
        .query_row((), |row| Ok((row.get::<_, i64>(0)?, link(row, 1)?)))
        .optional()?;
    let (position, previous) = last.map_or((0, None), |(position, link)| (position, link));
    let position = position.saturating_add(1);
    // A last link that somebody spoiled is told by the check; it must not stop the work.
    let previous = previous.unwrap_or(Link::BEFORE_THE_FIRST);
    let made = Link::after(previous, position.unsigned_abs(), &content);
    connection
        .prepare_cached(
            "INSERT INTO chain (position, covers, row_id, numbers, link) VALUES (?1, ?2, ?3, ?4, ?5)",
        )?
        .execute((position, covers, row_id, numbers, made.0))?;
    Ok(position)
}

pub fn link(row: &Row<'_>, column: usize) -> rusqlite::Result<Option<Link>> {
    let stored = row.get_ref(column)?;
    Ok(stored.as_blob().ok().and_then(|bytes| bytes.try_into().ok()).map(Link))
}

pub fn log_name(connection: &Connection, log_id: i64) -> rusqlite::Result<String> {
    let name = connection
        .prepare_cached("SELECT logger, log FROM log WHERE id = ?1")?
        .query_row((log_id,), |row| Ok(format!("{:016x}/{:08x}", bits(row, 0)?, row.get::<_, u32>(1)?)))
        .optional()?;
    Ok(name.unwrap_or_default())
}
