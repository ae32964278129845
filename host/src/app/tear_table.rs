//! Reads a table of sessions: `knob,hours,tears`, with `strokes` and `stratum` if the maker has them. Every complaint names its
//! line, because the maker typed it.

use super::request::RequestError;
use crate::core::tears::TableRow;

/// The most rows that are read.
const MOST_ROWS: usize = 100_000;

/// Reads the rows. Exposure is strokes where the table has that column, else hours. Blank lines are skipped.
///
/// # Errors
/// When a column is missing, or a line holds something that cannot be.
pub fn read(csv: &[u8]) -> Result<Vec<TableRow>, RequestError> {
    let mut reader = csv::ReaderBuilder::new().trim(csv::Trim::All).flexible(true).from_reader(csv);
    let headers = reader.headers().map_err(|error| unreadable(&error))?.clone();
    let columns = Columns::of(&headers)?;
    let mut rows = Vec::new();
    for record in reader.records() {
        let record = record.map_err(|error| unreadable(&error))?;
        let line = record.position().map_or(0, |position| line_of(csv, position));
        if rows.len() >= MOST_ROWS {
            return Err(at(line, format!("more than {MOST_ROWS} rows")));
        }
        rows.push(columns.row(&record, line)?);
    }
    if rows.is_empty() {
        return Err(at(2, "the table has no rows".to_owned()));
    }
    Ok(rows)
}

/// Whether the table's running is in strokes; in hours otherwise.
#[must_use]
pub fn counts_strokes(csv: &[u8]) -> bool {
    let mut reader = csv::ReaderBuilder::new().trim(csv::Trim::All).flexible(true).from_reader(csv);
    let columns = reader.headers().ok().and_then(|headers| Columns::of(headers).ok());
    columns.is_some_and(|columns| columns.exposure.1 == "strokes")
}

/// The line of a row. The reader's own number is that of the first blank line before the row.
fn line_of(csv: &[u8], position: &csv::Position) -> u64 {
    let from = usize::try_from(position.byte()).unwrap_or(usize::MAX);
    let blank = csv.iter().skip(from).take_while(|byte| matches!(byte, b'\n' | b'\r'));
    let lines = blank.filter(|byte| **byte == b'\n').count();
    position.line().saturating_add(u64::try_from(lines).unwrap_or(0))
}

struct Columns {
    knob: usize,
    exposure: (usize, &'static str),
    /// Hours beside strokes: they are not used, but must be possible.
    hours_beside: Option<usize>,
    tears: usize,
    stratum: Option<usize>,
}

impl Columns {
    fn of(headers: &csv::StringRecord) -> Result<Self, RequestError> {
        let place = |name: &str| {
            // A spreadsheet may put a mark of the encoding before the first column.
            let is_it =
                |header: &str| header.trim_start_matches('\u{feff}').trim().eq_ignore_ascii_case(name);
            headers.iter().position(is_it)
        };
        let needed = |column: &'static str| {
            place(column).ok_or_else(|| RequestError::MissingColumn {
                column,
                found: headers.iter().collect::<Vec<_>>().join(", "),
            })
        };
        let exposure = match place("strokes") {
            Some(strokes) => (strokes, "strokes"),
            None => (needed("hours")?, "hours"),
        };
        Ok(Self {
            knob: needed("knob")?,
            exposure,
            hours_beside: place("hours").filter(|hours| *hours != exposure.0),
            tears: needed("tears")?,
            stratum: place("stratum"),
        })
    }

    fn row(&self, record: &csv::StringRecord, line: u64) -> Result<TableRow, RequestError> {
        let knob = real(field(record, self.knob, "knob", line)?, "knob", line)?;
        let (place, name) = self.exposure;
        let exposure = not_negative(field(record, place, name, line)?, name, line)?;
        let beside = self.hours_beside.and_then(|place| record.get(place)).filter(|hours| !hours.is_empty());
        beside.map(|hours| not_negative(hours, "hours", line)).transpose()?;
        let tears = field(record, self.tears, "tears", line)?;
        let tears = tears.parse::<u64>().map_err(|_| {
            at(line, format!("tears is \"{tears}\"; it must be a whole number, zero or more"))
        })?;
        let stratum = self.stratum.and_then(|place| record.get(place)).unwrap_or_default().to_owned();
        Ok(TableRow { line, knob, exposure, tears, stratum })
    }
}

fn field<'r>(
    record: &'r csv::StringRecord,
    place: usize,
    name: &str,
    line: u64,
) -> Result<&'r str, RequestError> {
    record.get(place).filter(|value| !value.is_empty()).ok_or_else(|| at(line, format!("{name} is missing")))
}

fn real(value: &str, name: &str, line: u64) -> Result<f64, RequestError> {
    value
        .parse::<f64>()
        .ok()
        .filter(|value| value.is_finite())
        .ok_or_else(|| at(line, format!("{name} is \"{value}\"; it must be a number")))
}

fn not_negative(value: &str, name: &str, line: u64) -> Result<f64, RequestError> {
    let number = real(value, name, line)?;
    if number < 0.0 {
        return Err(at(line, format!("{name} is {number}; it cannot be below zero")));
    }
    Ok(number)
}

fn at(line: u64, what: String) -> RequestError {
    RequestError::TableLine { line, what }
}

fn unreadable(error: &csv::Error) -> RequestError {
    let line = error.position().map_or(1, csv::Position::line);
    at(line, "this is not text in rows and columns".to_owned())
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test may stop at the first surprise")]
    use super::*;
    use rstest::rstest;

    #[test]
    fn strokes_go_before_hours_and_a_stratum_is_optional() {
        let rows = read(b"knob,hours,tears,strokes\n1,2,3,4000\n").unwrap();
        assert_eq!((rows[0].exposure, rows[0].tears, rows[0].stratum.as_str()), (4000.0, 3, ""));
        let rows = read(b"\xef\xbb\xbfKnob; not\n").unwrap_err();
        assert!(matches!(rows, RequestError::MissingColumn { .. }), "{rows:?}");
        let rows = read("\u{feff}Knob, Hours ,tears,stratum\n1,2,3,Fox\n\n2,2,0,Owl\n".as_bytes()).unwrap();
        assert_eq!((rows.len(), rows[1].line, rows[1].stratum.as_str()), (2, 4, "Owl"));
    }

    #[rstest]
    #[case::text("knob,hours,tears\n1,2,3\nfast,2,3\n", 3, "knob is \"fast\"")]
    #[case::other_line_ends("knob,hours,tears\r\n1,2,3\r\n\r\nfast,2,3\r\n", 4, "knob is \"fast\"")]
    #[case::without_a_last_line_end("knob,hours,tears\n\n1,2,x", 3, "tears is \"x\"")]
    #[case::negative_hours("knob,hours,tears\n1,-2,3\n", 2, "hours is -2")]
    #[case::negative_tears("knob,hours,tears\n1,2,-3\n", 2, "tears is \"-3\"")]
    #[case::half_a_tear("knob,hours,tears\n1,2,0.5\n", 2, "tears is \"0.5\"")]
    #[case::not_a_number("knob,hours,tears\n1,2,3\n1,NaN,3\n", 3, "hours is \"NaN\"")]
    #[case::infinite("knob,hours,tears\n1,inf,3\n", 2, "hours is \"inf\"")]
    #[case::short_row("knob,hours,tears\n1,2\n", 2, "tears is missing")]
    #[case::empty_cell("knob,hours,tears\n,2,1\n", 2, "knob is missing")]
    #[case::negative_hours_beside_strokes("knob,hours,strokes,tears\n1,-2,400,3\n", 2, "hours is -2")]
    #[case::no_rows("knob,hours,tears\n", 2, "no rows")]
    #[case::more_than_any_count("knob,hours,tears\n1,2,99999999999999999999\n", 2, "tears is")]
    fn a_bad_line_is_named(#[case] table: &str, #[case] bad_line: u64, #[case] words: &str) {
        let told = read(table.as_bytes()).unwrap_err().to_string();
        assert!(told.starts_with(&format!("line {bad_line}: ")), "{told}");
        assert!(told.contains(words), "{told}");
    }

    #[test]
    fn a_missing_column_is_named_with_those_there_are() {
        let error = read(b"knob,hours\n1,2\n").unwrap_err();
        assert_eq!(error.to_string(), "the table has no column tears; its columns are knob, hours");
    }

    #[test]
    fn bytes_that_are_no_text_are_refused() {
        assert!(matches!(
            read(b"knob,hours,tears\n1,\xff\xfe,3\n").unwrap_err(),
            RequestError::TableLine { line: 2, .. }
        ));
    }
}
