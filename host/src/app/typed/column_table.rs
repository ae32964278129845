//! Reads named columns of a table that the maker keeps. Other columns are left alone, blank lines are skipped, and every
//! complaint names its line, because the maker typed it.

use std::io::Read;

use miette::Diagnostic;
use thiserror::Error;

/// Why a table, or a value beside it, cannot be used.
#[derive(Clone, Debug, PartialEq, Eq, Error, Diagnostic)]
#[non_exhaustive]
pub enum TableError {
    /// A line holds something that cannot be.
    #[error("line {line}: {what}")]
    #[diagnostic(code(table::line), help("Mend that line and try again."))]
    Line {
        /// The line of the file.
        line: u64,
        /// What is wrong with it.
        what: String,
    },
    /// A column is missing.
    #[error("line {line}: the table has no column {column}; {there_are}")]
    #[diagnostic(code(table::column), help("The first line names the columns."))]
    MissingColumn {
        /// The line of the file that names the columns.
        line: u64,
        /// The column.
        column: &'static str,
        /// Which there are instead, in words.
        there_are: String,
    },
    /// A value given beside the table.
    #[error("{what} must be a number above zero, not {given}")]
    #[diagnostic(code(table::value), help("Correct the value and try again."))]
    Value {
        /// Which one.
        what: &'static str,
        /// What was given.
        given: String,
    },
}

/// One row: its line in the file and the asked cells, each in the asked order.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Row<const N: usize, const M: usize> {
    /// The line.
    pub line: u64,
    /// The cells of the needed columns; none is empty.
    pub cells: [String; N],
    /// The cells of the columns that a table may lack; empty where it does, or where the row is.
    pub beside: [String; M],
}

/// Follows the table in the reader's bytes. A row that swallows it opened a quotation mark and never closed it.
const END: &str = "\u{4}end of table\u{4}";

/// Reads the columns that a table must have, and those that it may have, of at most so many rows.
///
/// # Errors
/// When a needed column or cell is missing, a row has more cells than there are columns, a quotation mark is left open, or
/// there is no row, or more than `most`.
pub fn read<const N: usize, const M: usize>(
    csv: &[u8],
    needed: [&'static str; N],
    beside: [&'static str; M],
    most: usize,
) -> Result<Vec<Row<N, M>>, TableError> {
    let marked = marked(csv);
    let mut lines = Lines::of(&marked);
    let mut reader = reader(&marked);
    let head = Head::of(&mut reader, &mut lines)?;
    let (mut needed_at, mut beside_at) = ([0; N], [None; M]);
    for (place, column) in needed_at.iter_mut().zip(needed) {
        *place = head.place(column)?.ok_or_else(|| head.lacks(column))?;
    }
    for (place, column) in beside_at.iter_mut().zip(beside) {
        *place = head.place(column)?;
    }
    let mut rows = Vec::new();
    for record in reader.records() {
        let record = record.map_err(|error| unreadable(&error, &mut lines))?;
        if is_end(&record) {
            break;
        }
        let line = lines.of_row(record.position());
        if record.iter().all(str::is_empty) {
            continue;
        }
        check_closed(&record, line)?;
        if rows.len() >= most {
            return Err(at(line, format!("more than {most} rows")));
        }
        head.check_width(&record, line)?;
        let mut row =
            Row { line, cells: [(); N].map(|()| String::new()), beside: [(); M].map(|()| String::new()) };
        for ((cell, place), column) in row.cells.iter_mut().zip(needed_at).zip(needed) {
            let value = record.get(place).filter(|value| !value.is_empty());
            value.ok_or_else(|| at(line, format!("{column} is missing")))?.clone_into(cell);
        }
        for (cell, place) in row.beside.iter_mut().zip(beside_at) {
            place.and_then(|place| record.get(place)).unwrap_or_default().clone_into(cell);
        }
        rows.push(row);
    }
    if rows.is_empty() {
        return Err(at(head.line + 1, "the table has no rows".to_owned()));
    }
    Ok(rows)
}

/// Whether the table names this column. What cannot be read names none.
#[must_use]
pub fn has_column(csv: &[u8], column: &'static str) -> bool {
    let marked = marked(csv);
    let head = Head::of(&mut reader(&marked), &mut Lines::of(&marked));
    head.is_ok_and(|head| matches!(head.place(column), Ok(Some(_)) | Err(_)))
}

/// A complaint about a line.
#[must_use]
pub const fn at(line: u64, what: String) -> TableError {
    TableError::Line { line, what }
}

fn marked(csv: &[u8]) -> Vec<u8> {
    [csv, b"\n", END.as_bytes()].concat()
}

fn reader(marked: &[u8]) -> csv::Reader<&[u8]> {
    // A spreadsheet that writes decimal commas puts semicolons between the cells.
    let head = marked.split(|byte| matches!(byte, b'\n' | b'\r')).find(|line| !line.is_empty());
    let is_semicolon = head.is_some_and(|head| head.contains(&b';') && !head.contains(&b','));
    let delimiter = if is_semicolon { b';' } else { b',' };
    csv::ReaderBuilder::new().delimiter(delimiter).trim(csv::Trim::All).flexible(true).from_reader(marked)
}

fn is_end(record: &csv::StringRecord) -> bool {
    record.len() == 1 && record.get(0) == Some(END)
}

fn check_closed(record: &csv::StringRecord, line: u64) -> Result<(), TableError> {
    if record.iter().any(|cell| cell.ends_with(END)) {
        return Err(at(line, "a quotation mark is opened here and never closed".to_owned()));
    }
    Ok(())
}

fn unreadable(error: &csv::Error, lines: &mut Lines<'_>) -> TableError {
    at(lines.of_row(error.position()), "this is not text in rows and columns".to_owned())
}

/// The row that names the columns.
struct Head {
    line: u64,
    names: Vec<String>,
}

impl Head {
    fn of<R: Read>(reader: &mut csv::Reader<R>, lines: &mut Lines<'_>) -> Result<Self, TableError> {
        let record = reader.headers().map_err(|error| unreadable(&error, lines))?.clone();
        if is_end(&record) {
            return Ok(Self { line: 1, names: Vec::new() });
        }
        let line = lines.of_row(record.position());
        check_closed(&record, line)?;
        // A spreadsheet may put a mark of the encoding before the first column.
        let name = |cell: &str| cell.trim_start_matches('\u{feff}').trim().to_ascii_lowercase();
        Ok(Self { line, names: record.iter().map(name).collect() })
    }

    fn place(&self, column: &'static str) -> Result<Option<usize>, TableError> {
        let mut places = self.names.iter().enumerate().filter(|(_, name)| *name == column);
        let first = places.next().map(|(place, _)| place);
        if places.next().is_some() {
            return Err(at(self.line, format!("the column {column} stands there twice")));
        }
        Ok(first)
    }

    fn lacks(&self, column: &'static str) -> TableError {
        let there_are = match self.names.as_slice() {
            names if names.iter().all(String::is_empty) => "it names none".to_owned(),
            [one] if one.contains([';', '\t']) => "write commas between the columns".to_owned(),
            names => format!("its columns are {}", shown(&names.join(", "))),
        };
        TableError::MissingColumn { line: self.line, column, there_are }
    }

    /// A number with a decimal comma becomes two cells, and all that follow would be taken for their neighbours.
    fn check_width(&self, record: &csv::StringRecord, line: u64) -> Result<(), TableError> {
        let columns = self.names.len();
        if record.iter().skip(columns).all(str::is_empty) {
            return Ok(());
        }
        let cells = if columns == 1 { "one cell is".to_owned() } else { format!("{columns} cells are") };
        let what = format!(
            "this row has more cells than line {} has columns, only {cells} wanted; write 2.5, not 2,5",
            self.line
        );
        Err(at(line, what))
    }
}

/// What was typed, fit for a message: on one line, and not too long.
#[must_use]
pub fn shown(typed: &str) -> String {
    const LONGEST: usize = 60;
    let mut letters = typed.chars();
    let start: String = letters.by_ref().take(LONGEST).flat_map(char::escape_debug).collect();
    if letters.next().is_some() { format!("{start}…") } else { start }
}

/// Counts lines from row to row; the reader's own number is that of the first blank line before a row.
struct Lines<'t> {
    rest: &'t [u8],
    byte: u64,
    line: u64,
}

impl<'t> Lines<'t> {
    const fn of(text: &'t [u8]) -> Self {
        Self { rest: text, byte: 0, line: 1 }
    }

    /// The line of the row at or after this place; places never go back.
    fn of_row(&mut self, position: Option<&csv::Position>) -> u64 {
        let wanted = position.map_or(0, csv::Position::byte);
        while let [first, rest @ ..] = self.rest {
            let is_blank = matches!(first, b'\n' | b'\r');
            if self.byte >= wanted && !is_blank {
                break;
            }
            // Two bytes may end one line; the second one counts.
            let ends = *first == b'\n' || (*first == b'\r' && rest.first() != Some(&b'\n'));
            self.line += u64::from(ends);
            self.byte += 1;
            self.rest = rest;
        }
        self.line
    }
}

#[cfg(test)]
#[path = "column_table_tests.rs"]
mod tests;
