//! Reads named columns of a table that the maker keeps. Other columns are left alone, blank lines are skipped, and every
//! complaint names its line, because the maker typed it.

use thiserror::Error;

/// Why a table, or a value beside it, cannot be used.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[non_exhaustive]
pub enum TableError {
    /// A line holds something that cannot be.
    #[error("line {line}: {what}")]
    Line {
        /// The line of the file.
        line: u64,
        /// What is wrong with it.
        what: String,
    },
    /// A column is missing.
    #[error("line 1: the table has no column {column}; its columns are {found}")]
    MissingColumn {
        /// The column.
        column: &'static str,
        /// The columns there are.
        found: String,
    },
    /// A value given beside the table.
    #[error("{what} must be a number above zero, not {given}")]
    Value {
        /// Which one.
        what: &'static str,
        /// What was given.
        given: String,
    },
}

/// One row: its line in the file, and the asked cells in the asked order.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Row<const N: usize> {
    /// The line.
    pub line: u64,
    /// The cells; none is empty.
    pub cells: [String; N],
}

/// Reads these columns of at most so many rows.
///
/// # Errors
/// When a column or a cell is missing, when there is no row, or more than `most`.
pub fn read<const N: usize>(
    csv: &[u8],
    columns: [&'static str; N],
    most: usize,
) -> Result<Vec<Row<N>>, TableError> {
    let mut reader = csv::ReaderBuilder::new().trim(csv::Trim::All).flexible(true).from_reader(csv);
    let headers = reader.headers().map_err(|error| unreadable(csv, &error))?.clone();
    let mut places = [0; N];
    for (place, column) in places.iter_mut().zip(columns) {
        *place = place_of(&headers, column)?;
    }
    let mut rows = Vec::new();
    for record in reader.records() {
        let record = record.map_err(|error| unreadable(csv, &error))?;
        let line = record.position().map_or(0, |position| line_of(csv, position));
        if record.iter().all(str::is_empty) {
            continue;
        }
        if rows.len() >= most {
            return Err(at(line, format!("more than {most} rows")));
        }
        if record.iter().skip(headers.len()).any(|cell| !cell.is_empty()) {
            let (cells, columns) = (record.len(), headers.len());
            return Err(at(
                line,
                format!(
                    "{cells} cells under {columns} columns; a number is written with a point, not with a comma"
                ),
            ));
        }
        let mut cells = std::array::from_fn(|_| String::new());
        for ((cell, place), column) in cells.iter_mut().zip(places).zip(columns) {
            let value = record.get(place).filter(|value| !value.is_empty());
            *cell = value.ok_or_else(|| at(line, format!("{column} is missing")))?.to_owned();
        }
        rows.push(Row { line, cells });
    }
    if rows.is_empty() {
        return Err(at(2, "the table has no rows".to_owned()));
    }
    Ok(rows)
}

fn place_of(headers: &csv::StringRecord, column: &'static str) -> Result<usize, TableError> {
    // A spreadsheet may put a mark of the encoding before the first column.
    let is_it = |header: &str| header.trim_start_matches('\u{feff}').trim().eq_ignore_ascii_case(column);
    headers.iter().position(is_it).ok_or_else(|| TableError::MissingColumn {
        column,
        found: headers.iter().collect::<Vec<_>>().join(", "),
    })
}

/// Hours: a number, not negative, not endless.
///
/// # Errors
/// Names the line otherwise.
pub fn hours(cell: &str, line: u64) -> Result<f64, TableError> {
    let hours = cell
        .parse::<f64>()
        .ok()
        .filter(|hours| hours.is_finite())
        .ok_or_else(|| at(line, format!("hours is \"{cell}\"; it must be a number")))?;
    if hours < 0.0 {
        return Err(at(line, format!("hours is {hours}; it cannot be below zero")));
    }
    Ok(hours)
}

/// Hours above zero; `why` says why zero cannot be.
///
/// # Errors
/// Names the line otherwise.
pub fn hours_above_zero(cell: &str, line: u64, why: &str) -> Result<f64, TableError> {
    let hours = hours(cell, line)?;
    if hours == 0.0 {
        return Err(at(line, format!("hours is 0; {why}")));
    }
    Ok(hours)
}

/// Yes or no, written as 1 or 0.
///
/// # Errors
/// Names the line otherwise.
pub fn yes_or_no(cell: &str, column: &str, line: u64) -> Result<bool, TableError> {
    match cell.parse::<f64>() {
        Ok(1.0) => Ok(true),
        Ok(0.0) => Ok(false),
        _ => Err(at(line, format!("{column} is \"{cell}\"; it must be 1 or 0"))),
    }
}

/// A value beside the table that must be above zero.
///
/// # Errors
/// Names it otherwise.
pub fn above_zero(value: f64, what: &'static str) -> Result<f64, TableError> {
    if value.is_finite() && value > 0.0 {
        Ok(value)
    } else {
        Err(TableError::Value { what, given: value.to_string() })
    }
}

/// A complaint about a line.
#[must_use]
pub fn at(line: u64, what: String) -> TableError {
    TableError::Line { line, what }
}

fn unreadable(csv: &[u8], error: &csv::Error) -> TableError {
    let line = error.position().map_or(1, |position| line_of(csv, position));
    at(line, "this is not text in rows and columns".to_owned())
}

/// The line of a row. The reader's own number is that of the first blank line before the row.
fn line_of(csv: &[u8], position: &csv::Position) -> u64 {
    let from = usize::try_from(position.byte()).unwrap_or(usize::MAX);
    let blank = csv.iter().skip(from).take_while(|byte| matches!(byte, b'\n' | b'\r'));
    let lines = blank.filter(|byte| **byte == b'\n').count();
    position.line().saturating_add(u64::try_from(lines).unwrap_or(0))
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test may stop at the first surprise")]
    use super::*;
    use rstest::rstest;

    fn lives(table: &[u8]) -> Result<Vec<Row<2>>, TableError> {
        read(table, ["hours", "replaced"], 4)
    }

    #[test]
    fn columns_are_found_by_name_in_any_order_and_others_are_left_alone() {
        let rows =
            lives("\u{feff}Replaced, note ,HOURS\n1,\"burr, felt\",40\n\n , ,\n0,,55\n".as_bytes()).unwrap();
        assert_eq!((rows.len(), rows[0].line, rows[1].line), (2, 2, 5));
        assert_eq!(rows[0].cells, ["40", "1"]);
    }

    #[rstest]
    #[case::short_row("hours,replaced\n5\n", "line 2: replaced is missing")]
    #[case::empty_cell("hours,replaced\n5,1\n,1\n", "line 3: hours is missing")]
    #[case::after_blank_lines("hours,replaced\n1,1\n\n\n5\n", "line 5: replaced is missing")]
    #[case::after_a_blank_line_of_windows(
        "hours,replaced\r\n1,1\r\n\r\n5\r\n",
        "line 4: replaced is missing"
    )]
    #[case::no_rows("hours,replaced\n", "line 2: the table has no rows")]
    #[case::nothing_at_all("", "line 1: the table has no column hours; its columns are ")]
    #[case::no_column(
        "hours,worn\n5,1\n",
        "line 1: the table has no column replaced; its columns are hours, worn"
    )]
    #[case::too_many("hours,replaced\n1,1\n1,1\n1,1\n1,1\n1,1\n", "line 6: more than 4 rows")]
    fn a_bad_table_is_told_with_its_line(#[case] table: &str, #[case] words: &str) {
        assert_eq!(lives(table.as_bytes()).unwrap_err().to_string(), words);
    }

    #[test]
    fn bytes_that_are_no_text_are_refused() {
        assert!(matches!(
            lives(b"hours,replaced\n1,1\n\xff,1\n").unwrap_err(),
            TableError::Line { line: 3, .. }
        ));
    }

    #[rstest]
    #[case::text("many", "line 7: hours is \"many\"; it must be a number")]
    #[case::negative("-1", "line 7: hours is -1; it cannot be below zero")]
    #[case::not_a_number("NaN", "line 7: hours is \"NaN\"; it must be a number")]
    #[case::endless("1e999", "line 7: hours is \"1e999\"; it must be a number")]
    #[case::zero("0.0", "line 7: hours is 0; it never ran")]
    fn bad_hours_are_told_with_their_line(#[case] cell: &str, #[case] words: &str) {
        assert_eq!(hours_above_zero(cell, 7, "it never ran").unwrap_err().to_string(), words);
    }

    #[test]
    fn yes_and_no_are_one_and_zero_only() {
        assert_eq!(
            ["1", "0", "1.0", "0.0"].map(|cell| yes_or_no(cell, "dirty", 2).unwrap()),
            [true, false, true, false]
        );
        for cell in ["2", "yes", "-1", "0.5", "NaN"] {
            let told = yes_or_no(cell, "dirty", 2).unwrap_err().to_string();
            assert_eq!(told, format!("line 2: dirty is \"{cell}\"; it must be 1 or 0"));
        }
    }

    #[test]
    fn costs_and_curves_are_above_zero() {
        assert_eq!(above_zero(2.5, "the planned cost"), Ok(2.5));
        for value in [0.0, -1.0, f64::NAN, f64::INFINITY] {
            assert!(matches!(above_zero(value, "the planned cost"), Err(TableError::Value { .. })));
        }
    }
}
