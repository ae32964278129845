//! Sums over what is stored, so that damage is an error on reading and never another answer.
//!
//! A sum is the number of rows and the wrapping sum of the rows' CRC-64: adding a row needs no other row, and the order of
//! rows does not matter. It is kept in the same transaction as the rows. It shows accidents; who changes a row on purpose
//! can change its sum as well, which is what the chain is for.

use crc::{CRC_64_XZ, Crc, Table};
use rusqlite::types::ValueRef;
use rusqlite::{Connection, OptionalExtension, Row, Rows};

use super::failure::{Damage, Fault};

static CRC: Crc<u64, Table<16>> = Crc::<u64, Table<16>>::new(&CRC_64_XZ);

/// A table of which a sum is kept.
#[derive(Debug)]
pub struct Content {
    /// The table.
    pub table: &'static str,
    /// Selects the columns that are summed, without a condition.
    rows: &'static str,
    /// The condition for one row that was just added; none where rows come in ranges of a log.
    one: &'static str,
    /// Whether each log has a sum of its own.
    pub is_by_log: bool,
    /// What is damaged when the sum does not fit.
    pub damage: Damage,
}

const fn kept(what: &'static str) -> Damage {
    Damage { what, is_derived: false }
}

const DERIVED: Damage = Damage { what: "the sums made from the loggers' records", is_derived: true };

/// The maker's entries.
pub const ENTRY: Content = Content {
    table: "entry",
    rows: "SELECT id, entered_at, kind, body FROM entry",
    one: "id = ?1",
    is_by_log: false,
    damage: kept("the entries"),
};

/// How loggers stood when they were heard.
pub const HELLO: Content = Content {
    table: "hello",
    rows: "SELECT id, heard_at, place, logger, log, oldest, next, acknowledged, formatted_with_run_ms,
               formatted_with_edges, total_run_ms, total_edges, boot, uptime_ms, faults, record_version, firmware, build,
               settings
           FROM hello",
    one: "id = ?1",
    is_by_log: false,
    damage: kept("what loggers said when they were heard"),
};

/// Which logs there are; where a pull goes on can be found anew and is not summed.
pub const LOG: Content = Content {
    table: "log",
    rows: "SELECT id, logger, log FROM log",
    one: "id = ?1",
    is_by_log: false,
    damage: kept("the list of the loggers' logs"),
};

/// What loggers no longer have.
pub const GONE: Content = Content {
    table: "gone",
    rows: "SELECT log_id, from_seq, below_seq FROM gone",
    one: "log_id = ?1 AND from_seq = ?2 AND below_seq = ?3",
    is_by_log: false,
    damage: kept("the notes of what loggers no longer have"),
};

/// The chain.
pub const CHAIN: Content = Content {
    table: "chain",
    rows: "SELECT position, covers, row_id, numbers, link FROM chain",
    one: "position = ?1",
    is_by_log: false,
    damage: kept("the chain over what was kept"),
};

/// Which steps were chained later.
pub const CHAINED_LATER: Content = Content {
    table: "chained_later",
    rows: "SELECT first_step, last_step, at FROM chained_later",
    one: "first_step = ?1",
    is_by_log: false,
    damage: kept("the notes of what was chained later"),
};

/// People's names; a name's part of the sum goes with the name.
pub const PERSON_NAME: Content = Content {
    table: "person_name",
    rows: "SELECT person, name FROM person_name",
    one: "person = ?1",
    is_by_log: false,
    damage: kept("the names of people"),
};

/// The loggers' records as they came.
pub const RAW_RECORD: Content = Content {
    table: "raw_record",
    rows: "SELECT seq, variant, received_at, body FROM raw_record",
    one: "log_id = ?1 AND seq BETWEEN ?2 AND ?3 AND variant = ?4",
    is_by_log: true,
    damage: kept("the loggers' records"),
};

/// Segments, made from the records.
pub const SEGMENT: Content = Content {
    table: "segment",
    rows: "SELECT seq, boot, at_ms, run_ms, edges, angle, continues FROM segment",
    one: "log_id = ?1 AND seq BETWEEN ?2 AND ?3",
    is_by_log: true,
    damage: DERIVED,
};

/// Which records are something else, with the bytes that are read for them.
pub const EVENT: Content = Content {
    table: "event",
    rows: "SELECT event.seq, event.kind, raw_record.body FROM event
           LEFT JOIN raw_record ON raw_record.log_id = event.log_id AND raw_record.seq = event.seq
               AND raw_record.variant = 0",
    one: "event.log_id = ?1 AND event.seq BETWEEN ?2 AND ?3",
    is_by_log: true,
    damage: DERIVED,
};

/// Which records could not be read.
pub const UNREADABLE: Content = Content {
    table: "unreadable",
    rows: "SELECT seq, why FROM unreadable",
    one: "log_id = ?1 AND seq BETWEEN ?2 AND ?3",
    is_by_log: true,
    damage: DERIVED,
};

/// Numbers with two different records.
pub const CONFLICT: Content = Content {
    table: "conflict",
    rows: "SELECT seq FROM conflict",
    one: "log_id = ?1 AND seq BETWEEN ?2 AND ?3",
    is_by_log: true,
    damage: DERIVED,
};

/// What is kept for ever or, for names, until it is erased.
pub const KEPT: [&Content; 8] =
    [&ENTRY, &HELLO, &LOG, &GONE, &CHAIN, &CHAINED_LATER, &PERSON_NAME, &RAW_RECORD];
/// What is made from the records.
pub const MADE: [&Content; 4] = [&SEGMENT, &EVENT, &UNREADABLE, &CONFLICT];

impl Content {
    /// Selects the rows of a log, given as the first parameter, or of the whole table.
    pub fn all(&self) -> String {
        if self.is_by_log {
            format!("{} WHERE {}.log_id = ?1", self.rows, self.table)
        } else {
            self.rows.to_owned()
        }
    }
}

/// How many rows, and the sum over them.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Sum {
    /// How many rows.
    pub rows: i64,
    sum: i64,
}

impl Sum {
    /// A sum from its two numbers.
    pub const fn of_numbers(rows: i64, sum: i64) -> Self {
        Self { rows, sum }
    }

    /// Adds the first columns of a row as they are stored.
    ///
    /// # Errors
    /// As SQLite.
    pub fn row(&mut self, bytes: &mut Vec<u8>, row: &Row<'_>, columns: usize) -> rusqlite::Result<()> {
        bytes.clear();
        for column in 0..columns {
            cell(bytes, row.get_ref(column)?);
        }
        self.add(bytes);
        Ok(())
    }

    /// Adds a row's values.
    pub fn values<'row>(&mut self, bytes: &mut Vec<u8>, values: impl Iterator<Item = ValueRef<'row>>) {
        bytes.clear();
        values.for_each(|value| cell(bytes, value));
        self.add(bytes);
    }

    fn add(&mut self, bytes: &[u8]) {
        self.rows = self.rows.wrapping_add(1);
        self.sum = self.sum.wrapping_add(CRC.checksum(bytes).cast_signed());
    }

    fn plus(self, other: Self) -> Self {
        Self { rows: self.rows.wrapping_add(other.rows), sum: self.sum.wrapping_add(other.sum) }
    }

    fn less(self, other: Self) -> Self {
        Self { rows: self.rows.wrapping_sub(other.rows), sum: self.sum.wrapping_sub(other.sum) }
    }

    fn of(mut rows: Rows<'_>, columns: usize) -> rusqlite::Result<Self> {
        let (mut sum, mut bytes) = (Self::default(), Vec::new());
        while let Some(row) = rows.next()? {
            sum.row(&mut bytes, row, columns)?;
        }
        Ok(sum)
    }
}

/// One value: a byte for its kind, then the number in eight bytes, or the length in eight bytes and the bytes.
fn cell(bytes: &mut Vec<u8>, value: ValueRef<'_>) {
    let (kind, number, content): (u8, u64, &[u8]) = match value {
        ValueRef::Null => (0, 0, &[]),
        ValueRef::Integer(number) => (1, number.cast_unsigned(), &[]),
        ValueRef::Real(number) => (2, number.to_bits(), &[]),
        ValueRef::Text(content) => (3, u64::try_from(content.len()).unwrap_or(u64::MAX), content),
        ValueRef::Blob(content) => (4, u64::try_from(content.len()).unwrap_or(u64::MAX), content),
    };
    bytes.push(kind);
    bytes.extend_from_slice(&number.to_le_bytes());
    bytes.extend_from_slice(content);
}

/// The sum over all rows of a log, or of the whole table, as they are now.
///
/// # Errors
/// As SQLite.
pub fn now(connection: &Connection, content: &Content, log_id: i64) -> rusqlite::Result<Sum> {
    let mut statement = connection.prepare_cached(&content.all())?;
    let columns = statement.column_count();
    let rows = if content.is_by_log { statement.query((log_id,))? } else { statement.query(())? };
    Sum::of(rows, columns)
}

/// The sum that was kept; zero when none was.
///
/// # Errors
/// As SQLite.
pub fn stored(connection: &Connection, content: &Content, log_id: i64) -> rusqlite::Result<Sum> {
    connection
        .prepare_cached("SELECT row_count, row_sum FROM content_sum WHERE content = ?1 AND log_id = ?2")?
        .query_row((content.table, log_id), |row| Ok(Sum { rows: row.get(0)?, sum: row.get(1)? }))
        .optional()
        .map(Option::unwrap_or_default)
}

/// A sum that is kept, with its table and the row of its log.
pub type Mark = (&'static str, i64, Sum);

/// The sums that are kept of some tables, of all logs: where they are the same, so is the content.
///
/// # Errors
/// As SQLite.
pub fn marks(connection: &Connection, of: &[&'static Content]) -> rusqlite::Result<Vec<Mark>> {
    let mut statement = connection.prepare_cached(
        "SELECT log_id, row_count, row_sum FROM content_sum WHERE content = ?1 ORDER BY log_id",
    )?;
    let mut marks = Vec::new();
    for content in of {
        let mut rows = statement.query((content.table,))?;
        while let Some(row) = rows.next()? {
            marks.push((content.table, row.get(0)?, Sum { rows: row.get(1)?, sum: row.get(2)? }));
        }
    }
    Ok(marks)
}

/// Keeps a sum in the place of the one before.
///
/// # Errors
/// As SQLite.
pub fn put(connection: &Connection, content: &Content, log_id: i64, sum: Sum) -> rusqlite::Result<()> {
    connection
        .prepare_cached(
            "INSERT INTO content_sum (content, log_id, row_count, row_sum) VALUES (?1, ?2, ?3, ?4)
             ON CONFLICT DO UPDATE SET row_count = excluded.row_count, row_sum = excluded.row_sum",
        )?
        .execute((content.table, log_id, sum.rows, sum.sum))
        .map(drop)
}

/// Adds rows that were just put in to the sum of a log, or of the whole table (0), by the condition that finds them.
///
/// # Errors
/// As SQLite.
pub fn add(
    connection: &Connection,
    content: &Content,
    log_id: i64,
    which: impl rusqlite::Params,
) -> rusqlite::Result<()> {
    let added = some(connection, content, which)?;
    if added == Sum::default() {
        return Ok(());
    }
    put(connection, content, log_id, stored(connection, content, log_id)?.plus(added))
}

/// Takes one row, which is about to go, out of the sum of a whole table.
///
/// # Errors
/// As SQLite.
pub fn take_out(
    connection: &Connection,
    content: &Content,
    which: impl rusqlite::Params,
) -> rusqlite::Result<()> {
    let going = some(connection, content, which)?;
    put(connection, content, 0, stored(connection, content, 0)?.less(going))
}

fn some(connection: &Connection, content: &Content, which: impl rusqlite::Params) -> rusqlite::Result<Sum> {
    let mut statement = connection.prepare_cached(&format!("{} WHERE {}", content.rows, content.one))?;
    let columns = statement.column_count();
    let rows = statement.query(which)?;
    Sum::of(rows, columns)
}

/// Holds what was read against the sum that was kept.
///
/// # Errors
/// The damage when they differ.
pub fn check(connection: &Connection, content: &Content, log_id: i64, read: Sum) -> Result<(), Fault> {
    if stored(connection, content, log_id)? == read { Ok(()) } else { Err(Fault::Damaged(content.damage)) }
}

/// Reads a table as a whole, or a log's part of it, and holds it against its sum.
///
/// # Errors
/// The damage when they differ.
pub fn check_now(connection: &Connection, content: &Content, log_id: i64) -> Result<(), Fault> {
    check(connection, content, log_id, now(connection, content, log_id)?)
}

/// Every log of which a table holds rows or a sum is kept; 0 alone for a table that is summed as a whole.
///
/// # Errors
/// As SQLite.
pub fn logs_of(connection: &Connection, content: &Content) -> rusqlite::Result<Vec<i64>> {
    if !content.is_by_log {
        return Ok(vec![0]);
    }
    connection
        .prepare(&format!(
            "SELECT log_id FROM content_sum WHERE content = ?1 UNION SELECT DISTINCT log_id FROM {} ORDER BY 1",
            content.table
        ))?
        .query_map((content.table,), |row| row.get(0))?
        .collect()
}

/// Makes the sums of some tables anew from what they hold now.
///
/// # Errors
/// As SQLite.
pub fn renew(connection: &Connection, contents: &[&Content]) -> rusqlite::Result<()> {
    for content in contents {
        let logs = logs_of(connection, content)?;
        connection.execute("DELETE FROM content_sum WHERE content = ?1", (content.table,))?;
        for log_id in logs {
            let sum = now(connection, content, log_id)?;
            if sum != Sum::default() {
                put(connection, content, log_id, sum)?;
            }
        }
    }
    Ok(())
}

/// Holds what is kept against its sums, all of it.
///
/// # Errors
/// The first damage that is found.
pub fn check_kept(connection: &Connection) -> Result<(), Fault> {
    for content in KEPT {
        for log_id in logs_of(connection, content)? {
            check_now(connection, content, log_id)?;
        }
    }
    Ok(())
}

/// How many sums do not fit what is stored, those of tables that nobody knows included.
///
/// # Errors
/// As SQLite.
pub fn differing(connection: &Connection) -> rusqlite::Result<u64> {
    let mut differing = 0;
    let mut known = 0;
    for content in KEPT.into_iter().chain(MADE) {
        for log_id in logs_of(connection, content)? {
            let stored = stored(connection, content, log_id)?;
            differing += u64::from(stored != now(connection, content, log_id)?);
            known += i64::from(is_stored(connection, content, log_id)?);
        }
    }
    let all: i64 = connection.query_row("SELECT count(*) FROM content_sum", (), |row| row.get(0))?;
    Ok(differing + all.abs_diff(known))
}

fn is_stored(connection: &Connection, content: &Content, log_id: i64) -> rusqlite::Result<bool> {
    connection
        .prepare_cached("SELECT EXISTS (SELECT 1 FROM content_sum WHERE content = ?1 AND log_id = ?2)")?
        .query_row((content.table, log_id), |row| row.get(0))
}
