//! Holds the tables, guards and indexes of a file against those that the program's own steps make.

use std::collections::BTreeMap;

use rusqlite::Connection;

use super::migrate::MIGRATIONS;
use crate::app::ports::book::{SchemaFinding, SchemaWhy};

/// Name to kind, table and text.
type Schema = BTreeMap<Vec<u8>, (Vec<u8>, Vec<u8>, Vec<u8>)>;

/// What is missing, changed or not the program's.
///
/// # Errors
/// As SQLite.
pub fn findings(connection: &Connection) -> rusqlite::Result<Vec<SchemaFinding>> {
    let right = Connection::open_in_memory()?;
    for step in MIGRATIONS {
        right.execute_batch(step.sql)?;
    }
    let (right, found) = (schema(&right)?, schema(connection)?);
    let mut findings = Vec::new();
    for (name, expected) in &right {
        match found.get(name) {
            None => findings.push(finding(name, expected, SchemaWhy::Missing)),
            Some(there) if there != expected => findings.push(finding(name, there, SchemaWhy::Changed)),
            Some(_) => {}
        }
    }
    let foreign = found.iter().filter(|(name, _)| !right.contains_key(*name));
    findings.extend(foreign.map(|(name, there)| finding(name, there, SchemaWhy::Foreign)));
    Ok(findings)
}

/// Read as bytes, so that a spoiled line is a finding and not an error. What SQLite makes for itself is left out: nobody
/// else can make such names.
fn schema(connection: &Connection) -> rusqlite::Result<Schema> {
    connection
        .prepare(
            "SELECT CAST(name AS BLOB), CAST(type AS BLOB), CAST(tbl_name AS BLOB), CAST(coalesce(sql, '') AS BLOB)
             FROM sqlite_schema WHERE name NOT LIKE 'sqlite\\_%' ESCAPE '\\'",
        )?
        .query_map((), |row| Ok((row.get(0)?, (row.get(1)?, row.get(2)?, row.get(3)?))))?
        .collect()
}

fn finding(name: &[u8], (kind, table, _): &(Vec<u8>, Vec<u8>, Vec<u8>), why: SchemaWhy) -> SchemaFinding {
    let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    SchemaFinding { kind: text(kind), name: text(name), table: text(table), why }
}
