//! All that is kept as lines of JSON, and a database made of such lines again.
//!
//! A line is one row as it is stored: a key for each column, bytes as hexadecimal digits. What is derived, the sums and the marks
//! are made anew; the chain is put back as it was, so that whatever was changed on the way no longer fits it.

use std::fmt;
use std::path::Path;

use rusqlite::types::{Value, ValueRef};
use rusqlite::{Connection, Row, params_from_iter};
use serde_json::Value as Json;

use super::content_sum::{self, KEPT};
use super::copying::Copy;
use super::derive::{self, RecordReader};
use super::failure::{Fault, failed};
use super::migrate::MIGRATIONS;
use super::opening::beside;
use super::{Database, moment};
use crate::app::keeping::whole::WholePart;
use crate::app::ports::{Store as _, StoreError};
use host_core::book::Link;

/// The version of the tables that are exported and taken in.
#[must_use]
pub fn database_version() -> u32 {
    u32::try_from(MIGRATIONS.len()).unwrap_or(u32::MAX)
}

/// A table: its name, its columns, and by which of them its rows are put in order.
struct Rows {
    table: &'static str,
    columns: &'static [(&'static str, Kind)],
    order: &'static str,
}

/// What a column holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Kind {
    Integer,
    IntegerOrNull,
    Text,
    Blob,
}

use Kind::{Blob, Integer, IntegerOrNull, Text};

const STATUS_COLUMNS: &[(&str, Kind)] = &[
    ("id", Integer),
    ("heard_at", Integer),
    ("place", Text),
    ("logger", Integer),
    ("log", IntegerOrNull),
    ("oldest", IntegerOrNull),
    ("next", IntegerOrNull),
    ("acknowledged", IntegerOrNull),
    ("formatted_with_run_ms", IntegerOrNull),
    ("formatted_with_edges", IntegerOrNull),
    ("total_run_ms", Integer),
    ("total_edges", Integer),
    ("boot", Integer),
    ("uptime_ms", Integer),
    ("faults", Integer),
    ("record_version", Integer),
    ("firmware", Text),
    ("build", Text),
    ("settings", Text),
];

const fn rows(part: WholePart) -> Rows {
    match part {
        WholePart::Logs => Rows {
            table: "log",
            columns: &[("id", Integer), ("logger", Integer), ("log", Integer)],
            order: "id",
        },
        WholePart::Entries => Rows {
            table: "entry",
            columns: &[("id", Integer), ("entered_at", Integer), ("kind", Text), ("body", Text)],
            order: "id",
        },
        WholePart::Status => Rows { table: "hello", columns: STATUS_COLUMNS, order: "id" },
        WholePart::Records => Rows {
            table: "raw_record",
            columns: &[
                ("log_id", Integer),
                ("seq", Integer),
                ("variant", Integer),
                ("received_at", Integer),
                ("body", Blob),
            ],
            order: "log_id, seq, variant",
        },
        WholePart::Missing => Rows {
            table: "gone",
            columns: &[("log_id", Integer), ("from_seq", Integer), ("below_seq", Integer)],
            order: "log_id, from_seq, below_seq",
        },
        WholePart::Chain => Rows {
            table: "chain",
            columns: &[
                ("position", Integer),
                ("covers", Text),
                ("row_id", Integer),
                ("numbers", Text),
                ("link", Blob),
            ],
            order: "position",
        },
        WholePart::ChainedLater => Rows {
            table: "chained_later",
            columns: &[("first_step", Integer), ("last_step", Integer), ("at", IntegerOrNull)],
            order: "first_step",
        },
        WholePart::Names => {
            Rows { table: "person_name", columns: &[("person", Integer), ("name", Text)], order: "person" }
        }
    }
}

impl Rows {
    fn names(&self) -> String {
        self.columns.iter().map(|(name, _)| *name).collect::<Vec<_>>().join(", ")
    }
}

/// Why a line is no row.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LineProblem(String);

impl fmt::Display for LineProblem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl Database {
    /// Reads several things as they stand at one moment, whatever somebody else writes meanwhile.
    ///
    /// # Errors
    /// As what is read, or when the database cannot be read.
    pub fn at_one_moment<T, E: From<StoreError>>(
        &self,
        read: impl FnOnce(&Self) -> Result<T, E>,
    ) -> Result<T, E> {
        let moment = moment::begin(&self.connection).map_err(failed("begin to read"))?;
        let told = read(self);
        drop(moment);
        told
    }

    /// Shows a part of all that is kept, a line of JSON for each row.
    ///
    /// # Errors
    /// As `line`, or when the database cannot be read.
    pub fn whole_lines<E: From<StoreError>>(
        &self,
        part: WholePart,
        line: &mut dyn FnMut(&str) -> Result<(), E>,
    ) -> Result<(), E> {
        let Rows { table, columns, order } = rows(part);
        let sql = format!("SELECT {} FROM {table} ORDER BY {order}", rows(part).names());
        let unread = failed::<rusqlite::Error>("be read as a whole");
        let mut statement = self.connection.prepare(&sql).map_err(&unread)?;
        let mut rows = statement.query(()).map_err(&unread)?;
        while let Some(row) = rows.next().map_err(&unread)? {
            line(&written(row, columns).map_err(&unread)?)?;
        }
        Ok(())
    }

    /// The first link of the chain, in hexadecimal; none while nothing was ever kept.
    ///
    /// # Errors
    /// When the database cannot be read.
    pub fn first_link(&self) -> Result<Option<String>, StoreError> {
        let read = || -> rusqlite::Result<Option<String>> {
            let mut first =
                self.connection.prepare_cached("SELECT link FROM chain ORDER BY position LIMIT 1")?;
            let mut rows = first.query(())?;
            let link = rows.next()?.map(|row| row.get::<_, [u8; 32]>(0)).transpose()?;
            Ok(link.map(|link| Link(link).to_string()))
        };
        read().map_err(failed("read the chain"))
    }

    /// The highest numbers that were ever given to an entry and to a status report, those included whose rows were lost.
    ///
    /// # Errors
    /// When the database cannot be read.
    pub fn last_numbers(&self) -> Result<(i64, i64), StoreError> {
        let last = |table: &str| {
            let sql = "SELECT coalesce(max(seq), 0) FROM sqlite_sequence WHERE name = ?1";
            self.connection.prepare_cached(sql)?.query_row((table,), |row| row.get(0))
        };
        last("entry").and_then(|entry| Ok((entry, last("hello")?))).map_err(failed("read its last numbers"))
    }
}

fn written(row: &Row<'_>, columns: &[(&str, Kind)]) -> rusqlite::Result<String> {
    let mut object = serde_json::Map::new();
    for (place, (name, _)) in columns.iter().enumerate() {
        let value = match row.get_ref(place)? {
            ValueRef::Null => Json::Null,
            ValueRef::Integer(number) => number.into(),
            ValueRef::Blob(bytes) => hexadecimal(bytes).into(),
            text => text.as_str().map_err(rusqlite::Error::from)?.into(),
        };
        object.insert((*name).to_owned(), value);
    }
    Ok(Json::Object(object).to_string())
}

fn hexadecimal(bytes: &[u8]) -> String {
    use fmt::Write as _;
    let mut digits = String::with_capacity(bytes.len() * 2);
    for byte in bytes {
        // A text takes whatever is written to it.
        write!(digits, "{byte:02x}").unwrap_or_default();
    }
    digits
}

fn bytes_of(digits: &str) -> Option<Vec<u8>> {
    let digit = |digit: u8| match digit {
        b'0'..=b'9' => Some(digit - b'0'),
        b'a'..=b'f' => Some(digit - b'a' + 10),
        _ => None,
    };
    let pair = |pair: &[u8]| match pair {
        [high, low] => Some(digit(*high)? << 4 | digit(*low)?),
        _ => None,
    };
    digits.as_bytes().chunks(2).map(pair).collect()
}

/// Makes a database beside a place from lines that `read` hands over, part by part in the order of [`WholePart::ALL`], and then the
/// numbers that go on from the last ones that were given. It is put in its place by whoever has looked at it.
///
/// # Errors
/// As `read`, or when it cannot be made; nothing is left of it then.
pub fn make_whole<E: From<StoreError>>(
    target: &Path,
    (last_entry, last_status): (i64, i64),
    read: impl FnOnce(&mut dyn FnMut(WholePart, &str) -> Result<(), LineProblem>) -> Result<(), E>,
) -> Result<Copy, E> {
    let part = beside(target, &format!(".{}.import", std::process::id()));
    let copy = Copy::of_made(part, target.to_owned());
    let mut new = Database::open(copy.part())?;
    new.together(|new| {
        let connection = &new.connection;
        read(&mut |part, line| take_in(connection, part, line))?;
        go_on_from(connection, "entry", last_entry)
            .and_then(|()| go_on_from(connection, "hello", last_status))
            .map_err(Fault::from)
            .and_then(|()| Ok(content_sum::renew(connection, &KEPT)?))
            .and_then(|()| derive::rebuild(connection, &RecordReader::default()))
            .map_err(failed("fill the new database"))?;
        Ok::<(), E>(())
    })?;
    drop(new);
    copy.as_one_file()?;
    Ok(copy)
}

fn take_in(connection: &Connection, part: WholePart, line: &str) -> Result<(), LineProblem> {
    let rows = rows(part);
    let values = values(line, &rows)?;
    let places: Vec<String> = (1..=values.len()).map(|place| format!("?{place}")).collect();
    let sql = format!("INSERT INTO {} ({}) VALUES ({})", rows.table, rows.names(), places.join(", "));
    connection
        .prepare_cached(&sql)
        .and_then(|mut insert| insert.execute(params_from_iter(values)))
        .map(drop)
        .map_err(|error| LineProblem(error.to_string()))
}

fn values(line: &str, rows: &Rows) -> Result<Vec<Value>, LineProblem> {
    let object: serde_json::Map<String, Json> = serde_json::from_str(line)
        .map_err(|error| LineProblem(format!("it is no object of JSON ({error})")))?;
    if let Some(other) = object.keys().find(|key| !rows.columns.iter().any(|(name, _)| name == key)) {
        return Err(LineProblem(format!("nothing is called \"{other}\" here")));
    }
    let value = |(name, kind): &(&str, Kind)| {
        let value = match (kind, object.get(*name)) {
            (Integer | IntegerOrNull, Some(Json::Number(number))) => number.as_i64().map(Value::Integer),
            (IntegerOrNull, Some(Json::Null)) => Some(Value::Null),
            (Text, Some(Json::String(text))) => Some(Value::Text(text.clone())),
            (Blob, Some(Json::String(digits))) => bytes_of(digits).map(Value::Blob),
            _ => None,
        };
        value.ok_or_else(|| LineProblem(format!("\"{name}\" is missing or is something else")))
    };
    rows.columns.iter().map(value).collect()
}

/// Numbers that were given once are not given again, even if their rows are lost.
fn go_on_from(connection: &Connection, table: &str, last: i64) -> rusqlite::Result<()> {
    let changed =
        connection.execute("UPDATE sqlite_sequence SET seq = max(seq, ?2) WHERE name = ?1", (table, last))?;
    if changed == 0 && last > 0 {
        connection.execute("INSERT INTO sqlite_sequence (name, seq) VALUES (?1, ?2)", (table, last))?;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bytes_read_back_from_their_digits_and_from_nothing_else() {
        let all: Vec<u8> = (0..=255).collect();
        assert_eq!(bytes_of(&hexadecimal(&all)), Some(all));
        assert_eq!(hexadecimal(&[0x0F, 0xA0]), "0fa0");
        for other in ["0", "0g", "0F", "é", "0fa"] {
            assert_eq!(bytes_of(other), None, "{other}");
        }
    }

    #[test]
    fn a_line_that_is_no_row_says_why() {
        let rows = rows(WholePart::Logs);
        assert_eq!(
            values(r#"{"id":1,"log":3,"logger":-2}"#, &rows),
            Ok(vec![Value::Integer(1), Value::Integer(-2), Value::Integer(3)])
        );
        for (line, why) in [
            ("[1]", "it is no object of JSON"),
            ("{", "it is no object of JSON"),
            (r#"{"id":1,"log":3}"#, "\"logger\" is missing"),
            (r#"{"id":1,"log":3,"logger":"x"}"#, "\"logger\" is missing"),
            (r#"{"id":1,"log":3,"logger":1.5}"#, "\"logger\" is missing"),
            (r#"{"id":1,"log":3,"logger":2,"more":1}"#, "nothing is called \"more\""),
        ] {
            let told = values(line, &rows).unwrap_err().to_string();
            assert!(told.starts_with(why), "{line}: {told}");
        }
    }
}
