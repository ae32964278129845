//! Shapes of the exported tables, and their cells. `host/EXPORT.md` documents each column; a test holds the two together.

use std::borrow::Cow;

use jiff::Timestamp;
use jiff::tz::TimeZone;
use serde::Serialize;
use serde_json::Value;
use shared_types::{MachineTag, UtcMillis};

use crate::app::keeping::error::ExportError;
use host_core::entries::EntryId;

/// What a column holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// Whole numbers, 64 bits with sign.
    Integer,
    /// Other numbers; only where the maker's own figure is no whole number.
    Number,
    /// True or false.
    Boolean,
    /// Text in UTF-8.
    Text,
}

impl Kind {
    /// Its name in `EXPORT.md`.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Integer => "integer",
            Self::Number => "number",
            Self::Boolean => "boolean",
            Self::Text => "text",
        }
    }
}

/// One column.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Column {
    /// Its name, with the unit last.
    pub name: &'static str,
    /// What it holds.
    pub kind: Kind,
    /// Whether it can be null.
    pub may_be_null: bool,
}

impl Column {
    const fn new(name: &'static str, kind: Kind) -> Self {
        Self { name, kind, may_be_null: false }
    }

    /// A column that can be null.
    #[must_use]
    pub const fn or_null(self) -> Self {
        Self { may_be_null: true, ..self }
    }
}

/// A column of whole numbers.
#[must_use]
pub const fn integer(name: &'static str) -> Column {
    Column::new(name, Kind::Integer)
}

/// A column of other numbers.
#[must_use]
pub const fn number(name: &'static str) -> Column {
    Column::new(name, Kind::Number)
}

/// A column of true and false.
#[must_use]
pub const fn boolean(name: &'static str) -> Column {
    Column::new(name, Kind::Boolean)
}

/// A column of text.
#[must_use]
pub const fn text(name: &'static str) -> Column {
    Column::new(name, Kind::Text)
}

/// A table's shape. Before its columns stands one more in every table: `studio`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Shape {
    /// Its name.
    pub name: &'static str,
    /// Its columns. One called `machine` is the first.
    pub columns: &'static [Column],
    /// The columns by which a row belongs to a year: the earliest and the latest moment that it can have been.
    pub when: Option<[&'static str; 2]>,
}

impl Shape {
    /// The place of a column.
    #[must_use]
    pub fn place(&self, name: &str) -> Option<usize> {
        self.columns.iter().position(|column| column.name == name)
    }

    /// Whether its rows belong to machines.
    #[must_use]
    pub fn has_machine(&self) -> bool {
        self.place("machine").is_some()
    }

    /// The machine of a row; 0 for none.
    #[must_use]
    pub fn machine(&self, cells: &[Cell<'_>]) -> i64 {
        match self.place("machine").and_then(|place| cells.get(place)) {
            Some(Cell::Integer(machine)) => *machine,
            _ => 0,
        }
    }

    /// The year of a row in UTC; none where it can have been in several, or nobody knows.
    #[must_use]
    pub fn year(&self, cells: &[Cell<'_>]) -> Option<u16> {
        let year = |name: &str| match self.place(name).and_then(|place| cells.get(place)) {
            Some(Cell::Integer(at)) => {
                let at = Timestamp::from_millisecond(*at).ok()?;
                u16::try_from(TimeZone::UTC.to_datetime(at).year()).ok()
            }
            _ => None,
        };
        let [earliest, latest] = self.when?.map(year);
        earliest.filter(|earliest| Some(*earliest) == latest)
    }
}

/// One cell.
#[derive(Clone, Debug, PartialEq)]
pub enum Cell<'a> {
    /// Nothing.
    Null,
    /// A whole number.
    Integer(i64),
    /// Another number.
    Number(f64),
    /// True or false.
    Boolean(bool),
    /// Text.
    Text(Cow<'a, str>),
}

impl Cell<'_> {
    /// A word of a closed list, as `--json` writes it.
    pub fn word(of: &impl Serialize) -> Self {
        match serde_json::to_value(of) {
            Ok(Value::String(word)) => Self::Text(Cow::Owned(word)),
            _ => Self::Null,
        }
    }

    /// Such a word, where there is one.
    pub fn word_or_null(of: Option<&impl Serialize>) -> Self {
        of.map_or(Self::Null, Self::word)
    }
}

impl From<i64> for Cell<'_> {
    fn from(number: i64) -> Self {
        Self::Integer(number)
    }
}

impl From<u64> for Cell<'_> {
    fn from(number: u64) -> Self {
        Self::Integer(i64::try_from(number).unwrap_or(i64::MAX))
    }
}

impl From<u32> for Cell<'_> {
    fn from(number: u32) -> Self {
        Self::Integer(number.into())
    }
}

impl From<u16> for Cell<'_> {
    fn from(number: u16) -> Self {
        Self::Integer(number.into())
    }
}

impl From<u8> for Cell<'_> {
    fn from(number: u8) -> Self {
        Self::Integer(number.into())
    }
}

impl From<f64> for Cell<'_> {
    fn from(number: f64) -> Self {
        // What is no number has no place in a table.
        if number.is_finite() { Self::Number(number) } else { Self::Null }
    }
}

impl From<bool> for Cell<'_> {
    fn from(claim: bool) -> Self {
        Self::Boolean(claim)
    }
}

impl From<UtcMillis> for Cell<'_> {
    fn from(at: UtcMillis) -> Self {
        Self::Integer(at.0)
    }
}

impl From<MachineTag> for Cell<'_> {
    fn from(machine: MachineTag) -> Self {
        Self::Integer(machine.0.into())
    }
}

impl From<EntryId> for Cell<'_> {
    fn from(entry: EntryId) -> Self {
        Self::Integer(entry.0)
    }
}

impl<'a> From<&'a str> for Cell<'a> {
    fn from(text: &'a str) -> Self {
        Self::Text(Cow::Borrowed(text))
    }
}

impl From<String> for Cell<'_> {
    fn from(text: String) -> Self {
        Self::Text(Cow::Owned(text))
    }
}

impl<'a, T: Into<Cell<'a>>> From<Option<T>> for Cell<'a> {
    fn from(maybe: Option<T>) -> Self {
        maybe.map_or(Self::Null, Into::into)
    }
}

/// Where tables go, row by row, so that no table need stand in memory as a whole.
pub trait TableSink {
    /// A table begins.
    ///
    /// # Errors
    /// When it cannot be written.
    fn begin(&mut self, shape: &'static Shape) -> Result<(), ExportError>;
    /// A row of it; a cell for each column of its shape.
    ///
    /// # Errors
    /// As [`Self::begin`].
    fn row(&mut self, cells: &[Cell<'_>]) -> Result<(), ExportError>;
    /// The table is at its end.
    ///
    /// # Errors
    /// As [`Self::begin`].
    fn end(&mut self) -> Result<(), ExportError>;
}

#[cfg(test)]
mod tests {
    use super::*;

    const SHAPE: Shape = Shape {
        name: "some",
        columns: &[integer("machine").or_null(), integer("from_utc_ms"), integer("to_utc_ms")],
        when: Some(["from_utc_ms", "to_utc_ms"]),
    };
    /// 2026-01-01T00:00:00Z: 20,454 days after 1970-01-01.
    const NEW_YEAR: i64 = 20_454 * 86_400_000;

    #[test]
    fn a_row_belongs_to_a_year_where_it_can_have_been_in_no_other() {
        let year = |from, to| SHAPE.year(&[Cell::Null, Cell::Integer(from), Cell::Integer(to)]);
        assert_eq!(year(NEW_YEAR, NEW_YEAR), Some(2026));
        assert_eq!(year(NEW_YEAR - 1, NEW_YEAR - 1), Some(2025));
        assert_eq!(year(NEW_YEAR - 1, NEW_YEAR), None);
        assert_eq!(year(i64::MIN, i64::MIN), None);
        assert_eq!(SHAPE.year(&[Cell::Null, Cell::Null, Cell::Null]), None);
    }

    #[test]
    fn a_row_without_a_machine_is_machine_zero() {
        assert_eq!(SHAPE.machine(&[Cell::Null]), 0);
        assert_eq!(SHAPE.machine(&[Cell::from(7_u32)]), 7);
        assert!(SHAPE.has_machine());
    }
}
