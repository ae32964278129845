//! Reads a table of one person's day with vibrating tools: `a_hv_m_s2,minutes`. Every complaint names its line, because
//! the maker typed it.

use thiserror::Error;

use crate::core::vibration::{MINUTES_PER_DAY, MOST_VIBRATION_M_S2, ToolUse, Vibration};

/// The most rows that are read: more tools than minutes in a day nobody has.
const MOST_ROWS: usize = 1_440;

/// Why a table cannot be used.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum DayTableError {
    /// A column is missing.
    #[error("the table has no column {column}; its columns are {found}")]
    MissingColumn {
        /// The column.
        column: &'static str,
        /// The columns there are.
        found: String,
    },
    /// A line cannot be.
    #[error("line {line}: {what}")]
    Line {
        /// The line of the file.
        line: u64,
        /// What is wrong with it.
        what: String,
    },
}

/// Reads the rows. Blank lines are skipped.
///
/// # Errors
/// When a column is missing, there is no row, or a line holds something that cannot be.
pub fn read(csv: &[u8]) -> Result<Vec<ToolUse>, DayTableError> {
    let mut reader = csv::ReaderBuilder::new().trim(csv::Trim::All).flexible(true).from_reader(csv);
    let headers = reader.headers().map_err(|error| unreadable(csv, &error))?.clone();
    let column = |name: &'static str| {
        // A spreadsheet may put a mark of the encoding before the first column.
        let is_it = |header: &str| header.trim_start_matches('\u{feff}').trim().eq_ignore_ascii_case(name);
        headers.iter().position(is_it).ok_or_else(|| DayTableError::MissingColumn {
            column: name,
            found: headers.iter().collect::<Vec<_>>().join(", "),
        })
    };
    let (vibration, minutes) = (column("a_hv_m_s2")?, column("minutes")?);
    let mut tools = Vec::new();
    for record in reader.records() {
        let record = record.map_err(|error| unreadable(csv, &error))?;
        if record.iter().all(str::is_empty) {
            continue;
        }
        let at = |what: String| at(csv, record.position(), what);
        if tools.len() >= MOST_ROWS {
            return Err(at(format!("more than {MOST_ROWS} rows")));
        }
        let field = |place: usize, name: &str, most: f64| {
            let text = record.get(place).unwrap_or_default();
            if text.is_empty() {
                return Err(at(format!("{name} is missing")));
            }
            let in_range = text.parse::<f64>().ok().filter(|number| (0.0..=most).contains(number));
            in_range.ok_or_else(|| at(format!("{name} is \"{text}\"; it must be a number from 0 to {most}")))
        };
        let a_hv = field(vibration, "a_hv_m_s2", MOST_VIBRATION_M_S2)?;
        let vibration = Vibration::new(a_hv)
            .ok_or_else(|| at(format!("a_hv_m_s2 is {a_hv}; no tool vibrates like that")))?;
        tools.push(ToolUse { vibration, minutes: field(minutes, "minutes", MINUTES_PER_DAY)? });
    }
    if tools.is_empty() {
        return Err(DayTableError::Line { line: 2, what: "the table has no rows".to_owned() });
    }
    Ok(tools)
}

/// The reader names the place where it began to look for a record; blank lines before the record belong to nobody.
fn at(csv: &[u8], from: Option<&csv::Position>, what: String) -> DayTableError {
    let from = from.and_then(|place| usize::try_from(place.byte()).ok()).unwrap_or(0);
    let is_break = |byte: &&u8| matches!(byte, b'\r' | b'\n');
    let blank = csv.get(from..).unwrap_or_default().iter().take_while(is_break).count();
    let before = csv.get(..from.saturating_add(blank)).unwrap_or_default();
    let breaks = before.iter().filter(|byte| **byte == b'\n').count();
    DayTableError::Line { line: u64::try_from(breaks).unwrap_or(u64::MAX).saturating_add(1), what }
}

fn unreadable(csv: &[u8], error: &csv::Error) -> DayTableError {
    at(csv, error.position(), "this is not text in rows and columns".to_owned())
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test may stop at the first surprise")]
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
        assert_eq!(error.to_string(), "the table has no column a_hv_m_s2; its columns are a_hv, minutes");
    }

    #[test]
    fn bytes_that_are_no_text_are_refused() {
        assert!(matches!(read(b"a_hv_m_s2,minutes\n1,\xff\xfe\n"), Err(DayTableError::Line { line: 2, .. })));
    }
}
