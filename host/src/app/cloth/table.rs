//! A table of sessions: `knob,hours,tears`, with `strokes` and `stratum` if the maker has them.

use crate::app::typed::column_table::{TableError, has_column, read as read_columns};
use crate::app::typed::table_cell::{not_negative, number, whole};
use host_core::cloth::TableRow;

/// The most rows that are read.
const MOST_ROWS: usize = 100_000;

/// Reads the rows. Exposure is strokes where the table has that column, else hours. Hours beside strokes are not used, but
/// must be possible.
///
/// # Errors
/// When a column is missing, or a line holds something that cannot be.
pub fn read(csv: &[u8]) -> Result<Vec<TableRow>, TableError> {
    let exposure = if counts_strokes(csv) { "strokes" } else { "hours" };
    let rows = read_columns(csv, [exposure, "knob", "tears"], ["hours", "stratum"], MOST_ROWS)?;
    rows.into_iter()
        .map(|row| {
            let (line, [ran, knob, tears], [hours, stratum]) = (row.line, row.cells, row.beside);
            let knob = number(&knob, "knob", line)?;
            let exposure = not_negative(&ran, exposure, line)?;
            if !hours.is_empty() {
                not_negative(&hours, "hours", line)?;
            }
            Ok(TableRow { line, knob, exposure, tears: whole(&tears, "tears", line)?, stratum })
        })
        .collect()
}

/// Whether the table's running is in strokes; in hours otherwise.
#[must_use]
pub fn counts_strokes(csv: &[u8]) -> bool {
    has_column(csv, "strokes")
}

#[cfg(test)]
mod tests {
    use super::*;
    use rstest::rstest;

    #[test]
    fn strokes_go_before_hours_and_a_stratum_is_optional() {
        let rows = read(b"knob,hours,tears,strokes\n1,2,3,4000\n").unwrap();
        assert_eq!((rows[0].exposure, rows[0].tears, rows[0].stratum.as_str()), (4000.0, 3, ""));
        let rows = read(b"\xef\xbb\xbfKnob; not\n").unwrap_err();
        assert!(matches!(rows, TableError::MissingColumn { .. }), "{rows:?}");
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
        assert_eq!(error.to_string(), "line 1: the table has no column tears; its columns are knob, hours");
    }

    #[test]
    fn bytes_that_are_no_text_are_refused() {
        assert!(matches!(
            read(b"knob,hours,tears\n1,\xff\xfe,3\n").unwrap_err(),
            TableError::Line { line: 2, .. }
        ));
    }
}
