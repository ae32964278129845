//! Faults from a table: do they come more often?

use super::column_table::{TableError, at, hours_above_zero, read};
use crate::core::stats::Faults;
pub use crate::core::stats::{Ending, Level};
pub use crate::core::wear::FaultReport;
use crate::core::wear::fault_report;

/// The most rows that are read.
const MOST_ROWS: usize = 100_000;

/// From a table with the column `hours`: run hours of the machine at each fault, never going down. When a moment ends the
/// observation, the last row is that moment and no fault; else the last row is the last fault.
///
/// # Errors
/// When the table cannot be used.
pub fn of_table(csv: &[u8], ending: Ending, level: Level) -> Result<FaultReport, TableError> {
    let rows = read(csv, ["hours"], MOST_ROWS)?;
    let mut times: Vec<f64> = Vec::with_capacity(rows.len());
    for row in &rows {
        let [cell] = &row.cells;
        let time = hours_above_zero(cell, row.line, "count from when the machine began to be observed")?;
        if let Some(before) = times.last().filter(|before| time < **before) {
            let what = format!(
                "hours goes down from {before} to {time}; write the machine's hours at each fault, in order"
            );
            return Err(at(row.line, what));
        }
        times.push(time);
    }
    let line = rows.last().map_or(2, |row| row.line);
    let end = times.last().copied().unwrap_or(0.0);
    if ending == Ending::Time {
        times.pop();
    }
    let faults =
        Faults::new(times, end, ending).ok_or_else(|| at(line, "these hours are no history".to_owned()))?;
    Ok(fault_report(&faults, level))
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test may stop at the first surprise")]
    use super::*;

    #[test]
    fn the_last_row_is_the_end_or_the_last_fault() {
        let table = b"hours\n10\n20\n50\n";
        let by_time = of_table(table, Ending::Time, Level::USUAL).unwrap();
        assert_eq!((by_time.beside.faults, by_time.mtbf_hours.estimate), (2, Some(25.0)));
        let by_fault = of_table(table, Ending::Failure, Level::USUAL).unwrap();
        assert_eq!((by_fault.beside.faults, by_fault.degrees_of_freedom), (3, Some(4)));
    }

    #[test]
    fn a_single_row_is_an_observation_without_a_fault() {
        let report = of_table(b"hours\n500\n", Ending::Time, Level::USUAL).unwrap();
        assert_eq!((report.beside.faults, report.mtbf_hours.estimate), (0, None));
        assert!(report.mtbf_hours.low.is_some());
    }

    #[test]
    fn hours_that_go_down_or_are_zero_are_named_by_their_line() {
        let told = |table: &[u8]| of_table(table, Ending::Time, Level::USUAL).unwrap_err().to_string();
        assert!(told(b"hours\n30\n20\n50\n").starts_with("line 3: hours goes down from 30 to 20"));
        assert!(told(b"hours\n0\n20\n").starts_with("line 2: hours is 0"));
    }
}
