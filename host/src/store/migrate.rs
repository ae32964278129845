//! Brings a database to the version that this program knows, and refuses what it cannot judge.
//!
//! The version is SQLite's `user_version`; `application_id` tells our files from other programs'. Both roll back with
//! their transaction. Pragmas that cannot be set inside one (the journal) are set when the file is opened.

use std::path::{Path, PathBuf};

use rusqlite::{Connection, ErrorCode, TransactionBehavior};

use super::failure::{Fault, failed};
use super::moment;
use super::{chain, content_begin, copying, missing_ranges};
use crate::app::ports::StoreError;

/// "NdlH" as big-endian ASCII: marks a database as ours.
pub const APPLICATION_ID: i32 = 0x4E64_6C48;

/// What is done after the tables of a step were made.
type Then = fn(&Connection) -> Result<(), Fault>;

/// One step from a version to the next.
#[derive(Clone, Copy, Debug)]
pub struct Migration {
    /// The tables.
    pub sql: &'static str,
    /// What is to be done afterwards that SQL cannot do, in the same transaction.
    pub then: Option<Then>,
}

/// Each step brings the database from the version that is its place in the list to the next.
pub const MIGRATIONS: &[Migration] = &[
    Migration { sql: include_str!("sql/0001_first.sql"), then: None },
    Migration { sql: include_str!("sql/0002_chain.sql"), then: Some(chain::begin) },
    Migration { sql: include_str!("sql/0003_gone.sql"), then: Some(missing_ranges::begin) },
    Migration { sql: include_str!("sql/0004_sums.sql"), then: Some(content_begin::begin) },
];

/// What a file is, before anything in it is changed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Found {
    /// Nothing in it yet.
    Empty,
    /// One of ours, at this version.
    Ours(u32),
}

/// Looks at one moment, without changing anything: read one after the other, the numbers of a database that somebody is just
/// making would be those of a file of nobody's.
///
/// # Errors
/// `Foreign` for everything that is not ours, `Newer` when a newer program wrote it.
pub fn inspect(connection: &Connection, path: &Path, known: u32) -> Result<Found, StoreError> {
    let number = |pragma: &str| connection.pragma_query_value(None, pragma, |row| row.get::<_, i64>(0));
    let foreign = || StoreError::Foreign { path: path.to_owned() };
    let _moment = moment::begin(connection).map_err(failed("look at the file"))?;
    let application = match number("application_id") {
        Err(error) if error.sqlite_error_code() == Some(ErrorCode::NotADatabase) => return Err(foreign()),
        other => other.map_err(failed("look at the file"))?,
    };
    let version = number("user_version").map_err(failed("read its version"))?;
    let objects: i64 = connection
        .query_row("SELECT count(*) FROM sqlite_schema", (), |row| row.get(0))
        .map_err(failed("read its tables"))?;
    if application == 0 && version == 0 && objects == 0 {
        return Ok(Found::Empty);
    }
    if application != i64::from(APPLICATION_ID) {
        return Err(foreign());
    }
    let version = u32::try_from(version).map_err(|_| foreign())?;
    if version > known {
        return Err(StoreError::Newer { path: path.to_owned(), found: version, known });
    }
    Ok(Found::Ours(version))
}

/// Runs the steps that are missing, all or none. An existing database is first copied beside itself.
///
/// # Errors
/// When the copy cannot be made or a step fails; the database is as before then.
pub fn migrate(
    connection: &mut Connection,
    path: &Path,
    found: Found,
    steps: &[Migration],
) -> Result<Option<PathBuf>, StoreError> {
    let from = match found {
        Found::Empty => 0,
        Found::Ours(version) => version,
    };
    let newest = u32::try_from(steps.len()).unwrap_or(u32::MAX);
    if from == newest {
        return Ok(None);
    }
    let backup = match found {
        Found::Empty => None,
        Found::Ours(version) => Some(back_up(connection, path, version)?),
    };
    let transaction = connection
        .transaction_with_behavior(TransactionBehavior::Immediate)
        .map_err(failed("begin the change to a newer version"))?;
    // Another run may have done it between the look and the lock.
    let now_at: u32 = transaction
        .pragma_query_value(None, "user_version", |row| row.get(0))
        .map_err(failed("read its version"))?;
    for step in steps.iter().skip(usize::try_from(now_at).unwrap_or(usize::MAX)) {
        transaction
            .execute_batch(step.sql)
            .map_err(Fault::from)
            .and_then(|()| step.then.map_or(Ok(()), |then| then(&transaction)))
            .map_err(failed("change to a newer version"))?;
    }
    transaction
        .pragma_update(None, "application_id", APPLICATION_ID)
        .and_then(|()| transaction.pragma_update(None, "user_version", newest.max(now_at)))
        .and_then(|()| transaction.commit())
        .map_err(failed("finish the change to a newer version"))?;
    Ok(backup)
}

/// Copies the database, with what still stands in its journal, to a file beside it that is not there yet.
fn back_up(connection: &Connection, path: &Path, version: u32) -> Result<PathBuf, StoreError> {
    let mut name = path.file_name().unwrap_or_default().to_owned();
    name.push(format!(".version-{version}"));
    let mut copy = path.with_file_name(&name);
    let mut number = 1;
    while copy.exists() {
        number += 1;
        let mut numbered = name.clone();
        numbered.push(format!("-{number}"));
        copy = path.with_file_name(numbered);
    }
    copying::copy(connection, &copy).map_err(|error| match error {
        StoreError::Failed { source, .. } => {
            StoreError::Failed { doing: "make a copy before the change", source }
        }
        other => other,
    })?;
    Ok(copy)
}
