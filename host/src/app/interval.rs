//! Findings from a table: is the interval right?

use super::column_table::{TableError, hours_above_zero, read, yes_or_no};
use crate::core::stats::Look;
pub use crate::core::wear::IntervalReport;
use crate::core::wear::interval_report;

/// The most rows that are read; the limits take many passes over them.
const MOST_ROWS: usize = 10_000;

/// From a table with the columns `hours` (since it was last done) and `dirty` (1 or 0).
///
/// # Errors
/// When the table cannot be used.
pub fn of_table(csv: &[u8]) -> Result<IntervalReport, TableError> {
    let rows = read(csv, ["hours", "dirty"], MOST_ROWS)?;
    let looks = rows.iter().map(|row| {
        let [hours, dirty] = &row.cells;
        Ok(Look {
            time: hours_above_zero(hours, row.line, "a finding needs some running before it")?,
            dirty: yes_or_no(dirty, "dirty", row.line)?,
        })
    });
    Ok(interval_report(&looks.collect::<Result<Vec<_>, TableError>>()?))
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test may stop at the first surprise")]
    use super::*;

    #[test]
    fn a_finding_without_running_is_named_by_its_line() {
        let told = of_table(b"hours,dirty\n3,1\n0,0\n").unwrap_err().to_string();
        assert_eq!(told, "line 3: hours is 0; a finding needs some running before it");
    }

    #[test]
    fn a_single_finding_is_a_table_with_too_little_in_it() {
        let report = of_table(b"hours,dirty\n3,1\n").unwrap();
        assert_eq!((report.enough_evidence, report.findings, report.missing.findings), (false, 1, 9));
    }
}
