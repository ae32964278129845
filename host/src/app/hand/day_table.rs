//! A table of one person's day with vibrating tools: `a_hv_m_s2,minutes`.

use crate::app::typed::column_table::{self, TableError, at, shown};
use host_core::hand::vibration::{MINUTES_PER_DAY, MOST_VIBRATION_M_S2, ToolUse, Vibration};

/// The most rows that are read: more tools than minutes in a day nobody has.
const MOST_ROWS: usize = 1_440;

/// Reads the rows.
///
/// # Errors
/// When a column is missing, there is no row, or a line holds something that cannot be.
pub fn read(csv: &[u8]) -> Result<Vec<ToolUse>, TableError> {
    let rows = column_table::read(csv, ["a_hv_m_s2", "minutes"], [], MOST_ROWS)?;
    rows.into_iter()
        .map(|row| {
            let [a_hv, minutes] = &row.cells;
            let a_hv_m_s2 = number("a_hv_m_s2", a_hv, MOST_VIBRATION_M_S2, row.line)?;
            let minutes = number("minutes", minutes, MINUTES_PER_DAY, row.line)?;
            let vibration = Vibration::new(a_hv_m_s2)
                .ok_or_else(|| beyond("a_hv_m_s2", a_hv, MOST_VIBRATION_M_S2, row.line))?;
            Ok(ToolUse { vibration, minutes })
        })
        .collect()
}

fn number(name: &str, cell: &str, most: f64, line: u64) -> Result<f64, TableError> {
    let number = cell.parse::<f64>().ok().filter(|number| (0.0..=most).contains(number));
    number.ok_or_else(|| beyond(name, cell, most, line))
}

fn beyond(name: &str, cell: &str, most: f64, line: u64) -> TableError {
    at(line, format!("{name} is \"{}\"; it must be a number from 0 to {most}", shown(cell)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use rstest::rstest;

    #[test]
    fn columns_may_stand_in_any_order_and_others_are_left_alone() {
        let tools =
            read("\u{feff}tool,Minutes , A_HV_M_S2\nmachine 1,30,4.5\n\nshears,0,0\n".as_bytes()).unwrap();
        assert_eq!(tools.len(), 2);
        assert!((tools[0].vibration.m_s2() - 4.5).abs() < 1e-12 && (tools[0].minutes - 30.0).abs() < 1e-12);
    }

    #[rstest]
    #[case::text("a_hv_m_s2,minutes\n2,60\nstrong,60\n", 3, "a_hv_m_s2 is \"strong\"")]
    #[case::negative_vibration("a_hv_m_s2,minutes\n-2,60\n", 2, "a_hv_m_s2 is \"-2\"")]
    #[case::negative_minutes("a_hv_m_s2,minutes\n2,-60\n", 2, "minutes is \"-60\"")]
    #[case::not_a_number("a_hv_m_s2,minutes\nNaN,60\n", 2, "a_hv_m_s2 is \"NaN\"")]
    #[case::infinite("a_hv_m_s2,minutes\n2,inf\n", 2, "minutes is \"inf\"")]
    #[case::more_than_a_day("a_hv_m_s2,minutes\n2,1440.5\n", 2, "minutes is \"1440.5\"")]
    #[case::short("a_hv_m_s2,minutes\n2\n", 2, "minutes is missing")]
    #[case::empty_cell("a_hv_m_s2,minutes\n,60\n", 2, "a_hv_m_s2 is missing")]
    #[case::after_blank_lines("a_hv_m_s2,minutes\r\n2,60\r\n\r\n ,\r\n\r\n3,x\r\n", 6, "minutes is \"x\"")]
    #[case::no_rows("a_hv_m_s2,minutes\n", 2, "no rows")]
    fn a_bad_line_is_named(#[case] table: &str, #[case] bad_line: u64, #[case] words: &str) {
        let told = read(table.as_bytes()).unwrap_err().to_string();
        assert!(told.starts_with(&format!("line {bad_line}: ")) && told.contains(words), "{told}");
    }

    #[test]
    fn a_missing_column_is_named_with_those_there_are() {
        let error = read(b"a_hv,minutes\n1,2\n").unwrap_err();
        assert_eq!(
            error.to_string(),
            "line 1: the table has no column a_hv_m_s2; its columns are a_hv, minutes"
        );
    }

    #[test]
    fn bytes_that_are_no_text_are_refused() {
        assert!(matches!(read(b"a_hv_m_s2,minutes\n1,\xff\xfe\n"), Err(TableError::Line { line: 2, .. })));
    }
}
