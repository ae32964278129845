//! Reads what can be read of a damaged table: from its beginning, from its end, and row by row in between.

use std::collections::BTreeMap;

use rusqlite::types::{Value, ValueRef};
use rusqlite::{Connection, Row, params_from_iter};

/// A table to be read.
#[derive(Clone, Copy, Debug)]
pub struct Source {
    /// The table.
    pub table: &'static str,
    /// Its columns, the key first.
    pub columns: &'static str,
    /// The columns of the key, whole numbers.
    pub key: &'static [&'static str],
}

/// Rows by their keys, as they read.
#[derive(Debug, Default)]
pub struct Rows {
    /// The rows.
    pub rows: BTreeMap<Vec<i64>, Vec<Value>>,
    /// Whether the table could be read from its beginning to its end.
    pub is_whole: bool,
}

impl Rows {
    /// Takes in rows that were found elsewhere, where there is none of their key.
    pub fn take_in(&mut self, keys: usize, rows: Vec<Vec<Value>>) {
        for row in rows {
            if let Some(key) = row.iter().take(keys).map(whole).collect::<Option<Vec<i64>>>() {
                self.rows.entry(key).or_insert(row);
            }
        }
    }
}

/// Reads as much as there is; `wanted` are keys that are known from elsewhere.
pub fn read(connection: &Connection, source: Source, wanted: &[Vec<i64>]) -> Rows {
    let mut found = Rows::default();
    let Source { table, columns, key } = source;
    let order = |direction: &str| {
        let key: Vec<String> = key.iter().map(|column| format!("{column} {direction}")).collect();
        format!("SELECT {columns} FROM {table} ORDER BY {}", key.join(", "))
    };
    found.is_whole = scan(connection, &order("ASC"), &[], key.len(), &mut found.rows);
    if found.is_whole {
        return found;
    }
    // Each of these ends at the first page that cannot be read.
    scan(connection, &order("DESC"), &[], key.len(), &mut found.rows);
    let is_it: Vec<String> = (1..).zip(key).map(|(place, column)| format!("{column} = ?{place}")).collect();
    let one = format!("SELECT {columns} FROM {table} WHERE {}", is_it.join(" AND "));
    for asked in wanted {
        if !found.rows.contains_key(asked) {
            scan(connection, &one, asked, key.len(), &mut found.rows);
        }
    }
    found
}

/// Reads until the end or the first failure; whether it was the end.
fn scan(
    connection: &Connection,
    sql: &str,
    asked: &[i64],
    keys: usize,
    into: &mut BTreeMap<Vec<i64>, Vec<Value>>,
) -> bool {
    let Ok(mut statement) = connection.prepare_cached(sql) else { return false };
    let columns = statement.column_count();
    let Ok(mut rows) = statement.query(params_from_iter(asked)) else { return false };
    let mut is_whole = true;
    loop {
        match rows.next() {
            Ok(None) => return is_whole,
            Err(_) => return false,
            Ok(Some(row)) => match values(row, columns, keys) {
                Some((key, values)) => drop(into.entry(key).or_insert(values)),
                None => is_whole = false,
            },
        }
    }
}

fn values(row: &Row<'_>, columns: usize, keys: usize) -> Option<(Vec<i64>, Vec<Value>)> {
    let mut values = Vec::with_capacity(columns);
    for column in 0..columns {
        values.push(match row.get_ref(column).ok()? {
            ValueRef::Null => Value::Null,
            ValueRef::Integer(number) => Value::Integer(number),
            ValueRef::Real(number) => Value::Real(number),
            ValueRef::Text(text) => Value::Text(String::from_utf8(text.to_vec()).ok()?),
            ValueRef::Blob(bytes) => Value::Blob(bytes.to_vec()),
        });
    }
    let key = values.iter().take(keys).map(whole).collect::<Option<_>>()?;
    Some((key, values))
}

/// A whole number; none for any other value.
pub const fn whole(value: &Value) -> Option<i64> {
    if let Value::Integer(number) = value { Some(*number) } else { None }
}
